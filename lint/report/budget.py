"""`budget`: the sums of access time of a board's memories, with a line for every term and its source."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from pathlib import Path as File

from ..board import Board, Budget, BusNeed, NotGiven, Path, budgets, bus_needs, not_given
from ..errors import Place
from ..quantity import Clock, Duration
from .amount import Json, exact, seconds
from .table import Paint, Row, Style, table

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True)
class Sums:
    """The budgets of a board at each of its clocks, as its project file `path` states it.

    `needs` are those of its parts, `lacking` what of them nothing published can be compared with.
    """

    path: File
    processor: str
    budgets: tuple[Budget, ...]
    clocks: tuple[Clock, ...]
    needs: tuple[BusNeed, ...]
    lacking: tuple[NotGiven, ...]


def sums(path: File, board: Board) -> Sums:
    """The report: every memory with a part, at every clock of the board, the fastest each can be; then the parts."""
    clocks = tuple(clock.fastest for clock in board.clocks)
    found = tuple(budget for clock in clocks for budget in budgets(board, clock))
    return Sums(path, board.processor, found, clocks, tuple(bus_needs(board)), tuple(not_given(board)))


def text(report: Sums, paint: Paint) -> Iterator[str]:
    """A table for each path: a row for each term, what is left behind it, and its source."""
    if not report.budgets and not report.needs:
        yield f"{report.path}: no memory with a part to add up; write part: and grade: under memory:"
    for number, budget in enumerate(report.budgets):
        if number:
            yield ""
        area = budget.area
        yield paint(f"{area.name} at {budget.clock.text()}: {verdict(budget)}", "head")
        for path in budget.paths:
            yield ""
            yield from table((f"{path.kind} path", "time", "left", "source"), list(rows(path)), paint)
        for unsummed in budget.unsummed:
            yield f"{unsummed.kind} path: not added up; {unsummed.reason}"

    yield from _parts_text(report, paint)


def _parts_text(report: Sums, paint: Paint) -> Iterator[str]:
    """A table of what the parts on the bus need, a column for each clock; what is not known behind it."""
    if report.needs:
        if report.budgets:
            yield ""
        yield paint("parts on the bus: what is to spare of each need, by clock", "head")
        yield ""
        head = ("part", "need", "of", *(clock.text() for clock in report.clocks), "up to", "source")
        yield from table(head, [_need_row(need, report.clocks) for need in report.needs], paint)
    for lacking in report.lacking:
        yield _unknown_need(lacking)


def _need_row(need: BusNeed, clocks: Sequence[Clock]) -> Row:
    spares = [_spare(need, clock) for clock in clocks]
    cells = [_shown(spare) if spare.seconds >= 0 else f"short {_shown(-spare)}" for spare in spares]
    style: Style = "error" if any(spare.seconds < 0 for spare in spares) else "good"
    ends = _fastest(need)
    said = (need.name, need.subject, f"{need.whose} {_shown(need.needed)}")
    return Row((*said, *cells, ends.text(6, "down") if ends else "", need.given.text), style)


def _spare(need: BusNeed, clock: Clock) -> Duration:
    return Duration(need.cycles / clock.hz + need.fixed.seconds - need.needed.seconds)


def _fastest(need: BusNeed) -> Clock | None:
    fixed = need.needed.seconds - need.fixed.seconds
    return Clock(need.cycles / fixed) if need.cycles and fixed > 0 else None


def _unknown_need(lacking: NotGiven) -> str:
    needs = ", ".join(lacking.subjects)
    given = f"no source says what the {lacking.processor} gives in an access of a port"
    return f"{lacking.name}: {needs}: not compared; {given}"


def lines(report: Sums) -> Iterator[str]:
    """One line for each path, and for each need of a part at each clock."""
    for budget in report.budgets:
        place = _place(budget)
        for path in budget.paths:
            severity = "note" if path.margin.seconds >= 0 else "warning"
            yield f"{place}: {severity}: budget: {budget.area.name} at {budget.clock.text()}: {_said(path)}"
        for unsummed in budget.unsummed:
            yield f"{place}: note: budget: {budget.area.name}: {unsummed.kind} path not added up; {unsummed.reason}"

    for need in report.needs:
        for clock in report.clocks:
            spare = _spare(need, clock)
            severity = "note" if spare.seconds >= 0 else "warning"
            has = f"{_shown(spare)} to spare" if spare.seconds >= 0 else f"{_shown(-spare)} short"
            yield (
                f"{need.place}: {severity}: budget: {need.name} at {clock.text()}: {need.subject}, "
                f"{need.whose} needs {_shown(need.needed)}: {has}"
            )
    for lacking in report.lacking:
        yield f"{report.path}: note: budget: {_unknown_need(lacking)}"


def value(report: Sums) -> Json:
    """The report by shared/schemas/report-budget.json."""
    return {
        "schema_version": SCHEMA_VERSION,
        "project": str(report.path),
        "processor": report.processor,
        "budgets": [_budget(budget) for budget in report.budgets],
        "parts": [_need(need, report.clocks) for need in report.needs],
        "parts_unknown": [
            {"part": lacking.name, "needs": list(lacking.subjects)} for lacking in report.lacking
        ],
    }


def _need(need: BusNeed, clocks: Sequence[Clock]) -> Json:
    ends = _fastest(need)
    return {
        "part": need.name,
        "need": need.subject,
        "file": need.place.path,
        "line": need.place.line,
        **seconds("needed", need.needed),
        "needed_source": need.evidence.text,
        "given_source": need.given.text,
        "cells": [
            {"clock_hz": exact(clock.hz), **seconds("margin", _spare(need, clock))} for clock in clocks
        ],
        "holds_up_to_hz": exact(ends.hz) if ends else None,
    }


def verdict(budget: Budget) -> str:
    """What the tightest path says in one line; what was tried is said, and never counts as holding."""
    path = budget.tightest
    if path is None:
        return "nothing to judge by"
    tried = f"; tried at {budget.area.tried.text()}, not rated" if budget.area.tried else ""
    unknown = len(budget.unsummed)
    known = f" by what is known; {unknown} unknown" if unknown else ""
    return f"{_said(path)}{known}{tried}"


def _said(path: Path) -> str:
    has = f"{path.kind} path has {_shown(path.left)}, {path.whose} needs {_shown(path.needed)}"
    holds = f"holds up to {path.fastest.text(6, 'down')}"
    if path.margin.seconds < 0:
        return f"{has}: {(-path.margin).text(4, 'up')} short; {holds}"
    return f"{has}: {path.margin.text(4, 'down')} to spare; {holds}"


def rows(path: Path) -> Iterator[Row]:
    """A row for each term of a sum with what is left behind it, and one for what the memory needs."""
    left = Fraction(0)
    for term in path.terms:
        left += term.time.seconds
        yield Row((term.text, _shown(term.time), _shown(Duration(left)), term.source))
    style: Style = "good" if path.margin.seconds >= 0 else "error"
    yield Row((f"{path.whose} needs", _shown(-path.needed), _shown(path.margin), path.source), style)


def _shown(time: Duration) -> str:
    """A time in nanoseconds, as the sheets have it; what there is of it is never rounded up."""
    nanoseconds = time.seconds * 10**9
    rounded = Fraction(floor(nanoseconds * 100), 100)
    return f"{int(rounded)} ns" if rounded.denominator == 1 else f"{float(rounded):g} ns"


def _place(budget: Budget) -> Place:
    return budget.area.place


def _budget(budget: Budget) -> Json:
    area = budget.area
    return {
        "memory": area.name,
        "file": area.place.path,
        "line": area.place.line,
        "clock_hz": exact(budget.clock.hz),
        "tried_hz": exact(area.tried.hz) if area.tried else None,
        "paths": [_path(path) for path in budget.paths],
        "unknown": [{"path": each.kind, "reason": each.reason} for each in budget.unsummed],
    }


def _path(path: Path) -> Json:
    return {
        "path": path.kind,
        "part": path.whose,
        "terms": [
            {"text": term.text, **seconds("time", term.time), "source": term.source} for term in path.terms
        ],
        **seconds("left", path.left),
        **seconds("needed", path.needed),
        "needed_source": path.source,
        **seconds("margin", path.margin),
        "holds_up_to_hz": exact(path.fastest.hz),
    }
