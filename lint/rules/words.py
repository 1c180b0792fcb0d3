"""Words that several messages share: what an access is called, where it came after, how long something takes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from ..assemble import Instruction, Program
from ..quantity import Clock, Duration
from ..timing import Access

# A way longer than this is shown by its first and last instructions.
_MOST_NOTES: Final = 14
_EACH_END: Final = 6


def subject(program: Program, address: int) -> str:
    """The author's name for an address, else the address."""
    return program.shown(address)


def verb(access: Access) -> str:
    """What was done to the address."""
    return "written" if access.way == "write" else "read"


def where(program: Program, index: int, seen_from: int) -> str:
    """Where an instruction stands, as short as it can be said beside another one."""
    place = program.instructions[index].origin.place
    near = program.instructions[seen_from].origin.place
    return f"line {place.line}" if place.path == near.path else f"{place.path}:{place.line}"


def line(program: Program, index: int) -> str:
    """The file and line of an instruction."""
    place = program.instructions[index].origin.place
    return f"{place.path}:{place.line}"


def lasting(cycles: int, clock: Clock) -> str:
    """A time at a clock: "31 us at 2 MHz"."""
    return f"{clock.duration(cycles).text()} at {clock.text()}"


def needed(time: Duration) -> str:
    """A time that is needed, rounded up to what fits a message."""
    return time.text(3, "up")


def counted(number: int, word: str) -> str:
    """A number and its word: "1 cycle", "2 cycles"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def path_notes(program: Program, path: Iterable[int]) -> Iterator[str]:
    """The instructions on the shortest way, a line each; a long way loses its middle."""
    lines = [_line(program.instructions[index]) for index in path]
    if len(lines) > _MOST_NOTES:
        left_out = len(lines) - 2 * _EACH_END
        lines = [*lines[:_EACH_END], f"... {left_out} instructions ...", *lines[-_EACH_END:]]
    yield from lines


def _line(instruction: Instruction) -> str:
    origin = instruction.origin
    statement = origin.statement
    spans = (statement.label, statement.operation, statement.operand)
    text = " ".join(origin.source.of(span) for span in spans if span is not None)
    return f"{origin.path}:{origin.line}: {text}"
