"""Interrupts: where they can come, and the pairs of accesses they make.

An interrupt whose handler touches a part comes between two accesses of the program and makes shorter pairs: one
access in the program and the handler's first, the handler's last and the program's next.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..cpu import run, term
from ..cpu.symbolic import Reader, State
from .gap import Gap, Query, Site
from .handler import Handler
from .result import Context, Fact, Outcome
from .timings import Timings

# What a mask may be at a point: set, clear, or not known.
Masks = frozenset[bool | None]


@dataclass(frozen=True, slots=True)
class Crossing:
    """A pair of accesses through an interrupt; `certain` is false where the mask may keep the interrupt out."""

    gap: Gap
    handler: Handler
    certain: bool


def crossings(timings: Timings, query: Query, found: Iterable[Handler]) -> Iterator[Crossing]:
    """The pairs that each handler makes with the rest of the program; the fewest cycles only.

    Ways between an access and the nearest point where the interrupt can come are looked for inside one routine.
    """
    for handler in found:
        summary = timings.finder(query).summary(Context(handler.entry))
        if summary.heads or summary.tails:
            yield from _Crossings(timings, query, handler).pairs()


@dataclass(frozen=True, slots=True)
class _Reached:
    """A point where the interrupt can come, the cycles between it and an access, and the way."""

    fewest: int
    path: tuple[int, ...]
    certain: bool


_Step = tuple[int, int, tuple[int, ...]]  # cycles so far, instruction, way


class _Crossings:
    def __init__(self, timings: Timings, query: Query, handler: Handler) -> None:
        self.timings = timings
        self.query = query
        self.handler = handler
        self.graph = timings.graph
        self.masks = _masks(timings, handler.mask)
        self.back: dict[int, list[int]] = {}
        for edges in self.graph.edges:
            for edge in edges:
                self.back.setdefault(edge.target, []).append(edge.source)

    def pairs(self) -> Iterator[Crossing]:
        finder = self.timings.finder(self.query)
        root = Context(self.handler.entry)
        # What the handler shares with the rest of the program is interrupted there.
        elsewhere = set(self.timings.live(other for other in self.timings.roots if other != root))
        summary = finder.summary(root)
        for site in self.timings.sites():
            if site.context not in elsewhere:
                continue
            onward = self._onward(site) if self.query.first(site) and summary.heads else None
            if onward is not None:
                for head, span in summary.heads.items():
                    inside = self.handler.fewest + span.fewest
                    yield self._crossing(site, head, onward, inside, (*onward.path, *span.path))
            backward = self._backward(site) if self.query.then(site) and summary.tails else None
            if backward is not None:
                for tail, span in summary.tails.items():
                    yield self._crossing(tail, site, backward, span.fewest, (*span.path, *backward.path))

    def _crossing(
        self, first: Site, then: Site, way: _Reached, inside: int, path: tuple[int, ...]
    ) -> Crossing:
        gap = Gap(first, then, way.fewest + inside, None, path)
        return Crossing(gap, self.handler, way.certain and self.handler.known)

    # -- the nearest point where the interrupt can come --------------------------------------------------------

    def _onward(self, site: Site) -> _Reached | None:
        """From an access on to the end of the first instruction behind which the interrupt can come."""
        outcome = self.timings.analysis.outcome(site.context)
        index = site.access.instruction
        spent = self._spent(outcome, index) - site.access.last
        queue: list[_Step] = [(spent, index, (index,))]
        done: set[int] = set()
        while queue:
            distance, node, path = heapq.heappop(queue)
            if node in done:
                continue
            done.add(node)
            masks = self.masks.after.get(node, _NOT_KNOWN)
            if masks - {True}:
                return _Reached(distance, path, False in masks)
            for edge in self.graph.edges[node]:
                following = outcome.facts.get(edge.target)
                if following is not None and not self._asked(outcome.context, following):
                    spent = distance + self._spent(outcome, edge.target)
                    heapq.heappush(queue, (spent, edge.target, (*path, edge.target)))
        return None

    def _backward(self, site: Site) -> _Reached | None:
        """From the nearest point before an access at which the interrupt can come."""
        outcome = self.timings.analysis.outcome(site.context)
        index = site.access.instruction
        queue: list[_Step] = [(site.access.first, index, (index,))]
        done: set[int] = set()
        while queue:
            distance, node, path = heapq.heappop(queue)
            if node in done:
                continue
            done.add(node)
            masks = self.masks.before.get(node, _NOT_KNOWN)
            if masks - {True}:
                return _Reached(distance, path, False in masks)
            for source in self.back.get(node, ()):
                before = outcome.facts.get(source)
                if before is not None and not self._asked(outcome.context, before):
                    heapq.heappush(queue, (distance + self._spent(outcome, source), source, (source, *path)))
        return None

    def _spent(self, outcome: Outcome, index: int) -> int:
        fact = outcome.facts[index]
        fewest = min((low for low, _ in fact.ways.values()), default=0)
        if fact.callee is not None:
            inner = self.timings.analysis.outcome(fact.callee).cost
            fewest += inner.least if inner is not None else 0
        return fewest

    def _asked(self, context: Context, fact: Fact) -> bool:
        return any(self.query.then(Site(context, access)) for access in fact.accesses)


# -- masks over the whole program ----------------------------------------------------------------------------

_NOT_KNOWN: Masks = frozenset({None})
_KEPT_OUT: Masks = frozenset({True})


@dataclass(frozen=True, slots=True)
class _MaskPoints:
    """What the mask may be before and after each instruction that runs."""

    before: Mapping[int, Masks]
    after: Mapping[int, Masks]


def _masks(timings: Timings, mask: str | None) -> _MaskPoints:
    graph = timings.graph
    if mask is None:
        clear = dict.fromkeys(range(len(graph.edges)), frozenset({False}))
        return _MaskPoints(clear, clear)
    return _MaskFlow(timings, mask).points()


class _MaskFlow:
    """Carries what a mask may be along the edges of the program, into calls and out of them."""

    def __init__(self, timings: Timings, mask: str) -> None:
        self.graph = timings.graph
        self.program = timings.graph.program
        self.mask = mask
        self.settled = self._settled(timings)
        self.before: dict[int, set[bool | None]] = {}
        self.after: dict[int, set[bool | None]] = {}
        self.keeps: dict[int, bool] = {}
        self.callers: dict[int, list[int]] = {}
        self.sources: dict[int, list[int]] = {}
        self.entered = {entry.index for entry in self.graph.entries}
        for edges in self.graph.edges:
            for edge in edges:
                self.sources.setdefault(edge.target, []).append(edge.source)
        for call in self.graph.calls.values():
            if call.target is not None and not call.tail:
                self.callers.setdefault(call.target, []).append(call.source)
        self.routine_of: dict[int, set[int]] = {}
        for entry in self.callers:
            for node in self.graph.reachable(entry) & self.graph.returns:
                self.routine_of.setdefault(node, set()).add(entry)

    def points(self) -> _MaskPoints:
        for entry in self.graph.entries:
            if entry.kind != "called":
                initial = self.program.cpu.initial.get(self.mask) if entry.kind == "reset" else None
                self._enter(entry.index, {None if initial is None else bool(initial)})
        behind = {index: frozenset(masks) for index, masks in self.after.items()}
        ahead = {index: frozenset(masks) for index, masks in self.before.items()}
        return _MaskPoints(
            {i: _KEPT_OUT if self._shielded(i) else masks for i, masks in ahead.items()},
            {i: _KEPT_OUT if self._shields(i) else masks for i, masks in behind.items()},
        )

    def _shields(self, index: int) -> bool:
        return self.program.instructions[index].action.row.operation.shields

    def _shielded(self, index: int) -> bool:
        """Whether control comes here only from an instruction behind which no interrupt is accepted."""
        sources = self.sources.get(index, ())
        return bool(sources) and index not in self.entered and all(self._shields(each) for each in sources)

    def _settled(self, timings: Timings) -> Mapping[int, bool]:
        """The instructions behind which the routine itself says what the mask is."""
        found: dict[int, set[bool | None]] = {}
        for routine in timings.routines:
            for index, fact in routine.outcome.facts.items():
                if index not in timings.graph.calls:
                    found.setdefault(index, set()).add(fact.masked.get(self.mask))
        return {
            index: known
            for index, values in found.items()
            for known in values
            if known is not None and len(values) == 1
        }

    def _enter(self, start: int, masks: set[bool | None]) -> None:
        work = [(start, masks)]
        while work:
            index, coming = work.pop()
            known = self.before.setdefault(index, set())
            if coming <= known and index in self.after:
                continue
            known |= coming
            leaving = self._leaving(index, known)
            self.after.setdefault(index, set()).update(leaving)
            call = self.graph.calls.get(index)
            if call is not None and call.target is not None:
                work.append((call.target, set(known)))
            for edge in self.graph.edges[index]:
                work.append((edge.target, set(self.after[index])))
            for entry in self.routine_of.get(index, ()):
                if not self._kept_by(entry):
                    work += self._returning(entry, set(self.after[index]))

    def _returning(self, entry: int, masks: set[bool | None]) -> Iterator[tuple[int, set[bool | None]]]:
        """Back behind the calls of a routine that changes the mask."""
        for source in self.callers[entry]:
            if source in self.before:
                self.after.setdefault(source, set()).update(masks)
                for edge in self.graph.edges[source]:
                    yield edge.target, set(masks)

    def _leaving(self, index: int, coming: set[bool | None]) -> set[bool | None]:
        call = self.graph.calls.get(index)
        if call is not None:
            if call.target is not None:
                return set(coming) if self._kept_by(call.target) else set()
            return set(coming) if self._writes_nothing_else(index) else {None}
        if index in self.settled:
            return {self.settled[index]}
        low, high = (self._then(index, value) for value in (0, 1))
        if low is False and high is True:
            return set(coming)
        return {low if low == high else None}

    def _then(self, index: int, flags: int) -> bool | None:
        """What the mask is behind an instruction before which all flags are that; flags are set and cleared singly."""
        action = self.program.instructions[index].action
        if self.mask not in action.used.writes:
            return bool(flags)
        reader = Reader(State(self.program.cpu, 0))
        for name in self.program.cpu.flags:
            reader.state.registers[name] = term.number(flags)
        run(action.meaning, reader)
        return term.decided(reader.state.get(self.mask))

    def _writes_nothing_else(self, index: int) -> bool:
        # A system call comes back with the flags it stacked.
        return self.program.instructions[index].action.flow == "interrupt"

    def _kept_by(self, entry: int) -> bool:
        """Whether a routine, with all it calls, leaves the mask as it found it."""
        known = self.keeps.get(entry)
        if known is None:
            self.keeps[entry] = True
            known = all(self._keeps(node) for node in self.graph.reachable(entry))
            self.keeps[entry] = known
        return known

    def _keeps(self, index: int) -> bool:
        call = self.graph.calls.get(index)
        if call is not None:
            return self._kept_by(call.target) if call.target is not None else self._writes_nothing_else(index)
        return (self._then(index, 0), self._then(index, 1)) == (False, True)
