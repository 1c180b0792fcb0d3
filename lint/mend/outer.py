"""An outer level around a countdown whose counter is too narrow, in registers that nobody reads there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import ceil
from typing import Final

from ..cpu import Cpu, cost
from ..cpu.notation import COUNTER
from ..flow import Graph, Liveness, Loop, sources
from ..timing import Timings
from .countdown import Countdown, countdowns, touches
from .filler import Filler, truth
from .knob import Knob
from .padding import Padding
from .proof import within

# Turns of the outer level that are tried, beyond the fewest that can last long enough.
_TURNS_TRIED: Final = 512
# A name that is no longer than this fits where a source has only such names.
_SHORT_NAME: Final = 6


@dataclass(frozen=True, slots=True)
class Outer:
    """A countdown around the instructions from `first`, which loads the inner count, to `last`.

    The outer count is loaded where the inner one was, which now stands behind it and has the label.
    """

    first: int
    last: int
    label: str
    load: Filler
    turn: tuple[Filler, ...]

    @property
    def inserted(self) -> tuple[Padding, ...]:
        """What the program has more than before, as if they were pads."""
        return Padding(self.first, (self.load,)), Padding(self.last, self.turn)


@dataclass(frozen=True, slots=True)
class Around:
    """A count for the inner loop with an outer level around it, and how long the wait then lasts."""

    outer: Outer
    count: int
    cycles: int


@dataclass(frozen=True, slots=True)
class _Region:
    """What an outer level goes round: from the load of the count to the end of its loop."""

    first: int
    last: int
    loop: Loop


class Outers:
    """The outer levels that a program has room for."""

    def __init__(self, timings: Timings, live: Liveness) -> None:
        self._analysis = timings.analysis
        self._graph: Graph = timings.graph
        self._program = timings.graph.program
        self._cpu: Cpu = self._program.cpu
        self._modes = frozenset(timings.analysis.modes.items())
        self._live = live

    @cached_property
    def _text(self) -> Liveness:
        return within(self._graph)

    @cached_property
    def _entered(self) -> frozenset[int]:
        """Instructions that something outside the straight text leads to."""
        called = {call.target for call in self._graph.calls.values() if call.target is not None}
        return frozenset(called | {entry.index for entry in self._graph.entries})

    def fits(self, knob: Knob) -> bool:
        """Whether the loop that the count is loaded for is one that an outer level can go round."""
        return self._region(knob) is not None

    def around(self, knob: Knob, need: int, most: int) -> Iterator[Around]:
        """Outer levels that make the wait last at least `need` and at most `most` cycles."""
        region = self._region(knob)
        if region is None:
            return
        inner = self._passes(knob, region, knob.count(knob.written))
        beside = knob.count(knob.written) + (1 if knob.count(knob.written) < knob.most else -1)
        other = self._passes(knob, region, beside)
        if inner is None or other is None or inner == other:
            return
        line = _Line(knob, inner, (other - inner) // (beside - knob.count(knob.written)))
        name = self._label(knob.wait.name)
        for way in countdowns(self._cpu, self._modes):
            if self._free(way, region):
                yield from self._solved(way, region, line, need, most, name)

    def _solved(
        self, way: Countdown, region: _Region, line: _Line, need: int, most: int, name: str
    ) -> Iterator[Around]:
        """With the inner count as it is, and with the two counts that come nearest."""
        knob = line.knob
        fixed = -way.saved
        if knob.wait.kind == "routine":
            fixed += knob.wait.cycles - line.cycles + way.load.cycles
        old = knob.count(knob.written)
        found = [(ceil((need - fixed) / (line.cycles + way.cycles)), old)]
        fewest = max(-(-(need - fixed) // (line.at(knob.most - 1) + way.cycles)), 2)
        for turns in range(fewest, min(fewest + _TURNS_TRIED, way.most)):
            found.append((turns, line.count(-(-(need - fixed) // turns) - way.cycles)))
        best: dict[bool, Around] = {}
        for turns, count in found:
            if not (1 < turns < way.most and 0 < count < knob.most):
                continue
            cycles = fixed + turns * (line.at(count) + way.cycles)
            kept = count == old
            if need <= cycles <= most and (kept not in best or cycles < best[kept].cycles):
                best[kept] = Around(self._outer(way, region, turns, name), count, cycles)
        yield from best.values()

    def _outer(self, way: Countdown, region: _Region, turns: int, name: str) -> Outer:
        branch = way.branch
        operand = f"{branch.before}{name}{branch.behind}"
        back = Filler(branch.action.mnemonic, operand, branch.taken, branch.action.size, branch.spoils)
        return Outer(region.first, region.last, name, way.load.text(self._cpu, turns), (*way.turn, back))

    def _passes(self, knob: Knob, region: _Region, count: int) -> int | None:
        """Cycles from the load of that count to the end of its loop; None where they are not exact."""
        instruction = self._program.instructions[knob.index]
        fields = {**instruction.action.fields, knob.hole.name: knob.value(count) % knob.most}
        action = instruction.action
        changed = {knob.index: self._cpu.bind(action.row, action.variant, fields, action.address)}
        walk = self._analysis.replacing(changed).fragment(knob.wait.part)
        counted = walk.loops.get(region.loop.key) if walk.ends() else None
        if counted is None or not counted.total.exact:
            return None
        total = counted.total.fewest.value
        for index in range(region.first, region.loop.head):
            before = self._program.instructions[index].action
            steps = cost(before, lambda name, of=before: truth(self._cpu, self._modes, of.conditions[name]))  # type: ignore[misc]
            if steps.fewest != steps.most or total is None:
                return None
            total += steps.fewest
        return total

    # -- where there is room ---------------------------------------------------------------------------------

    def _region(self, knob: Knob) -> _Region | None:
        first, wait = knob.index, knob.wait
        if wait.kind == "call" or any(first in loop.nodes for loop in wait.part.loops()):
            return None
        loops = [item for item in wait.part.items if isinstance(item, Loop) and min(item.nodes) > first]
        loop = min(loops, key=lambda each: each.head, default=None)
        if loop is None:
            return None
        last = max(loop.nodes)
        nodes = frozenset(range(first, last + 1))
        straight = loop.head == min(loop.nodes) and nodes - set(range(first, loop.head)) == loop.nodes
        known = nodes <= wait.part.nodes and not nodes & self._graph.calls.keys()
        if straight and known and self._closed(first, last, nodes) and self._repeats(first, nodes):
            return _Region(first, last, loop)
        return None

    def _closed(self, first: int, last: int, nodes: frozenset[int]) -> bool:
        """Whether it is come into at its first instruction alone, and left behind its last."""
        leaving = {(e.source, e.target) for n in nodes for e in self._graph.edges[n] if e.target not in nodes}
        inside = nodes - {first}
        before = sources(self._graph)
        coming = {source for node in inside for source in before.get(node, ())}
        return leaving == {(last, last + 1)} and coming <= nodes and not inside & self._entered

    def _repeats(self, first: int, nodes: frozenset[int]) -> bool:
        """Whether it does the same when it is run again: it touches no memory, and reads nothing that it writes."""
        actions = [self._program.instructions[node].action for node in nodes]
        waited = any(self._analysis.waits.at(action.address) for action in actions)
        writes = frozenset[str]().union(*(action.used.writes for action in actions)) - {COUNTER}
        touched = any(touches(action.meaning) for action in actions)
        return not (waited or touched or writes & self._live.before[first])

    def _free(self, way: Countdown, region: _Region) -> bool:
        """Whether nobody reads what the outer level spoils, in the loop or behind it."""
        nodes = range(region.first, region.last + 1)
        actions = [self._program.instructions[node].action for node in nodes]
        used = frozenset[str]().union(*(action.used.reads | action.used.writes for action in actions))
        flags = self._cpu.flags
        kept = self._live.before[region.first] | self._text.before[region.last + 1]
        kept |= {name for name in self._live.before[region.last + 1] if name not in flags}
        return not (way.parts & used or way.spoils & kept)

    def _label(self, near: str) -> str:
        """A name that the program has not."""
        symbols = {name.lower() for name in self._program.symbols}
        stem = near if near.isalnum() and near[0].isalpha() else "WAIT"
        if all(len(name) <= _SHORT_NAME for name in symbols):
            stem = stem[: _SHORT_NAME - 1]
        return next(f"{stem}{n}" for n in range(1, len(symbols) + 2) if f"{stem}{n}".lower() not in symbols)


@dataclass(frozen=True, slots=True)
class _Line:
    """Cycles of the inner loop with its load: `cycles` with the count that is written, `more` for each further one."""

    knob: Knob
    cycles: int
    more: int

    def at(self, count: int) -> int:
        return self.cycles + (count - self.knob.count(self.knob.written)) * self.more

    def count(self, need: int) -> int:
        """The least count that lasts so long."""
        return self.knob.count(self.knob.written) + -(-(need - self.cycles) // self.more)
