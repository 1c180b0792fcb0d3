"""`clockhop durations`: every routine and loop with its cycles and its time at each clock."""

from typing import Any

import click

from ..chain import Asked, requests, run, with_room
from ..report import Durations, Form, durations
from .option import asked, building, written
from .output import Output, deliver
from .recall import repeatable


@click.command(
    "durations", epilog="Example: clockhop durations main.asm --cpu 6809 --clock 1MHz --clock 2MHz"
)
@building
@click.option(
    "--gaps-at",
    metavar="ADDRESS",
    multiple=True,
    help="List the gaps between accesses of this address or symbol; repeatable.",
)
@click.option(
    "--measured",
    metavar="LABEL=TIME",
    multiple=True,
    help="A time read off a scope, such as DELAY=499.3ms: reports the clock it implies; repeatable.",
)
@written
def command(form: Form, output: Output, measured: tuple[str, ...], **options: Any) -> int:
    """List every routine and loop of each SOURCE with its cycles and its real time at each clock.

    Without SOURCE every build of the project file is listed. Routines run from their entry to their return
    instruction inclusive. Gaps between accesses are listed for each part of the board, too.
    """
    what = asked(**options)
    return with_room(lambda: _durations(what, form, output, measured))


def _durations(what: Asked, form: Form, output: Output, measured: tuple[str, ...]) -> int:
    chains = [run(request) for request in requests(what)]
    deliver(Durations(tuple(durations(chain, measured) for chain in chains)), form, output, chains)
    if output.path is None:
        repeatable()
    return 0
