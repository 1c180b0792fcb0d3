"""What timing notes state about time: the note, the code it speaks of, and how long that takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..assemble import BoundNote, Program
from ..flow import Graph
from ..quantity import Clock
from ..source import Leave, Takes, WrittenFor
from ..timing import Exact, LoopTiming, RoutineTiming, Total, Wait, waits
from .base import Case


@dataclass(frozen=True, slots=True)
class Stated:
    """A note and the routine, loop or call it speaks of; `loop` tells a loop from the others."""

    bound: BoundNote
    takes: Takes
    name: str
    index: int
    loop: bool
    spent: Total


def stated(case: Case) -> Iterator[Stated | BoundNote]:
    """Every note about time with what it speaks of; the note alone where it stands at nothing that takes time."""
    found = waits(case.timings)
    for bound in case.program.notes:
        if isinstance(bound.note.note, Takes):
            yield _spoken_of(case, bound, bound.note.note, found) or bound


def _spoken_of(case: Case, bound: BoundNote, takes: Takes, found: tuple[Wait, ...]) -> Stated | None:
    routine = _routine(case, bound.index)
    if routine is not None:
        return Stated(bound, takes, routine.entry.name, bound.index, False, routine.total)
    wait = next((wait for wait in found if wait.kind != "routine" and bound.index in nodes(wait)), None)
    if wait is not None:
        return Stated(bound, takes, wait.name, wait.index, wait.kind == "loop", Exact(wait.cycles))
    loop = _loop(case, bound.index)
    if loop is not None:
        return Stated(bound, takes, loop.name, loop.head, True, loop.total)
    return _call(case, bound, takes)


def nodes(wait: Wait) -> frozenset[int]:
    """The instructions at which a note speaks of the wait."""
    return wait.part.nodes if wait.kind == "loop" else frozenset({wait.index})


def left_alone(case: Case, wait: Wait) -> bool:
    """Whether a note speaks for the wait: its time is stated, or it must be left."""
    return spoken_for(case, nodes(wait))


def spoken_for(case: Case, indexes: frozenset[int]) -> bool:
    """Whether a note at one of these instructions states a time or says to leave it."""
    notes = (bound for bound in case.program.notes if bound.index in indexes)
    return any(isinstance(bound.note.note, Takes | Leave) for bound in notes)


def own_clock(program: Program, entry: int | None) -> Clock | None:
    """The clock that a note at a routine says it was written for."""
    clocks = (
        bound.note.note.clock
        for bound in program.notes
        if bound.index == entry and isinstance(bound.note.note, WrittenFor)
    )
    return next(clocks, None)


def written_at(graph: Graph, wait: Wait) -> Clock | None:
    """The clock that a note says a wait was written for: its own routine, or the one that a call leads to."""
    call = graph.calls.get(wait.index) if wait.kind == "call" else None
    entry = wait.index if call is None else call.target
    return own_clock(graph.program, entry) if wait.kind != "loop" else None


def _routine(case: Case, index: int) -> RoutineTiming | None:
    """The routine that begins there; one that never returns is spoken of by its loops."""
    found = (r for r in case.timings.routines if r.entry.index == index and r.outcome.cost is not None)
    return next(found, None)


def _loop(case: Case, index: int) -> LoopTiming | None:
    """The innermost loop around the instruction."""
    around = (loop for loop in case.timings.loops if index in loop.key.nodes)
    return min(around, key=lambda loop: len(loop.key.nodes), default=None)


def _call(case: Case, bound: BoundNote, takes: Takes) -> Stated | None:
    call = case.timings.graph.calls.get(bound.index)
    routine = None if call is None or call.target is None else _routine(case, call.target)
    if routine is None:
        return None
    here = next((each.total for each in case.timings.calls if each.call == bound.index), routine.total)
    return Stated(bound, takes, routine.entry.name, bound.index, False, here)
