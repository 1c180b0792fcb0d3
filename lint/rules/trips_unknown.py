"""trips-unknown: nothing in the text says how often a loop runs."""

from __future__ import annotations

from collections.abc import Iterator

from ..timing import Unknown
from .base import Case, Finding, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """Loops that end, some time; a loop that never does is another matter."""
    for loop in case.timings.loops:
        if isinstance(loop.trips, Unknown) and not loop.count.never:
            yield Finding(
                name="trips-unknown",
                severity="note",
                place=case.program.instructions[loop.head].origin.place,
                message=f"{loop.name}: {loop.trips.reason}",
                subject=loop.name,
                index=loop.head,
            )


RULE = Rule(
    name="trips-unknown",
    summary="Nothing says how often a loop runs",
    mend="",
    explanation="""
        What it finds: a loop whose number of turns is decided by something outside the text: what a port reads, a
            cell that is set elsewhere, a value its caller hands over in ways that differ.
        Why it matters: everything that takes in this loop has a shortest time, but no longest one.
        Example: RXWAIT: LDA ACIAS / BITA #1 / BEQ RXWAIT loops until a character comes.
        Mend: none is made. Write how often it runs in a timing note at the loop, such as "timing: runs 1 to 200
            times", if you know.
        When to leave it: a poll that may take as long as it takes.
    """,
    judge=judge,
)
