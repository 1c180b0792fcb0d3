"""`clockhop budget`: the sums of access time of a board's memories, without a source."""

from pathlib import Path

import click

from ..board import FILE_NAME
from ..chain import Asked, stated
from ..errors import ClockhopError, Place, SourceError
from ..quantity import Clock
from ..report import Form, sums
from .option import ClockType, written
from .output import Output, deliver


@click.command("budget", epilog="Example: clockhop budget --clock 2MHz --clock 4MHz")
@click.option("--clock", type=ClockType(), multiple=True, help="A bus clock, such as 2MHz; repeatable.")
@click.option(
    "--crystal",
    metavar="NAME=FREQ",
    multiple=True,
    help="Turn an oscillator of the project file; all that hangs on it follows.",
)
@click.option("--project", metavar="FILE", help="The project file, instead of the nearest clockhop.yaml.")
@written
def command(
    clock: tuple[Clock, ...], crystal: tuple[str, ...], project: str | None, form: Form, output: Output
) -> int:
    """Print the time that each memory of the project file gets to answer, at each clock, as sums with their sources.

    Three paths count: from the address, from chip enable and from output enable, each from its own edge; the shortest
    decides. What a sum says is what the sheets allow; what was tried at the owner's risk is named and never counts.
    """
    found = stated(Asked(project=project, crystals=crystal), Path())
    if found is None:
        raise SourceError(f"no {FILE_NAME} is found from here upward; name one with --project")
    board = found.memories(clock)
    if not board.clocks:
        raise ClockhopError(
            f"{Place(str(found.path))}: no clock is known; add --clock, or clock: in the project file"
        )
    deliver(sums(found.path, board), form, output, ())
    return 0
