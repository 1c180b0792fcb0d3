"""bus-too-fast: a part gets less time for an access than its sheet needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..board import BusNeed, bus_needs, not_given
from ..quantity import Clock, Duration
from .base import Case, Finding, Holds, Open, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each part on the bus: what it lacks most of at the fastest clock that is judged."""
    fastest = max((clock.fastest for clock in case.clocks), default=None)
    if fastest is None:
        return
    by_part: dict[str, list[BusNeed]] = {}
    for need in bus_needs(case.board):
        by_part.setdefault(need.name, []).append(need)
    for lacking in not_given(case.board):
        yield Open(
            f"{lacking.name}: {', '.join(lacking.subjects)}",
            f"no source says what the {lacking.processor} gives in an access of a port; compare it with its sheet",
        )
    for needs in by_part.values():
        yield _verdict(case, sorted(needs, key=lambda need: spare(need, fastest)), fastest)


def spare(need: BusNeed, clock: Clock) -> Duration:
    """What is left over of a need at a clock; below zero what is missing."""
    return Duration(given(need, clock).seconds - need.needed.seconds)


def given(need: BusNeed, clock: Clock) -> Duration:
    """What the bus gives at a clock."""
    return Duration(need.cycles / clock.hz + need.fixed.seconds)


def _verdict(case: Case, needs: Sequence[BusNeed], clock: Clock) -> Verdict:
    tight = needs[0]
    missing = spare(tight, clock)
    fixed = tight.needed.seconds - tight.fixed.seconds
    up_to = Clock(tight.cycles / fixed) if tight.cycles and fixed > 0 else None
    if missing.seconds >= 0:
        return Holds(f"{tight.name}: {tight.subject}", given(tight, clock), tight.needed, up_to)
    old = case.written_for
    before = old is not None and spare(tight, old.fastest).seconds < 0
    taken = "" if tight.stated else ", the strictest grade, as none is stated"
    ends = f", holds up to {up_to.text(6, 'down')}" if up_to else ", at every clock"
    tried = f"; tried at {tight.tried.text()}, not rated" if tight.tried else ""
    return Finding(
        name=RULE.name,
        severity="error" if tight.stated else "warning",
        place=tight.place,
        message=(
            f"{tight.name} gets {_amount(given(tight, clock))} of {tight.subject} at {clock.text()}; "
            f"{tight.whose} needs {tight.needed.text()}{taken}; {(-missing).text(4, 'up')} short{ends}{tried}"
        ),
        subject=tight.name,
        notes=(
            *(
                f"{need.subject}: {_amount(given(need, clock))} of {need.needed.text()}: "
                f"{need.given.text}; {need.evidence.text}"
                for need in needs
            ),
            *["short at the old clock as well"] * before,
        ),
        measured=given(tight, clock),
        limit=tight.needed,
        clock=clock,
        whose=tight.whose,
        holds_up_to=up_to,
        short_before=before,
    )


def _amount(time: Duration) -> str:
    return time.text(4, "down") if time.seconds > 0 else "nothing"


RULE = Rule(
    name="bus-too-fast",
    summary="A part gets less time for an access than its sheet needs",
    mend="",
    explanation="""
        What it finds: a part on the bus whose strobe is too narrow, whose data comes too late after the strobe, or
            whose address or data is there too shortly before it, at the fastest clock that is judged. What the bus
            gives is a share of the cycle less what the processor's sheet takes off; clockhop margins has all rows.
        Why it matters: a part may run beyond its rated clock for years and fail in the heat; which of its times gives
            first says what to measure.
        Example: a 68B50 on a 68B09 at 4 MHz gets a strobe of 95 ns, half a cycle less its edges; it needs 220 ns.
        Mend: none is made; fit a faster grade, add wait states for the part, or drive it through a port.
        When to leave it: it was tried, at the owner's risk: write tried: and the clock beside the part. A latch between
            bus and part gives it its times itself: then map it behind a port.
    """,
    judge=judge,
)
