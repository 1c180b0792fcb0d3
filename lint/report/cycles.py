"""The report of `cycles`: every line of the source with what it takes, and what stands under it: loops and routines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ..assemble import Instruction
from ..chain import Chain
from ..cpu import TAKEN, Cost, cost
from ..flow import LoopKey
from ..quantity import Clock
from ..source import Source
from ..timing import Even, Exact, LoopTiming, Range, RoutineTiming, Total, called, even, ways


@dataclass(frozen=True, slots=True)
class Taken:
    """Cycles of what stands in a line; `most` is None where nothing bounds it.

    `passed` are those of a branch, conditional call or return that is not taken, where they differ; `several` marks
    what a macro puts there with branches inside: each of its instructions is counted once.
    """

    fewest: int
    most: int | None
    passed: tuple[int, int | None] | None = None
    several: bool = False


@dataclass(frozen=True, slots=True)
class LoopLines:
    """A loop from its first to its last line, `lines` being those it goes round over; `even` where turns are alike."""

    name: str
    first: int
    last: int
    lines: frozenset[int]
    trips: Total
    total: Total
    even: Even | None


@dataclass(frozen=True, slots=True)
class RoutineLines:
    """A routine from the line of its entry to the last behind it; `with_call` as in `durations`."""

    name: str
    first: int
    last: int
    total: Total
    with_call: Total | None


@dataclass(frozen=True, slots=True)
class FileCycles:
    """One file as it stands. `taken` and the cycles of `called` routines are by line; `unread` are not understood."""

    source: Source
    taken: Mapping[int, Taken]
    called: Mapping[int, tuple[str, Total]]
    unread: frozenset[int]
    loops: tuple[LoopLines, ...]
    routines: tuple[RoutineLines, ...]


@dataclass(frozen=True, slots=True)
class BuildCycles:
    """The files of one build, the main one first."""

    name: str
    source: str
    processor: str
    clocks: tuple[Clock, ...]
    files: tuple[FileCycles, ...]


@dataclass(frozen=True, slots=True)
class Cycles:
    """The report: one part for each build. `columns` is the width of the terminal, None where there is none."""

    builds: tuple[BuildCycles, ...]
    columns: int | None = None


def cycles(chain: Chain) -> BuildCycles:
    """Every file of a build with the cycles of its lines, exact as the text allows.

    What a line of a macro's text takes is over all its uses; a use takes what all it puts there takes.
    """
    lines = _Lines(chain)
    return BuildCycles(
        chain.name,
        chain.request.source,
        chain.request.processor,
        chain.board.clocks,
        tuple(lines.file(source) for source in chain.program.files),
    )


@dataclass(slots=True)
class _Found:
    """What is gathered of a file."""

    taken: dict[int, Taken] = field(default_factory=dict)
    called: dict[int, tuple[str, Total]] = field(default_factory=dict)
    unread: set[int] = field(default_factory=set)
    loops: dict[tuple[int, int, str, Total], LoopLines] = field(default_factory=dict)
    routines: dict[tuple[int, str], RoutineLines] = field(default_factory=dict)


class _Lines:
    """One build, by file and line."""

    def __init__(self, chain: Chain) -> None:
        self._chain = chain
        self._instructions = chain.program.instructions
        self._ways = ways(chain.timings)
        self._files: dict[str, _Found] = {}
        self._take()
        self._call()
        for opaque in chain.program.opaque:
            self._in(opaque.origin.path).unread.add(opaque.origin.line)
            place = opaque.origin.place
            self._in(place.path).unread.add(place.line)
        turns = even(chain.timings)
        for loop in chain.timings.loops:
            self._loop(loop, turns)
        for routine in chain.timings.routines:
            self._routine(routine)

    def file(self, source: Source) -> FileCycles:
        found = self._in(source.name)
        return FileCycles(
            source,
            found.taken,
            found.called,
            frozenset(found.unread),
            tuple(sorted(found.loops.values(), key=lambda loop: (loop.first, -loop.last))),
            tuple(sorted(found.routines.values(), key=lambda routine: (routine.last, -routine.first))),
        )

    def _in(self, path: str) -> _Found:
        return self._files.setdefault(path, _Found())

    def _take(self) -> None:
        uses: dict[tuple[str, int], list[Instruction]] = {}
        for instruction in self._instructions:
            origin = instruction.origin
            taken = self._of(instruction)
            lines = self._in(origin.path).taken
            lines[origin.line] = _either(lines[origin.line], taken) if origin.line in lines else taken
            if origin.uses:
                uses.setdefault((origin.place.path, origin.place.line), []).append(instruction)
        for (path, line), inside in uses.items():
            self._in(path).taken[line] = self._all(inside)

    def _of(self, instruction: Instruction) -> Taken:
        """What one instruction takes: as it was walked, else as its table says."""
        found = self._ways.get(instruction.index)
        if found is None or instruction.index in self._chain.graph.blurred:
            return _unwalked(instruction)
        passed = found.get("passed")
        others = [spent for way, spent in found.items() if way != "passed"]
        if passed is None or not others or others[0] == passed:
            low, high = _span([*others, *([passed] if passed else [])])
            return Taken(low, high)
        return Taken(*_span(others), passed)

    def _all(self, inside: Iterable[Instruction]) -> Taken:
        """What a macro puts in one line takes."""
        instructions = tuple(inside)
        each = [self._of(instruction) for instruction in instructions]
        if len(each) == 1:
            return each[0]
        lows = (min(taken.fewest, taken.passed[0]) if taken.passed else taken.fewest for taken in each)
        highs = [_most(taken) for taken in each]
        whole = None if None in highs else sum(high for high in highs if high is not None)
        return Taken(sum(lows), whole, None, self._branches(instructions))

    def _branches(self, instructions: Sequence[Instruction]) -> bool:
        """Whether control can take another way through them than from each to the next."""
        if {instruction.action.flow for instruction in instructions[:-1]} & {"branch", "jump", "return"}:
            return True
        edges = self._chain.graph.edges[instructions[-1].index]
        return any(edge.target == instruction.index for edge in edges for instruction in instructions)

    def _call(self) -> None:
        graph = self._chain.graph
        for index, total in called(self._chain.timings).items():
            place, target = self._instructions[index].origin.place, graph.calls[index].target
            if target is not None and isinstance(total, Exact | Range):
                self._in(place.path).called[place.line] = (graph.name(target), total)

    def _loop(self, loop: LoopTiming, turns: Mapping[LoopKey, Even]) -> None:
        path, first, lines = self._stretch(loop.head, loop.key.nodes)
        key = (first, max(lines), loop.name, loop.total)
        self._in(path).loops[key] = LoopLines(
            loop.name,
            min(lines),
            max(lines),
            frozenset(lines),
            loop.trips,
            loop.total,
            turns.get(loop.key),
        )

    def _routine(self, routine: RoutineTiming) -> None:
        graph = self._chain.graph
        entries = {entry.index for entry in graph.entries}
        reached = graph.reachable(routine.entry.index)
        last = routine.entry.index
        while last + 1 in reached and last + 1 not in entries:
            last += 1
        path, first, lines = self._stretch(routine.entry.index, range(routine.entry.index, last + 1))
        self._in(path).routines[first, routine.entry.name] = RoutineLines(
            routine.entry.name, first, max(lines), routine.total, routine.with_call
        )

    def _stretch(self, head: int, nodes: Iterable[int]) -> tuple[str, int, set[int]]:
        """The file of an instruction, its line, and the lines of others in that file."""
        place = self._instructions[head].origin.place
        places = (self._instructions[node].origin.place for node in nodes)
        return place.path, place.line, {each.line for each in places if each.path == place.path}


def _unwalked(instruction: Instruction) -> Taken:
    """What the table says of an instruction that nothing runs, or of which more than its own cycles is not known."""
    way = cost(instruction.action, lambda name: True if name == TAKEN else None)
    other = cost(instruction.action, lambda name: False if name == TAKEN else None)
    passed = _pair(other)
    return Taken(*_pair(way), None if passed == _pair(way) else passed)


def _pair(spent: Cost) -> tuple[int, int | None]:
    return spent.fewest, spent.most


def _span(each: Iterable[tuple[int, int | None]]) -> tuple[int, int | None]:
    spans = tuple(each)
    highs = [high for _, high in spans if high is not None]
    return min(low for low, _ in spans), max(highs) if len(highs) == len(spans) else None


def _either(one: Taken, other: Taken) -> Taken:
    """The same line in two places: its cycles may differ with where it lies and what stands in it."""
    low, high = _span([(one.fewest, one.most), (other.fewest, other.most)])
    both = [each.passed for each in (one, other) if each.passed is not None]
    return Taken(low, high, _span(both) if both else None, one.several or other.several)


def _most(taken: Taken) -> int | None:
    return _span([(taken.fewest, taken.most), *([taken.passed] if taken.passed else [])])[1]


def rails(loops: Iterable[LoopLines]) -> Iterator[tuple[int, LoopLines]]:
    """Each loop with the column its rail is drawn in: loops that overlap stand beside each other, outer ones first."""
    ends: list[int] = []
    for loop in loops:
        column = next((number for number, end in enumerate(ends) if end < loop.first), len(ends))
        ends[column : column + 1] = [loop.last]
        yield column, loop
