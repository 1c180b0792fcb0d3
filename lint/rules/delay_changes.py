"""delay-changes: a wait lasts another time at another clock, and nothing says whether that matters."""

from __future__ import annotations

from collections.abc import Iterator

from ..quantity import Clock
from ..timing import Formula, Range, RoutineTiming, Wait, open_waits, ranged_waits, waits
from .base import Case, Finding, Rule, Verdict, WaitGoal
from .hurting import timed
from .stated import left_alone, own_clock, spoken_for, written_at
from .words import counted, lasting


def judge(case: Case) -> Iterator[Verdict]:
    """One note for each wait without a timing note, where the clock it was written for is known and another."""
    old = case.written_for
    others = [clock for clock in case.clocks if clock != old]
    if old is None or not others:
        return
    hurting = timed(case)
    for wait in waits(case.timings):
        own = written_at(case.timings.graph, wait) or old
        if own != max(others) and not left_alone(case, wait):
            yield _finding(case, wait, own, others, wait.index in hurting)
    for routine in (*open_waits(case.timings), *ranged_waits(case.timings)):
        own = own_clock(case.program, routine.entry.index) or old
        if own != max(others) and not spoken_for(case, frozenset({routine.entry.index})):
            yield _unsolved(case, routine, own, max(others))


def _unsolved(case: Case, routine: RoutineTiming, old: Clock, clock: Clock) -> Finding:
    """A wait whose time its callers decide, some at run time, or that takes more or fewer cycles each time."""
    total, entry = routine.total, routine.entry
    if isinstance(total, Range):
        takes = f"{total.fewest} to {total.most} cycles"
        what = "mend does not solve for a range: change its count by hand"
    else:
        assert isinstance(total, Formula)
        takes = f"{total.text} cycles, and a caller decides {', '.join(total.inputs)} at run time"
        what = "change its own count by hand, or what is handed over"
    return Finding(
        name="delay-changes",
        severity="note",
        place=case.program.instructions[entry.index].origin.place,
        message=f"{entry.name} takes {takes}: at {clock.text()} it lasts {old.hz / clock.hz} of its time at "
        f"{old.text()}; {what}",
        subject=entry.name,
        index=entry.index,
        clock=clock,
    )


def _finding(case: Case, wait: Wait, old: Clock, others: list[Clock], hurts: bool) -> Finding:
    instruction = case.program.instructions[wait.index]
    clock = max(others)
    times = [lasting(wait.cycles, each) for each in (old, *others)]
    verb = "called here takes" if wait.kind == "call" else "takes"
    return Finding(
        name="delay-changes",
        severity="note",
        place=instruction.origin.place,
        message=f"{wait.name} {verb} {counted(wait.cycles, 'cycle')}, {', '.join(times[:-1])} and {times[-1]}; "
        "mend keeps its time, or state in a timing note what it has to last",
        subject=wait.name,
        index=wait.index,
        measured_cycles=wait.cycles,
        measured=clock.duration(wait.cycles),
        limit=old.duration(wait.cycles),
        clock=clock,
        hurts=hurts,
        goal=WaitGoal(wait.index, wait.kind == "loop", old.duration(wait.cycles), None),
    )


RULE = Rule(
    name="delay-changes",
    summary="A wait lasts another time at another clock",
    mend="retime",
    explanation="""
        What it finds: a loop, routine or call that does nothing but last, without a timing note, at a clock other
            than the one the source was written for; also where its callers decide at run time how long.
        Why it matters: it may have been meant in time: a debounce, a settling time, a tone. Or it may not matter at
            all. Nothing in the source says which.
        Example: DELAY: LDX #25000 / LOOP: LEAX -1,X / BNE LOOP / RTS lasts 200.008 ms at 1 MHz and 100.004 ms at
            2 MHz.
        Mend: `retime` makes it last as long as at the old clock, and writes that time into a timing note.
        When to leave it: it only has to be long enough, and still is; or its count is measured at run time. Say so
            with "timing: leave because ...".
    """,
    judge=judge,
)
