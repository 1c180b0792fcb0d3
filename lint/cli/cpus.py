"""`clockhop cpus`: the processors there are tables for."""

import click

from ..cpu import load, names
from .recall import show


@click.command("cpus", epilog="Example: clockhop cpus")
def command() -> int:
    """List the processors there are tables for, by the names that --cpu and project files take, and what a cycle is."""
    found = {name: load(name) for name in names()}
    name_width = max(map(len, found))
    title_width = max(len(cpu.title) for cpu in found.values())
    show(
        "".join(
            f"{name.ljust(name_width)}  {cpu.title.ljust(title_width)}  {cpu.clock['counts']}\n"
            for name, cpu in found.items()
        )
    )
    return 0
