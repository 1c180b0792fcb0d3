"""Outcomes of earlier counts of a program, taken again where all that they rest on is as it was."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from ..cpu.term import Input
from ..flow import Loop, Routine
from .result import Context, Known, Outcome
from .rounds import Reads
from .ways import Out

# What stands at an address: a byte of data, in words why nobody knows ("" where it changes by itself), or, for None,
# what the routine stored there itself.
Byte = int | str | None

# What is put into words: why a loop has no count, or what it waits for.
Wording = tuple[Literal["reason", "until"], frozenset[Input], Loop]

# Somebody who types breaks a line and mends it again.
_GENERATIONS: Final = 3


@dataclass(frozen=True, slots=True)
class Asked:
    """What a walk asked beyond the instructions it walked over, and what it was told, in the order it asked.

    `calls` have the routine's outcome for any values, and that for the values handed over.
    """

    memory: dict[int, Byte] = field(default_factory=dict)
    names: dict[int, str] = field(default_factory=dict)
    reads: dict[Loop, Reads] = field(default_factory=dict)
    words: dict[Wording, str] = field(default_factory=dict)
    calls: dict[tuple[int, Known], tuple[Outcome, Outcome]] = field(default_factory=dict)

    def add(self, other: Asked) -> None:
        """Asks all that, too."""
        self.memory.update(other.memory)
        self.names.update(other.names)
        self.reads.update(other.reads)
        self.words.update(other.words)
        self.calls.update(other.calls)


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """An outcome, what its routine began with, and what its walk asked."""

    outcome: Outcome
    start: object
    asked: Asked


@dataclass(frozen=True, slots=True, eq=False)
class ToldPart:
    """The ways out of a part of a routine, and the same of it."""

    outs: tuple[Out, ...]
    start: object
    asked: Asked


Part = tuple[int, frozenset[int]]  # its entry and its instructions


@dataclass(frozen=True, slots=True, eq=False)
class Generation:
    """One count: what held for the whole program, what each instruction was, and what came of it."""

    setting: object
    nodes: Sequence[object]
    routines: Mapping[int, Routine]
    told: Mapping[Context, Sequence[Told]]
    parts: Mapping[Part, ToldPart]


class Remembered:
    """What the last counts left, newest first. One that goes on in an editor has one for each build."""

    def __init__(self) -> None:
        self._generations: tuple[Generation, ...] = ()

    def keep(self, generation: Generation) -> None:
        """Remembers a count that is done; the oldest is forgotten."""
        self._generations = (generation, *self._generations)[:_GENERATIONS]

    def beside(self, setting: object, nodes: Sequence[object]) -> Former:
        """What is left of it for a program with those instructions."""
        same = [each for each in self._generations if each.setting == setting]
        return Former([_Unchanged(each, nodes) for each in same])


class _Unchanged:
    """A generation, and which of its routines have all their instructions as they were."""

    def __init__(self, generation: Generation, nodes: Sequence[object]) -> None:
        self.told, self.parts = generation.told, generation.parts
        self._routines = generation.routines
        self._same = [ours == theirs for ours, theirs in zip(nodes, generation.nodes, strict=False)]
        self._known: dict[int, Routine | None] = {}

    def unchanged(self, nodes: frozenset[int]) -> bool:
        """Whether these instructions are as they were."""
        same, size = self._same, len(self._same)
        return all(node < size and same[node] for node in nodes)

    def routine(self, entry: int) -> Routine | None:
        """The routine as it was, where it still is."""
        if entry not in self._known:
            found = self._routines.get(entry)
            self._known[entry] = found if found is not None and self.unchanged(found.nodes) else None
        return self._known[entry]


class Former:
    """What earlier counts say of one program: of routines whose own instructions are as they were."""

    def __init__(self, generations: Iterable[_Unchanged] = ()) -> None:
        self._generations = tuple(generations)

    def routine(self, entry: int) -> Routine | None:
        """The routine, where it is as it was."""
        return next((found for each in self._generations if (found := each.routine(entry))), None)

    def told(self, context: Context, routine: Routine) -> Iterator[Told]:
        """What was found of a routine in that context; whether what it asked still holds is left to ask."""
        for each in self._generations:
            # Loops are told apart by what they are, not by what they go over.
            if each.routine(context.entry) is routine:
                yield from each.told.get(context, ())

    def parts(self, part: Part) -> Iterator[ToldPart]:
        """The same of a part of a routine."""
        for each in self._generations:
            if part in each.parts and each.unchanged(part[1]):
                yield each.parts[part]


NOTHING: Final = Former()
