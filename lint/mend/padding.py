"""Where instructions that only pass time are put, and which they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from ..assemble import Instruction
from ..flow import Liveness, names_of, sources
from ..source import Edit
from ..timing import Timings
from .filler import Filler, shortest_padding
from .text import inserted, put_before

# Pads longer than this are not written: a count or another way is the better mend.
MOST_PADDED: Final = 64


@dataclass(frozen=True, slots=True)
class Padding:
    """Instructions to put behind another one, or `before` it, where they take over its labels."""

    behind: int
    fillers: tuple[Filler, ...]
    before: bool = False

    @property
    def cycles(self) -> int:
        return sum(filler.cycles for filler in self.fillers)

    @property
    def size(self) -> int:
        """In bytes."""
        return sum(filler.size for filler in self.fillers)

    def edit(self, instruction: Instruction, remark: str = "") -> Edit:
        """The lines put into the text of the instruction; the first carries the remark."""
        lines = [(filler.mnemonic, filler.operand) for filler in self.fillers]
        return (put_before if self.before else inserted)(instruction, lines, remark)


def moved(index: int, paddings: Iterable[Padding]) -> int:
    """Where an instruction stands once pads are in; one with a pad before it is found where its labels are."""
    return index + sum(len(padding.fillers) for padding in paddings if padding.behind < index)


def several(instruction: Instruction) -> bool:
    """Whether the line of an instruction holds more statements than it: no line can be put beside it alone."""
    origin = instruction.origin
    return origin.source.statements[origin.statement.line - 1].more is not None


class Pads:
    """The pads there are at each place of a program: they spoil nothing that is live there."""

    def __init__(self, timings: Timings, live: Liveness) -> None:
        self._program = timings.graph.program
        self._sources = sources(timings.graph)
        self._waits = timings.analysis.waits
        self._modes = frozenset(timings.analysis.modes.items())
        self._names = names_of(timings.graph)
        self._live = live

    def at(self, index: int, cycles: int, before: bool = False) -> Padding | None:
        """Pads of at least so many cycles, as little more as the processor allows; None where it has none."""
        if cycles == 0:
            return Padding(index, (), before)
        if any(map(self.shields, self._sources.get(index, ()) if before else (index,))):
            return None
        instruction = self._program.instructions[index]
        live = self._live.before[index] if before else self._live.after[index]
        waits = self._waits.at(instruction.address if before else instruction.end)
        fillers = shortest_padding(self._program.cpu, self._modes, cycles, self._names - live, waits)
        return None if fillers is None else Padding(index, fillers, before)

    def shields(self, index: int) -> bool:
        """Whether no interrupt is accepted right behind the instruction: a pad there would let one in sooner."""
        return self._program.instructions[index].action.row.operation.shields
