"""`clockhop cycles`: the source as it stands, with the cycles of each line at its right edge."""

import shutil
import sys
from typing import Any

import click

from ..chain import Asked, requests, run, with_room
from ..report import Cycles, Form, cycles
from .option import asked, building, written
from .output import Output, deliver


@click.command("cycles", epilog="Example: clockhop cycles main.asm --cpu 6809 --clock 1MHz")
@building
@written
def command(form: Form, output: Output, **options: Any) -> int:
    """Print each SOURCE and what it includes as it stands, with the cycles of each line at the right edge.

    Under each loop stands what its turns come to, under each routine what it takes from its entry to its return; beside
    a call what the routine called takes by itself. Without SOURCE every build of the project file is printed.
    """
    what = asked(**options)
    return with_room(lambda: _cycles(what, form, output))


def _cycles(what: Asked, form: Form, output: Output) -> int:
    chains = [run(request) for request in requests(what)]
    terminal = output.path is None and sys.stdout.isatty()
    columns = shutil.get_terminal_size().columns if terminal else None
    deliver(Cycles(tuple(cycles(chain) for chain in chains), columns), form, output, chains)
    return 0
