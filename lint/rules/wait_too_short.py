"""wait-too-short: code takes another time than its timing note states."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from ..assemble import BoundNote
from ..quantity import Clock, Duration
from ..source import Takes
from ..timing import Exact, Formula, Range, Total, Unknown
from .base import Case, Finding, Holds, Open, Rule, Verdict, WaitGoal
from .hurting import timed
from .stated import Stated, stated
from .words import counted, lasting


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each note about time: too short before too long, at the clock where it is worst."""
    hurting = timed(case)
    for each in stated(case) if case.clocks else ():
        if isinstance(each, BoundNote):
            yield _nothing(each)
        else:
            yield _verdict(case, each, hurting.get(each.index, ""))


def _nothing(bound: BoundNote) -> Open:
    place = f"{bound.origin.path}:{bound.note.line}"
    return Open(
        place,
        "the note speaks of nothing that takes time; put it at a routine's first line, a loop or a call",
    )


@dataclass(frozen=True, slots=True)
class _Window:
    """Fewest and most cycles allowed at a clock; `most` is None where more is no fault."""

    clock: Clock
    fewest: int
    most: int | None

    def short(self, least: int) -> int:
        return self.fewest - least

    def over(self, most: int | None) -> int:
        return 0 if self.most is None or most is None else most - self.most


def window(takes: Takes, clock: Clock) -> _Window:
    """What a note allows at a clock. Without a tolerance, 1 % or 2 cycles longer is as good as stated."""
    cycles = takes.duration.cycles(clock)
    match takes.kind:
        case "at_least":
            return _Window(clock, ceil(cycles), None)
        case "at_most":
            return _Window(clock, 0, floor(cycles))
        case "exact":
            if takes.tolerance is not None:
                slack = takes.tolerance.cycles(clock)
                return _Window(clock, ceil(cycles - slack), floor(cycles + slack))
            least = ceil(cycles)
            return _Window(clock, least, least + max(least // 100, 2))


def _bounds(spent: Total) -> tuple[int, int | None]:
    match spent:
        case Exact(cycles=cycles):
            return cycles, cycles
        case Range(fewest=fewest, most=most) | Formula(fewest=fewest, most=most):
            return fewest, most
        case Unknown(fewest=fewest):
            return fewest, None


def _verdict(case: Case, each: Stated, hurting: str) -> Verdict:
    least, most = _bounds(each.spent)
    clocks = sorted({side for clock in case.clocks for side in (clock.slowest, clock.fastest)})
    windows = [window(each.takes, clock) for clock in clocks]
    short = max(windows, key=lambda w: w.short(least))
    long = max(windows, key=lambda w: w.over(most))
    known = isinstance(each.spent, Exact | Range)
    if short.short(least) > 0 and known:
        return _finding(case, each, short, least, hurting)
    if long.over(most) > 0 and known:
        assert most is not None
        return _finding(case, each, long, most, hurting)
    unbounded = most is None and each.takes.kind != "at_least"
    if short.short(least) > 0 or long.over(most) > 0 or unbounded:
        return Open(each.name, _why(each.spent))
    clock = windows[-1].clock
    return Holds(each.name, clock.duration(least), each.takes.duration, None)


def _why(spent: Total) -> str:
    match spent:
        case Formula(text=text, inputs=inputs):
            return f"takes {text} cycles, and {', '.join(inputs)} is not known; state it in a timing note"
        case Unknown(reason=reason):
            return reason
        case _:
            return ""


_KINDS = {"exact": "", "at_least": "at least ", "at_most": "at most "}


def _finding(case: Case, each: Stated, at: _Window, cycles: int, hurting: str) -> Finding:
    takes, clock = each.takes, at.clock
    too_short = cycles < at.fewest
    missing = at.fewest - cycles if too_short else cycles - (at.most or 0)
    word = "short" if too_short else "too long"
    bound = "" if isinstance(each.spent, Exact) else "at least " if too_short else "up to "
    message = (
        f"{each.name} takes {bound}{counted(cycles, 'cycle')}, {lasting(cycles, clock)}; "
        f"{_KINDS[takes.kind]}{takes.duration.text()} stated; {counted(missing, 'cycle')} {word}"
    )
    return Finding(
        name="wait-too-short",
        severity="error" if too_short or takes.kind == "at_most" else "warning",
        place=case.program.instructions[each.index].origin.place,
        message=message,
        subject=each.name,
        index=each.index,
        notes=_notes(each, hurting),
        measured_cycles=cycles,
        measured=clock.duration(cycles),
        limit=takes.duration,
        clock=clock,
        short_before=_before(case, each, too_short, cycles),
        hurts=bool(hurting),
        goal=WaitGoal(each.index, each.loop, *_goal(takes)),
    )


def _notes(each: Stated, hurting: str) -> tuple[str, ...]:
    place = f"stated in {each.bound.origin.path}:{each.bound.note.line}"
    return (place, f"it times {hurting}, which can hurt people or equipment") if hurting else (place,)


def _before(case: Case, each: Stated, too_short: bool, cycles: int) -> bool:
    if case.written_for is None:
        return False
    old = window(each.takes, case.written_for)
    return old.short(cycles) > 0 if too_short else old.over(cycles) > 0


def _goal(takes: Takes) -> tuple[Duration | None, Duration | None]:
    match takes.kind:
        case "exact":
            slack = takes.tolerance or Duration(takes.duration.seconds / 100)
            return takes.duration, Duration(takes.duration.seconds + slack.seconds)
        case "at_least":
            return takes.duration, None
        case "at_most":
            return None, takes.duration


RULE = Rule(
    name="wait-too-short",
    summary="Code takes another time than its timing note states",
    mend="retime",
    explanation="""
        What it finds: a routine, loop or call with a timing note that it does not keep at a clock that is judged: too
            short, or too long for "takes 20 ms" (by more than 1 % or 2 cycles) and "takes at most 20 ms".
        Why it matters: what was written down as needed is not given: a debounce that bounces, a striker that does not
            strike, a time-out that comes early.
        Example: DELAY: LDX #25000 ; timing: takes 200 ms, with LOOP: LEAX -1,X / BNE LOOP / RTS behind it, takes
            200008 cycles: 200.008 ms at 1 MHz, 100.004 ms at 2 MHz.
        Mend: `retime` solves for the count that lasts as stated, and pads what is left over.
        When to leave it: never, if the note is right. If it is not, correct the note.
    """,
    judge=judge,
)
