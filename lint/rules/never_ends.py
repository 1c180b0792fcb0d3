"""never-ends: a loop whose exit test can't become true."""

from __future__ import annotations

from collections.abc import Iterator

from ..timing import LoopTiming
from .base import Case, Finding, Rule, Verdict
from .memory import variable


def judge(case: Case) -> Iterator[Verdict]:
    """Loops that test for an exit in vain; a plain endless loop is meant."""
    for loop in case.timings.loops:
        if loop.count.never == "test" and not _reads_elsewhere(case, loop):
            yield Finding(
                name="never-ends",
                severity="warning",
                place=case.program.instructions[loop.head].origin.place,
                message=f"{loop.name} never ends: its exit test fails in every turn",
                subject=loop.name,
                index=loop.head,
            )


def _reads_elsewhere(case: Case, loop: LoopTiming) -> bool:
    """Whether the loop reads anything but the program's own variables: a device there may change by itself."""
    for routine in case.timings.routines:
        if routine.entry.name == loop.routine and loop.head in routine.outcome.facts:
            around = case.timings.analysis.routine(routine.entry.index).loops()
            nodes = next(each.nodes for each in around if each.key == loop.key)
            facts = (routine.outcome.facts[node] for node in nodes if node in routine.outcome.facts)
            reads = (term.value for fact in facts for term in fact.reads)
            return any(address is None or not variable(case, address) for address in reads)
    return False


RULE = Rule(
    name="never-ends",
    summary="A loop tests for an exit that never comes",
    mend="",
    explanation="""
        What it finds: a loop that has an exit, with a test that no value the loop produces can meet. Loops that read
            through a pointer, or where a device may be, are left out.
        Why it matters: whatever follows never runs. Mostly a counter is stepped past its end value, or loaded anew
            in every turn.
        Example: AGAIN: LDA #10 / DECA / BNE AGAIN loads the counter again each time.
        Mend: none is made: only the author knows what was meant.
        When to leave it: an interrupt changes what is tested. Accept it with that reason.
    """,
    judge=judge,
)
