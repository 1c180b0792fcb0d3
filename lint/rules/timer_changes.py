"""timer-changes: a timer that counts the bus clock lasts another time at another clock."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from .base import Case, Rule, Verdict
from .changes import changes


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each number in a timer, where the clock it was written for is known."""
    return changes(case, RULE.name, "time", lambda time: time.text(), lambda _: "", Fraction(0))


RULE = Rule(
    name="timer-changes",
    summary="A timer that counts the clock lasts another time at another clock",
    mend="retime",
    explanation="""
        What it finds: a number written to a timer, a prescaler or a divider of a part that counts the bus clock, or a
            clock of the board that was turned, at another clock than the source was written for.
        Why it matters: an interrupt comes more often, a time-out ends early, a clock goes fast, and nothing in the
            source says so.
        Example: 9998 in timer 1 of a 6522 is 10 ms at 1 MHz and 5 ms at 2 MHz; 19998 keeps it.
        Mend: `retime` writes the number that is named where it stands in one place, with a note of the clock it is
            for; else make it from a symbol for the clock. Where none keeps it, count the interrupts.
        When to leave it: the timer only sets a pace that may change. Accept it with that reason.
    """,
    judge=judge,
)
