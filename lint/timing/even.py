"""Loops of which every turn takes the same: how many turns, of how many cycles, and what the last one adds or saves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..flow import Graph, Loop, LoopKey
from .result import Exact, Fact, Total
from .timings import LoopTiming, Timings

Ways = Mapping[str, tuple[int, int | None]]


@dataclass(frozen=True, slots=True)
class Even:
    """`turns` of `cycles` each, and `rest` more (below zero: less), which is exactly the loop's total."""

    turns: int
    cycles: int
    rest: int


def ways(timings: Timings) -> dict[int, Ways]:
    """By instruction that runs the fewest and most cycles of each way out of it, over every context it runs in."""
    found: dict[int, dict[str, tuple[int, int | None]]] = {}
    for index, fact in _facts(timings):
        known = found.setdefault(index, {})
        for way, (low, high) in fact.ways.items():
            least, most = known.get(way, (low, high))
            known[way] = (min(low, least), None if high is None or most is None else max(high, most))
    return dict(found)


def called(timings: Timings) -> dict[int, Total]:
    """By call what the routine takes there, with the values handed over where they are known."""
    known = {call.call: call.total for call in timings.calls}
    totals = {routine.entry.index: routine.total for routine in timings.routines}
    return {
        index: known.get(index, totals[call.target])
        for index, call in timings.graph.calls.items()
        if call.target in totals and not call.tail
    }


def even(timings: Timings) -> dict[LoopKey, Even]:
    """The loops whose turns all take the same, and as often as is known exactly.

    Of a loop with branches inside, several ways out, or a call whose cycles vary it is not known: it is left out.
    """
    spent = dict(_spent(timings))
    totals = {loop.key: loop.total for loop in timings.loops}
    entries = {routine.entry.name: routine.entry.index for routine in timings.routines}
    found: dict[LoopKey, Even] = {}
    for loop in timings.loops:
        shapes = timings.analysis.routine(entries[loop.routine]).loops()
        shape = next((each for each in shapes if each.key == loop.key), None)
        turns = None if shape is None else _even(timings.graph, loop, shape, spent, totals)
        if turns is not None:
            found[loop.key] = turns
    return found


def _even(
    graph: Graph,
    loop: LoopTiming,
    shape: Loop,
    spent: Mapping[int, Mapping[str, int]],
    totals: Mapping[LoopKey, Total],
) -> Even | None:
    if not isinstance(loop.trips, Exact) or not isinstance(loop.total, Exact):
        return None
    turn, left, last = 0, None, False
    for item in shape.items:
        if isinstance(item, Loop):
            inner = totals.get(item.key)
            if not isinstance(inner, Exact):
                return None
            turn += inner.cycles
            continue
        inside = [edge for edge in graph.edges[item] if edge.target in shape.nodes]
        outside = [edge for edge in graph.edges[item] if edge.target not in shape.nodes]
        cycles = spent.get(item, {})
        if len(inside) != 1 or len(outside) > 1 or any(e.way not in cycles for e in (*inside, *outside)):
            return None
        if outside:
            if left is not None:
                return None
            left, last = turn + cycles[outside[0].way], inside[0].target == shape.head
        turn += cycles[inside[0].way]
    turns = loop.trips.cycles
    if left is None or (turns - 1) * turn + left != loop.total.cycles:
        return None
    return Even(turns, turn, left - turn) if last else Even(turns - 1, turn, left)


def _spent(timings: Timings) -> Iterator[tuple[int, dict[str, int]]]:
    """By instruction and way out its cycles with those of what it calls, where each is one number in every context."""
    inside: dict[int, set[int | None]] = {}
    for index, fact in _facts(timings):
        if index in timings.graph.calls:
            inside.setdefault(index, set()).add(_callee(timings, fact))
    for index, by_way in ways(timings).items():
        (more, *others) = inside.get(index, {0})
        if more is not None and not others:
            yield index, {way: low + more for way, (low, high) in by_way.items() if low == high}


def _callee(timings: Timings, fact: Fact) -> int | None:
    cost = None if fact.callee is None else timings.analysis.outcome(fact.callee).cost
    return cost.fewest.value if cost is not None and cost.exact else None


def _facts(timings: Timings) -> Iterator[tuple[int, Fact]]:
    for outcome in tuple(timings.analysis.outcomes().values()):
        yield from outcome.facts.items()
