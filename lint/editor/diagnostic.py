"""Findings as an editor shows them: at the statement they speak of, with the way that led there."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import Place
from ..report.check import FindingRow
from ..rules import Severity
from ..source import Source, Span, Statement
from .analysis import Analysis
from .position import Encoding, Position, Range, span_range

_AT_LINE = re.compile(r"(?P<path>.+?):(?P<line>[0-9]+): (?P<text>.*)")


@dataclass(frozen=True, slots=True)
class Location:
    """A range in a file."""

    path: str
    range: Range


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One finding at one range; `related` are the lines on the way to it, `notes` what else is known."""

    range: Range
    severity: Severity
    name: str
    message: str
    notes: tuple[str, ...] = ()
    related: tuple[tuple[Location, str], ...] = ()


def diagnostics(analysis: Analysis, encoding: Encoding) -> Mapping[str, tuple[Diagnostic, ...]]:
    """What to show in each file, by path; every file that was read is there, be it with nothing."""
    found: dict[str, list[Diagnostic]] = {path: [] for path in analysis.sources}
    report = analysis.report
    for row in report.findings if report else ():
        path = os.path.realpath(row.finding.place.path)
        found.setdefault(path, []).append(_of_row(analysis, row, encoding))
    for build in report.builds if report else ():
        if build.too_little:
            place = Place(build.source)
            found.setdefault(os.path.realpath(build.source), []).append(
                Diagnostic(
                    line_range(analysis, place, encoding), "error", "too-little-understood", build.too_little
                )
            )
    for fault in analysis.faults:
        place = fault.place or Place(analysis.name)
        made = Diagnostic(line_range(analysis, place, encoding), "error", "not-run", fault.message)
        found.setdefault(os.path.realpath(place.path), []).append(made)
    return {path: tuple(each) for path, each in found.items()}


def _of_row(analysis: Analysis, row: FindingRow, encoding: Encoding) -> Diagnostic:
    finding = row.finding
    notes: list[str] = []
    related: list[tuple[Location, str]] = []
    for note in finding.notes:
        found = _AT_LINE.fullmatch(note)
        path = os.path.realpath(found["path"]) if found else ""
        if found and path in analysis.sources:
            where = line_range(analysis, Place(path, int(found["line"])), encoding)
            related.append((Location(path, where), found["text"]))
        else:
            notes.append(note)
    report = analysis.report
    if report is not None and len(row.builds) < len(report.builds):
        notes.append(f"in {'build' if len(row.builds) == 1 else 'builds'} {', '.join(row.builds)}")
    where = line_range(analysis, finding.place, encoding)
    return Diagnostic(where, finding.severity, finding.name, finding.message, tuple(notes), tuple(related))


def line_range(analysis: Analysis, place: Place, encoding: Encoding) -> Range:
    """The statement at a place, without its comment; the place itself where the file was not read as a source."""
    source = analysis.sources.get(os.path.realpath(place.path))
    if source is None or not 0 < place.line <= len(source.statements):
        start = Position(max(place.line - 1, 0), max(place.column - 1, 0))
        return Range(start, start)
    return span_range(source, code_span(source, source.statements[place.line - 1], place.column), encoding)


def code_span(source: Source, statement: Statement, column: int = 0) -> Span:
    """A statement's text from a column on (its first field for 0) up to its comment."""
    fields = [f for f in (statement.label, statement.operation, statement.operand) if f is not None]
    if not fields:
        fields = [statement.comment or statement.whole]
    start = statement.whole.start + column - 1 if column else fields[0].start
    end = max(fields[-1].end, start)
    text = source.data[start:end]
    return Span(start, start + max(len(text.rstrip()), 0))
