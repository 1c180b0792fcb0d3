"""How long each wait has to last at the new clock, and on whose word."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from ..assemble import Program
from ..quantity import Clock, Duration
from ..source import Leave, Takes
from ..timing import Wait
from .retime import tolerance


@dataclass(frozen=True, slots=True)
class Wanted:
    """At least `least` cycles at the new clock, at most `most`; `lasts` is the time meant, `stated` by a note."""

    least: int
    most: int | None
    lasts: Duration
    stated: bool


@dataclass(frozen=True, slots=True)
class Untouched:
    """A note says that the wait must not be rescaled."""

    reason: str


def wanted(
    program: Program, wait: Wait, clock: Clock, written_for: Clock | None
) -> Wanted | Untouched | None:
    """What the wait has to last; None where neither a note nor the clock it was written for says so.

    A note decides alone: a wait that has one is never scaled by the old clock.
    """
    nodes = wait.part.nodes if wait.kind == "loop" else {wait.index}
    for bound in program.notes:
        if bound.index not in nodes:
            continue
        match bound.note.note:
            case Takes() as takes:
                return _stated(takes, clock)
            case Leave(reason=reason):
                return Untouched(f"its note says to leave it: {reason}")
            case _:
                pass
    if written_for is None:
        return None
    lasts = written_for.duration(wait.cycles)
    least = ceil(lasts.cycles(clock))
    return Wanted(least, least + tolerance(least), lasts, False)


def _stated(takes: Takes, clock: Clock) -> Wanted:
    cycles = takes.duration.cycles(clock)
    if takes.kind == "at_most":
        return Wanted(0, floor(cycles), takes.duration, True)
    least = ceil(cycles)
    if takes.kind == "at_least":
        return Wanted(least, None, takes.duration, True)
    allowed = tolerance(least) if takes.tolerance is None else floor(takes.tolerance.cycles(clock))
    return Wanted(least, least + allowed, takes.duration, True)
