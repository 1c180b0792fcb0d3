"""The sheet of a part for machines: every figure with its exact value and its source."""

from __future__ import annotations

from collections.abc import Mapping

from ..board import Evidence, Family
from ..quantity import Clock, Duration
from .amount import Json, exact
from .sheet import Catalogue, Line, Sheet, Value, sections
from .sheet_text import value as words

SCHEMA_VERSION = 1


def catalogue(found: Catalogue) -> Json:
    """The families with their names and grades, by shared/schemas/report-parts.json."""
    return {"schema_version": SCHEMA_VERSION, "families": [_family(family) for family in found.families]}


def value(sheet: Sheet) -> Json:
    """One family, or one grade of it, by shared/schemas/report-parts.json."""
    family = {
        **_family(sheet.family),
        "grade": sheet.grade.name if sheet.grade else None,
        "modes": [mode.name for mode in sheet.family.modes if mode.name],
        "own_clock": sheet.family.own_clock.name if sheet.family.own_clock else None,
        "sections": [
            {"title": section.title, "lines": [_line(line) for line in section.lines]}
            for section in sections(sheet)
        ],
    }
    return {"schema_version": SCHEMA_VERSION, "families": [family]}


def _family(family: Family) -> Mapping[str, object]:
    return {
        "name": family.name,
        "title": family.title,
        "kind": family.kind,
        "names": list(family.names),
        "grades": [{"name": grade.name, "names": list(grade.names)} for grade in family.grades if grade.name],
    }


def _line(line: Line) -> Json:
    return {
        "what": line.what,
        "values": [_value(grade, one) for grade, one in line.values.items()],
        "words": line.words,
        "evidence": _evidence(line.evidence) if line.evidence else None,
    }


def _value(grade: str, one: Value) -> Json:
    return {
        "grade": grade or None,
        "text": words(one),
        "hz": exact(one.hz) if isinstance(one, Clock) else None,
        "seconds": str(one.seconds) if isinstance(one, Duration) else None,
    }


def _evidence(evidence: Evidence) -> Json:
    source = evidence.source
    return {
        "title": source.title if source else None,
        "publisher": source.publisher if source else None,
        "number": source.number if source else None,
        "page": evidence.page,
        "condition": evidence.condition,
        "note": evidence.note,
        "from_memory": evidence.from_memory,
    }
