"""All that is known of a program's time: totals of routines, loops and calls, and gaps between accesses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from ..flow import Entry, Graph, LoopKey
from . import wording
from .analysis import Analysis
from .gap import Gap, GapFinder, Query, Site
from .handler import Handler
from .polynomial import Cost, cycles, either
from .remembered import Remembered
from .result import Context, LoopCount, Outcome, Total, Unknown
from .waitstate import NONE, WaitStates


@dataclass(frozen=True, slots=True)
class RoutineTiming:
    """A routine from its entry to its return, both included; `with_call` adds the calls that lead to it.

    `with_call` is None where nothing in the source calls it.
    """

    entry: Entry
    total: Total
    with_call: Total | None
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class LoopTiming:
    """A loop from its head to its exit, each time it is entered; `trips` are turns begun."""

    name: str
    key: LoopKey
    routine: str
    trips: Total
    total: Total
    count: LoopCount

    @property
    def head(self) -> int:
        """The index of the instruction a turn begins with."""
        return self.key.head


@dataclass(frozen=True, slots=True)
class CallTiming:
    """One call site that hands over known values: the routine's time there, the call itself not counted."""

    call: int
    name: str
    total: Total
    context: Context


@dataclass(frozen=True, slots=True, eq=False)
class Timings:
    """Cycles only: no clock is known here."""

    analysis: Analysis
    routines: tuple[RoutineTiming, ...]
    loops: tuple[LoopTiming, ...]
    calls: tuple[CallTiming, ...]

    @property
    def graph(self) -> Graph:
        return self.analysis.graph

    @property
    def handlers(self) -> tuple[Handler, ...]:
        return self.analysis.handlers

    @property
    def roots(self) -> list[Context]:
        """Where control comes in from outside: what vectors, the project file or nothing in the text leads to."""
        return [Context(r.entry.index) for r in self.routines if r.entry.kind != "called"]

    def finder(self, query: Query) -> GapFinder:
        """Answers more than pairs about one query: first and last accesses of a context as well."""
        return GapFinder(self.graph, self.analysis.outcome, self.analysis.routine, query)

    def gaps(self, query: Query) -> list[Gap]:
        """The shortest and longest ways between accesses, over every routine that runs."""
        return [self._with_between(gap) for gap in self.finder(query).gaps(self.contexts())]

    def _with_between(self, gap: Gap) -> Gap:
        """The gap with the cycles that come between those of the program."""
        found = [self.analysis.between(site.context.entry) for site in (gap.first, gap.then)]
        if not any(each.paces for each in found):
            return gap
        fewest = min(each.fewest(gap.fewest) for each in found)
        most = None if gap.most is None else max(each.most(gap.most) for each in found)
        return replace(gap, fewest=fewest, most=most)

    def contexts(self) -> tuple[Context, ...]:
        """Every context that runs, each once."""
        return _contexts(self)

    def contexts_at(self, index: int) -> tuple[Context, ...]:
        """The contexts an instruction runs in."""
        return _contexts_at(self).get(index, ())

    def routines_at(self, index: int) -> tuple[RoutineTiming, ...]:
        """The routines an instruction runs in, in their order."""
        return _routines_at(self).get(index, ())

    def live(self, roots: Iterable[Context]) -> Iterator[Context]:
        """The contexts that run from some others, those first."""
        seen = dict.fromkeys(roots)
        work = list(seen)[::-1]
        while work:
            context = work.pop()
            yield context
            for fact in self.analysis.outcome(context).facts.values():
                if fact.callee is not None and fact.callee not in seen:
                    seen[fact.callee] = None
                    work.append(fact.callee)

    def sites(self) -> tuple[Site, ...]:
        """Every access to a watched address, once for each context it runs in, in the order of the source."""
        return _sites(self)

    def since_reset(self, query: Query) -> list[tuple[Site, int]]:
        """The first accesses after reset that the query's `then` asks for, with the fewest cycles to them.

        Empty where the program has no reset vector in its text.
        """
        finder = self.finder(query)
        resets = [r.entry.index for r in self.routines if r.entry.kind == "reset"]
        heads = (finder.summary(Context(index)).heads for index in resets)
        return [(site, span.fewest) for found in heads for site, span in found.items()]


# Many rules ask for these: they are found once for each of the last programs.
@lru_cache(maxsize=2)
def _contexts(timings: Timings) -> tuple[Context, ...]:
    return tuple(timings.live(timings.roots))


@lru_cache(maxsize=2)
def _sites(timings: Timings) -> tuple[Site, ...]:
    found = [
        Site(context, access)
        for context in timings.contexts()
        for fact in timings.analysis.outcome(context).facts.values()
        for access in fact.accesses
    ]
    return tuple(sorted(found, key=lambda site: (site.access.instruction, site.access.first)))


