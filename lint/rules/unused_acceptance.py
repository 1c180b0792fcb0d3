"""unused-acceptance: a finding is accepted that is not there."""

from __future__ import annotations

from collections.abc import Iterator

from ..errors import Place
from ..source import Accept
from .acceptance import by_note, by_project
from .base import Case, Finding, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """The notes and the lines of the project file that accept none of the findings in `case.found`."""
    for bound in case.program.notes:
        note = bound.note.note
        if isinstance(note, Accept) and not any(by_note(bound, finding) for finding in case.found):
            yield _finding(Place(bound.origin.path, bound.note.line), note.rule, "", bound.index)
    for each in case.accepted:
        if not any(by_project(case, each, finding) for finding in case.found):
            yield _finding(each.place, each.finding, f" at {each.at}" if each.at else "", None)


def _finding(place: Place, name: str, at: str, index: int | None) -> Finding:
    return Finding(
        name="unused-acceptance",
        severity="warning",
        place=place,
        message=f"{name}{at} is accepted and not found; remove the acceptance",
        subject=name,
        index=index,
    )


RULE = Rule(
    name="unused-acceptance",
    summary="A finding is accepted that is not there",
    mend="",
    explanation="""
        What it finds: a timing note "accept ... because ...", or a line under accept: in the project file, that no
            finding answers to: it was mended, it stands elsewhere, or its name is spelled another way.
        Why it matters: an acceptance left behind hides the next fault at that place.
        Example: "timing: accept access-too-soon because the dial is never read back", at a write that is now far
            enough from the one before.
        Mend: none is made; remove the acceptance, or correct its name or place.
        When to leave it: the finding is in another build of the same source.
    """,
    judge=judge,
)
