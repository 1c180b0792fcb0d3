"""`clockhop margins`: how far every requirement is from breaking, and what gives first."""

from typing import Any

import click

from ..chain import Asked, requests, run, with_room
from ..report import Form, Margins, margins
from .option import asked, building, written
from .output import Output, deliver
from .recall import repeatable


@click.command("margins", epilog="Example: clockhop margins main.asm --clock 1MHz --clock 2MHz")
@building
@written
def command(form: Form, output: Output, **options: Any) -> int:
    """List what each SOURCE and its board require, with what is to spare at each clock, and say what gives first.

    A row for each requirement: spacing between accesses, deadlines, waits with a note, pulses, memory, what the bus
    gives parts, grades and bit rates. Each says between which clocks it holds; what gives first with a rising clock
    stands first. What has the same cause is one row with the number of places. Without SOURCE every build of the
    project file is listed.
    """
    what = asked(**options)
    return with_room(lambda: _margins(what, form, output))


def _margins(what: Asked, form: Form, output: Output) -> int:
    chains = [run(request) for request in requests(what)]
    deliver(Margins(tuple(margins(chain) for chain in chains)), form, output, chains)
    if output.path is None:
        repeatable()
    return 0