@lru_cache(maxsize=2)
def _contexts_at(timings: Timings) -> Mapping[int, tuple[Context, ...]]:
    found: dict[int, list[Context]] = {}
    for context in timings.contexts():
        for index in timings.analysis.outcome(context).facts:
            found.setdefault(index, []).append(context)
    return {index: tuple(contexts) for index, contexts in found.items()}


@lru_cache(maxsize=2)
def _routines_at(timings: Timings) -> Mapping[int, tuple[RoutineTiming, ...]]:
    found: dict[int, list[RoutineTiming]] = {}
    for routine in timings.routines:
        for index in routine.outcome.facts:
            found.setdefault(index, []).append(routine)
    return {index: tuple(routines) for index, routines in found.items()}


def count(
    graph: Graph,
    watched: frozenset[int] = frozenset(),
    handlers: Iterable[Handler] = (),
    waits: WaitStates = NONE,
    memory: Iterable[range] = (),
    remembered: Remembered | None = None,
) -> Timings:
    """Counts every routine of the program.

    `watched` are the addresses of parts; `handlers` those of its interrupts; `waits` the wait states of the board,
    `memory` the stretches where it has memory, even where the processor has registers of its own. A routine that
    can't be counted has an Unknown total with its reason, and the fewest cycles it takes anyway. What an earlier count
    with the same `remembered` found is taken again where it still holds; the result is the same without it.
    """
    analysis = Analysis(graph, watched, handlers, waits, memory, remembered)
    outcomes = {entry: analysis.outcome(Context(entry.index)) for entry in graph.entries}
    if analysis.learn():
        # Counted again with that known.
        outcomes = {entry: analysis.outcome(Context(entry.index)) for entry in graph.entries}
    analysis.remember()
    call_costs = dict(_call_costs(graph, outcomes.values()))
    return Timings(
        analysis,
        tuple(_routine(analysis, entry, outcome, call_costs) for entry, outcome in outcomes.items()),
        tuple(_loops(analysis, outcomes)),
        tuple(_calls(graph, analysis, outcomes.values())),
    )


def _call_costs(graph: Graph, outcomes: Iterable[Outcome]) -> Iterator[tuple[int, Cost]]:
    """The cost of the call instructions that lead to each routine."""
    found: dict[int, Cost] = {}
    for outcome in outcomes:
        for index, fact in outcome.facts.items():
            call = graph.calls.get(index)
            if call is not None and call.target is not None and not call.tail:
                cost = cycles(*next(iter(fact.ways.values())))
                before = found.get(call.target)
                found[call.target] = cost if before is None else either(before, cost)
    yield from found.items()


def _routine(analysis: Analysis, entry: Entry, outcome: Outcome, calls: Mapping[int, Cost]) -> RoutineTiming:
    if outcome.cost is None:
        return RoutineTiming(entry, Unknown(outcome.reason, 0), None, outcome)
    call = calls.get(entry.index)
    with_call = None if call is None else analysis.total(call + outcome.cost, entry.index)
    return RoutineTiming(entry, analysis.total(outcome.cost, entry.index), with_call, outcome)


def _loops(analysis: Analysis, outcomes: Mapping[Entry, Outcome]) -> Iterator[LoopTiming]:
    """Each loop once, for all the routines that come by it, in the order of the source, an outer one first."""
    graph = analysis.graph
    best: dict[LoopKey, LoopTiming] = {}
    for entry, outcome in outcomes.items():
        for key, loop in outcome.loops.items():
            total = analysis.total(loop.total, entry.index)
            trips = wording.total(loop.trips, graph)
            name = graph.head_name(key.head, key.nodes)
            made = LoopTiming(name, key, entry.name, trips, total, loop)
            before = best.get(key)
            if before is None:
                best[key] = made
            elif (before.total, before.trips) != (total, trips):
                best[key] = _of_both(analysis, before, loop, entry.index)
    for key in sorted(best, key=lambda key: (key.head, -len(key.nodes))):
        yield best[key]


def _of_both(analysis: Analysis, before: LoopTiming, other: LoopCount, entry: int) -> LoopTiming:
    """A loop that two routines share and that goes round differently in each."""
    trips = either(before.count.trips, other.trips)
    total = either(before.count.total, other.total)
    both = LoopCount(trips, total, before.count.never if before.count.never == other.never else "")
    return LoopTiming(
        before.name,
        before.key,
        before.routine,
        wording.total(trips, analysis.graph),
        analysis.total(total, entry),
        both,
    )


def _calls(graph: Graph, analysis: Analysis, outcomes: Iterable[Outcome]) -> Iterator[CallTiming]:
    found: dict[int, CallTiming] = {}
    for outcome in outcomes:
        for index, fact in outcome.facts.items():
            if fact.callee is None or not fact.callee.known or index in found:
                continue
            inner = analysis.outcome(fact.callee)
            if inner.cost is not None:
                total = analysis.total(inner.cost, fact.callee.entry)
                found[index] = CallTiming(index, graph.name(fact.callee.entry), total, fact.callee)
    for index in sorted(found):
        yield found[index]
