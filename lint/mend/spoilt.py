"""What edits elsewhere would do to code that is timed: waits that share something, loops that move across a page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..chain import Chain
from ..timing import Exact, Timings, timed_loops, waits
from .fault import Places
from .goal import Goal, Key, Wanted, key
from .padding import Padding, moved


def spoilt(before: Chain, after: Chain, paddings: Sequence[Padding], goals: Mapping[Key, Goal]) -> str:
    """What would not last any more what it lasts now and has to; an empty text where nothing does."""
    lasts = _lasting(after.timings)
    for wait in waits(before.timings):
        goal = goals.get(key(wait))
        now = lasts.get((wait.kind, moved(wait.index, paddings)), 0)
        if isinstance(goal, Wanted) and goal.met(wait.cycles) and not goal.met(now):
            return f"{wait.name} lasts what it has to, and would then last {now} cycles"
    return _moved_across(before, after, paddings)


def _lasting(timings: Timings) -> Mapping[Key, int]:
    """How long each wait lasts, and each loop, call and routine: one that was a wait may be part of another by then."""
    found: dict[Key, int] = {}
    for loop in timings.loops:
        if isinstance(loop.total, Exact):
            found["loop", loop.head] = loop.total.cycles
    for routine in timings.routines:
        if isinstance(routine.total, Exact):
            found["routine", routine.entry.index] = routine.total.cycles
    return found | {key(wait): wait.cycles for wait in waits(timings)}


def _moved_across(before: Chain, after: Chain, paddings: Sequence[Padding]) -> str:
    """A timed loop of which some instruction takes more or less at its new place.

    One that a mend has put another instruction in place of is none that moves.
    """
    loops = timed_loops(before.timings)
    if not loops:
        return ""
    own = Places(len(before.program.instructions), paddings).own
    new = dict(_ways(after.timings))
    was = dict(_ways(before.timings))
    for loop in loops:
        for node in sorted(loop.key.nodes):
            old, there = (
                was.get(node),
                new.get(own[node]) if own[node] < len(after.program.instructions) else None,
            )
            if old is None or there is None or old == there:
                continue
            instruction = before.program.instructions[node]
            if after.program.instructions[own[node]].action.row is not instruction.action.row:
                continue
            line = f"{instruction.mnemonic} in line {instruction.origin.line}"
            for way in old.keys() & there.keys():
                if old[way] != there[way]:
                    cycles = f"{_range(there[way])} cycles for {_range(old[way])}"
                    return f"{loop.name} would move, and {line} would take {cycles} at its new place; align it first"
    return ""


_Cycles = tuple[int, int | None]


def _ways(timings: Timings) -> Iterator[tuple[int, Mapping[str, _Cycles]]]:
    """By instruction the cycles of each way it goes on, in the last routine that has it."""
    for routine in timings.routines:
        for node, fact in routine.outcome.facts.items():
            yield node, fact.ways


def _range(cycles: _Cycles) -> str:
    low, high = cycles
    return str(low) if low == high else f"{low} to {'?' if high is None else high}"
