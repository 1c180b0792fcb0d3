"""The straight pieces of a program from the load of a count to the end of the loop that counts it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from ..cpu import Action, Cpu, cost
from ..flow import Liveness, Loop, sources
from ..timing import Timings
from .filler import truth
from .knob import Knob
from .proof import within


@dataclass(frozen=True, slots=True)
class Region:
    """Instructions `first`, which loads the count, to `last`, the branch back of `loop`, with nothing else between."""

    first: int
    last: int
    loop: Loop


@dataclass(frozen=True, slots=True)
class Line:
    """Cycles of a region: `cycles` with the count that is written, `more` for each further one."""

    knob: Knob
    cycles: int
    more: int

    def at(self, count: int) -> int:
        return self.cycles + (count - self.knob.count(self.knob.written)) * self.more

    def count(self, need: int) -> int:
        """The least count that lasts so long."""
        return self.knob.count(self.knob.written) + -(-(need - self.cycles) // self.more)


class Regions:
    """The regions of one program, and what is read in them and behind."""

    def __init__(self, timings: Timings, live: Liveness) -> None:
        self.live = live
        self.analysis = timings.analysis
        self.graph = timings.graph
        self.program = timings.graph.program
        self.cpu: Cpu = self.program.cpu
        self.modes = frozenset(timings.analysis.modes.items())

    def of(self, knob: Knob) -> Region | None:
        """The region of the loop that the count is loaded for; None where control comes or goes otherwise."""
        first, wait = knob.index, knob.wait
        if wait.kind == "call":
            return None
        loops = [loop for loop in wait.part.loops() if min(loop.nodes) > first]
        loop = min(loops, key=lambda each: (each.head, -len(each.nodes)), default=None)
        if loop is None:
            return None
        last = max(loop.nodes)
        nodes = frozenset(range(first, last + 1))
        straight = loop.head == min(loop.nodes) and nodes - set(range(first, loop.head)) == loop.nodes
        known = nodes <= wait.part.nodes and not nodes & self.graph.calls.keys()
        waited = any(self.analysis.waits.at(self.action(node).address) for node in nodes)
        if straight and known and not waited and self._closed(first, last, nodes):
            return Region(first, last, loop)
        return None

    def line(self, knob: Knob, region: Region) -> Line | None:
        """How long the region lasts with each count; None where that is not exact."""
        old = knob.count(knob.written)
        beside = old + (1 if old < knob.most else -1)
        here, other = (self._passes(knob, region, count) for count in (old, beside))
        if here is None or other is None or here == other:
            return None
        return Line(knob, here, (other - here) // (beside - old))

    def action(self, index: int) -> Action:
        return self.program.instructions[index].action

    def looped(self, knob: Knob) -> bool:
        """Whether the count is loaded inside a loop of its wait."""
        return any(knob.index in loop.nodes for loop in knob.wait.part.loops())

    def used(self, nodes: Iterable[int]) -> frozenset[str]:
        """Registers and flags that instructions read or write."""
        uses = [self.action(node).used for node in nodes]
        return frozenset[str]().union(*(use.reads | use.writes for use in uses))

    def kept(self, region: Region) -> frozenset[str]:
        """What somebody reads of what stands there before the region or behind it; flags only within the text."""
        behind = self.live.before[region.last + 1]
        kept = self.live.before[region.first] | self._text.before[region.last + 1]
        return kept | {name for name in behind if name not in self.cpu.flags}

    @cached_property
    def _text(self) -> Liveness:
        return within(self.graph)

    @cached_property
    def _entered(self) -> frozenset[int]:
        """Instructions that something outside the straight text leads to."""
        called = {call.target for call in self.graph.calls.values() if call.target is not None}
        return frozenset(called | {entry.index for entry in self.graph.entries})

    def _closed(self, first: int, last: int, nodes: frozenset[int]) -> bool:
        """Whether it is come into at its first instruction alone, and left behind its last."""
        leaving = {(e.source, e.target) for n in nodes for e in self.graph.edges[n] if e.target not in nodes}
        inside = nodes - {first}
        before = sources(self.graph)
        coming = {source for node in inside for source in before.get(node, ())}
        return leaving == {(last, last + 1)} and coming <= nodes and not inside & self._entered

    def _passes(self, knob: Knob, region: Region, count: int) -> int | None:
        """Cycles from the load of that count to the end of its loop; None where they are not exact."""
        action = self.action(knob.index)
        fields = {**action.fields, knob.hole.name: knob.value(count) % knob.most}
        changed = {knob.index: self.cpu.bind(action.row, action.variant, fields, action.address)}
        walk = self.analysis.replacing(changed).fragment(knob.wait.part)
        counted = walk.loops.get(region.loop.key) if walk.ends() else None
        if counted is None or not counted.total.exact:
            return None
        total = counted.total.fewest.value
        for index in range(region.first, region.loop.head):
            before = self.action(index)
            steps = cost(before, lambda name, of=before: truth(self.cpu, self.modes, of.conditions[name]))  # type: ignore[misc]
            if steps.fewest != steps.most or total is None:
                return None
            total += steps.fewest
        return total
