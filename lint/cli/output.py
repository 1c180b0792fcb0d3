"""Where a report goes: the terminal, with colour where it can show it, or a file."""

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

import click

from ..chain import Chain
from ..errors import Place, SourceError
from ..report import Form, Paint, Report, Style, plain, write
from ..visible import visible
from ..whole import put
from .recall import show, warn

Colour = Literal["auto", "always", "never"]

_COLOURS: Final[dict[Style, dict[str, str | bool]]] = {
    "head": {"bold": True},
    "error": {"fg": "red", "bold": True},
    "warning": {"fg": "yellow", "bold": True},
    "note": {"fg": "cyan"},
    "good": {"fg": "green"},
    "dim": {"dim": True},
}


@dataclass(frozen=True, slots=True)
class Output:
    """Where a report goes: to the file `path`, or to the terminal where it is None; and whether it is painted."""

    path: str | None
    colour: Colour

    @property
    def paint(self) -> Paint:
        """How it is painted: as asked, else only on a terminal that shows colours to somebody who wants them."""
        if self.colour != "auto":
            return _painted if self.colour == "always" else plain
        unwanted = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
        return plain if unwanted or self.path is not None or not sys.stdout.isatty() else _painted


def deliver(report: Report, form: Form, output: Output, chains: Iterable[Chain]) -> None:
    """Writes the report to the terminal, or to a file in one step.

    `chains` are what it speaks of: none of their files is ever overwritten. Raises SourceError where the file can't be
    written.
    """
    send(write(report, form, output.paint), output, chains)


def send(text: str, output: Output, chains: Iterable[Chain]) -> None:
    """Prints `text`, or writes it to a file; see `deliver`."""
    chains = tuple(chains)
    for question in dict.fromkeys(question for chain in chains if (question := _question(chain))):
        warn(f"{visible(question)}\n")
    if output.path is None:
        show(text)
        return
    refuse_source(output.path, chains)
    store(output.path, text)


def _question(chain: Chain) -> str:
    """Asks whether a crystal was meant, where a bus clock is above all that anything on the board is rated for."""
    fastest, clock = chain.board.fastest, max(chain.request.clocks, default=None)
    if fastest is None or clock is None or clock <= fastest:
        return ""
    above = f"bus clock {clock.text()} is above every grade on the board ({fastest.text()})"
    project = chain.request.project
    if project is not None and project.bus is not None:
        bus = clock.times(project.bus.times).text()
        name, knob = project.bus.name, clock.text().replace(" ", "")
        return f"caution: {above}; was the crystal meant? --crystal {name}={knob} makes a bus clock of {bus}"
    divide = int(chain.program.cpu.clock.get("divide", "1"))
    if divide == 1:
        return f"caution: {above}"
    bus = clock.times(Fraction(1, divide)).text()
    return f"caution: {above}; was the crystal meant? {clock.text()} / {divide} is {bus}"


def store(output: str, text: str) -> None:
    """Writes `text` to the file `output` so that it is there whole or not at all."""
    try:
        put(Path(output), text.encode())
    except OSError as fault:
        reason = (fault.strerror or "unwritable").lower()
        raise SourceError(f"can't be written ({reason}); name another file", Place(output)) from None


def refuse_source(output: str, chains: Iterable[Chain]) -> None:
    """Raises SourceError where `output` is one of the files the report speaks of."""
    for chain in chains:
        files = [source.name for source in chain.program.files]
        if chain.request.project:
            files.append(str(chain.request.project.path))
        refuse_file(output, files)


def refuse_file(output: str, files: Iterable[str]) -> None:
    """Raises SourceError where `output` is one of the files."""
    wanted = os.path.realpath(output)
    if any(os.path.realpath(name) == wanted for name in files):
        raise SourceError("is a source of this report and stays as it is; name another file", Place(output))


def _painted(text: str, style: Style) -> str:
    return click.style(text, **_COLOURS[style]) if style else text  # type: ignore[arg-type]
