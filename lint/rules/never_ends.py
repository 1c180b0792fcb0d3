"""never-ends: a loop whose exit test can't become true."""

from __future__ import annotations

from collections.abc import Iterator

from .base import Case, Finding, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """Loops that test for an exit in vain; a plain endless loop is meant."""
    for loop in case.timings.loops:
        if loop.count.never == "test":
            yield Finding(
                name="never-ends",
                severity="warning",
                place=case.program.instructions[loop.head].origin.place,
                message=f"{loop.name} never ends: its exit test fails in every turn",
                subject=loop.name,
                index=loop.head,
            )


RULE = Rule(
    name="never-ends",
    summary="A loop tests for an exit that never comes",
    mend="",
    explanation="""
        What it finds: a loop that has an exit, with a test that no value the loop produces can meet.
        Why it matters: whatever follows never runs. Mostly a counter is stepped past its end value, or loaded anew
            in every turn.
        Example: AGAIN: LDA #10 / DECA / BNE AGAIN loads the counter again each time.
        Mend: none is made: only the author knows what was meant.
        When to leave it: an interrupt changes what is tested. Accept it with that reason.
    """,
    judge=judge,
)
