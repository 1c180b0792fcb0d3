"""How long each wait has to last at the new clock, and on whose word."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from ..assemble import Program
from ..chain import Chain
from ..quantity import Clock, Duration, parse_duration
from ..rules.stated import written_at
from ..source import Leave, Takes
from ..timing import Wait, waits


@dataclass(frozen=True, slots=True)
class Wanted:
    """A wait of `least` to `most` cycles (None: any number above) at the new clock is left as it is.

    `aim` is what another is solved for, fewest and most, `beyond` what will do where there is none so near. `lasts` is
    the time meant, `stated` by a note.
    """

    least: int
    most: int | None
    aim: tuple[int, int]
    lasts: Duration
    stated: bool
    beyond: int | None = None

    def met(self, cycles: int) -> bool:
        return self.least <= cycles and (self.most is None or cycles <= self.most)


@dataclass(frozen=True, slots=True)
class Untouched:
    """A note says that the wait must not be rescaled."""

    reason: str


Goal = Wanted | Untouched
Key = tuple[str, int]


def key(wait: Wait) -> Key:
    """Tells a wait from all others of its program."""
    return wait.kind, wait.index


def goals(
    chain: Chain, clock: Clock, written_for: Clock | None, within: Fraction | None = None
) -> dict[Key, Goal]:
    """What each wait has to last, where a note or the clock the text was written for says so.

    `within` is the share by which it may be longer, None for what is usual.
    """
    found = (
        (wait, wanted(chain.program, wait, clock, written_at(chain.graph, wait) or written_for, within))
        for wait in waits(chain.timings)
    )
    return {key(wait): goal for wait, goal in found if goal is not None}


def wanted(
    program: Program, wait: Wait, clock: Clock, written_for: Clock | None, within: Fraction | None = None
) -> Goal | None:
    """What the wait has to last; None where neither a note nor the clock it was written for says so.

    A note decides alone: a wait that has one is never scaled by the old clock.
    """
    nodes = wait.part.nodes if wait.kind == "loop" else {wait.index}
    for bound in program.notes:
        if bound.index not in nodes:
            continue
        match bound.note.note:
            case Takes() as takes:
                return _stated(takes, clock, within)
            case Leave(reason=reason):
                return Untouched(f"its note says to leave it: {reason}")
            case _:
                pass
    if written_for is None:
        return None
    lasts = written_for.duration(wait.cycles)
    least = ceil(lasts.cycles(clock))
    # No longer than the note that goes with it allows, or the next run would find it too long.
    noted = ceil(parse_duration(written(lasts)).cycles(clock))
    most = noted + tolerance(noted, within)
    return Wanted(least, most, (least, most), lasts, False, _beyond(least, within))


def written(lasts: Duration) -> str:
    """A time in full where few digits say it, else rounded down: the old count and the new one both keep it."""
    full = lasts.text(9, "down")
    return full if parse_duration(full) == lasts else lasts.text(6, "down")


def _stated(takes: Takes, clock: Clock, within: Fraction | None) -> Wanted:
    cycles = takes.duration.cycles(clock)
    least, most = ceil(cycles), floor(cycles)
    if takes.kind == "at_most":
        return Wanted(0, most, (most - tolerance(most, within), most), takes.duration, True)
    if takes.kind == "at_least":
        aim = least, least + tolerance(least, within)
        return Wanted(least, None, aim, takes.duration, True, _beyond(least, within))
    if takes.tolerance is None:
        most = least + tolerance(least, within)
        return Wanted(least, most, (least, most), takes.duration, True)
    allowed = takes.tolerance.cycles(clock)
    most = floor(cycles + allowed)
    return Wanted(ceil(cycles - allowed), most, (min(least, most), most), takes.duration, True)


def _beyond(need: int, within: Fraction | None) -> int | None:
    """How long a wait may get that no count comes near: a short loop has few counts. Common practice."""
    return 2 * need if within is None else None


def tolerance(need: int, within: Fraction | None = None) -> int:
    """How many cycles longer a retimed wait may be: that share, else 1 % or 2 cycles, whichever is larger."""
    return max(need // 100, 2) if within is None else floor(need * within)
