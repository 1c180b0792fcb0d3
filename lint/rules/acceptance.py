"""Which findings are accepted: by a timing note in the source, or by the project file."""

from __future__ import annotations

from pathlib import PurePath

from ..assemble import BoundNote
from ..board import Acceptance
from ..source import Accept
from .base import Case, Finding, PadGoal


def accepted(case: Case, finding: Finding) -> bool:
    """Whether a note or the project file accepts the finding."""
    return any(by_note(bound, finding) for bound in case.program.notes) or any(
        by_project(case, each, finding) for each in case.accepted
    )


def by_note(bound: BoundNote, finding: Finding) -> bool:
    """Whether the note accepts the finding: it has its name and stands at one of its instructions."""
    note = bound.note.note
    return isinstance(note, Accept) and note.rule == finding.name and bound.index in _instructions(finding)


def _instructions(finding: Finding) -> set[int | None]:
    first = finding.goal.first.access.instruction if isinstance(finding.goal, PadGoal) else None
    return {finding.index, first} - {None}


def by_project(case: Case, acceptance: Acceptance, finding: Finding) -> bool:
    """Whether the project file accepts the finding: everywhere, at file:line, or at a label of code or of a port."""
    if acceptance.finding != finding.name:
        return False
    path, colon, line = acceptance.at.rpartition(":")
    if colon and line.isdigit():
        return finding.place.line == int(line) and _ends_with(finding.place.path, path)
    return not acceptance.at or acceptance.at in {finding.subject, *_labels(case, finding)}


def _ends_with(path: str, wanted: str) -> bool:
    parts = PurePath(wanted).parts
    return PurePath(path).parts[-len(parts) :] == parts


def _labels(case: Case, finding: Finding) -> set[str]:
    """The labels at the instruction of a finding, or the nearest ones above it."""
    if finding.index is None:
        return set()
    for instruction in reversed(case.program.instructions[: finding.index + 1]):
        if instruction.labels:
            return set(instruction.labels)
    return set()
