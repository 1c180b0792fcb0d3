"""`clockhop cpus`: the processors there are tables for."""

import click

from ..cpu import load, names
from .output import show


@click.command("cpus", epilog="Example: clockhop cpus")
def command() -> int:
    """List the processors there are tables for, by the names that --cpu and project files take."""
    found = {name: load(name) for name in names()}
    width = max(map(len, found))
    show("".join(f"{name.ljust(width)}  {cpu.title}\n" for name, cpu in found.items()))
    return 0
