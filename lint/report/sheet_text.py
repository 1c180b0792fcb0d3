"""The sheet of a part for people: text to read at the bench, and one line for each figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Final

from ..board import Family
from ..quantity import Clock, Duration
from .sheet import Catalogue, Line, Section, Sheet, Value, sections
from .table import Paint

_WIDTH: Final = 110
_MOST_COLUMN: Final = 32


def catalogue(found: Catalogue) -> Iterator[str]:
    """A line for each family: its name, what it is, and the part numbers that mean it."""
    width = max(len(family.name) for family in found.families)
    for family in found.families:
        numbers = f": {', '.join(_numbers(family))}" if _numbers(family) else ""
        yield f"{family.name.ljust(width)}  {family.title}{numbers}"


def _numbers(family: Family) -> list[str]:
    return [*family.names, *(name for grade in family.grades for name in grade.names)]


def text(sheet: Sheet, paint: Paint) -> Iterator[str]:
    """The sheet with its sections; the source of each figure stands below it."""
    family = sheet.family
    graded = f", grade {sheet.grade.name}" if sheet.grade else ""
    yield paint(f"{family.name}: {family.title}{graded}", "head")
    yield from _facts(sheet)
    for section in sections(sheet):
        yield ""
        yield paint(section.title, "head")
        yield from _section(section, paint)


def _facts(sheet: Sheet) -> Iterator[str]:
    family = sheet.family
    if family.names:
        yield from _wrapped("also called", ", ".join(family.names))
    grades = [grade for grade in family.grades if grade.name]
    if grades and sheet.grade is None:
        marks = [
            f"{grade.name} ({', '.join(grade.names)})" if grade.names else grade.name for grade in grades
        ]
        yield from _wrapped("grades, the strictest first", "; ".join(marks))
    modes = [mode.name for mode in family.modes if mode.name]
    if modes:
        yield from _wrapped("modes, the strictest first", ", ".join(modes))
    own = family.own_clock
    if own is not None:
        yield from _wrapped(
            "own clock",
            f"{own.name}, reckoned at {own.slowest.text()} if not stated; {own.evidence.text}"
            if own.slowest
            else f"{own.name}, to be stated as clock:",
        )


def _wrapped(title: str, words: str) -> list[str]:
    return textwrap.wrap(f"{title}: {words}", _WIDTH, subsequent_indent="    ", break_on_hyphens=False)


def _section(section: Section, paint: Paint) -> Iterator[str]:
    width = min(max(len(line.what) for line in section.lines), _MOST_COLUMN)
    for line in section.lines:
        said = "; ".join(word for word in (values(line.values), line.words) if word)
        whole = f"  {line.what.ljust(width)}  {said}" if said else f"  {line.what}"
        yield from textwrap.wrap(whole.rstrip(), _WIDTH, subsequent_indent="      ", break_on_hyphens=False)
        for below in _below(line):
            for row in textwrap.wrap(below, _WIDTH - 6, break_on_hyphens=False):
                yield paint(f"      {row}", "dim")


def _below(line: Line) -> Iterator[str]:
    evidence = line.evidence
    if evidence is not None:
        yield "; ".join(word for word in (evidence.text, evidence.condition) if word)
        if evidence.note:
            yield evidence.note


def values(found: Mapping[str, Value]) -> str:
    """The values in one line, each with its grade where they differ: "plain 1 MHz, A 1.5 MHz"."""
    return ", ".join(f"{grade} {value(one)}".strip() for grade, one in found.items())


def value(one: Value) -> str:
    """A clock, a time or words as they are read."""
    match one:
        case Clock() | Duration():
            return one.text()
        case str():
            return one


def lines(sheet: Sheet) -> Iterator[str]:
    """One line for each statement: family, section, what, values, source."""
    for section in sections(sheet):
        for line in section.lines:
            said = "; ".join(word for word in (values(line.values), line.words, *_below(line)) if word)
            yield f"{sheet.family.name}: {section.title}: {line.what}{': ' * bool(said)}{said}"
