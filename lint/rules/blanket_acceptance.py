"""blanket-acceptance: findings of one kind are accepted wherever they come."""

from __future__ import annotations

from collections.abc import Iterator

from .acceptance import by_project
from .base import Case, Finding, Rule, Verdict
from .words import counted


def judge(case: Case) -> Iterator[Verdict]:
    """The lines of the project file that name no place and accept findings of `case.found`."""
    for each in case.accepted:
        count = sum(by_project(case, each, finding) for finding in case.found)
        if not each.at and count:
            yield Finding(
                name="blanket-acceptance",
                severity="note",
                place=each.place,
                message=f"{each.finding} is accepted everywhere, {counted(count, 'finding')}; name the places with at:",
                subject=each.finding,
            )


RULE = Rule(
    name="blanket-acceptance",
    summary="Findings of one kind are accepted wherever they come",
    mend="",
    explanation="""
        What it finds: a line under accept: in the project file that names no place and accepts findings.
        Why it matters: the next fault of that kind is accepted as well, before anybody has looked at it.
        Example: "{finding: delay-changes, because: the lamps may be slow}" accepts the striker's wait, too.
        Mend: none is made; write one line for each place, with at: and its label or file:line. An old tree with many
            findings is better recorded, with check --record.
        When to leave it: the reason holds for all code there will ever be.
    """,
    judge=judge,
)
