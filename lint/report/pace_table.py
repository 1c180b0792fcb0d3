"""The part of `margins` that says what follows the clock, what stays, and which number keeps it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..quantity import Clock
from ..rules import Pace, Unfollowed
from .amount import Json, exact, seconds
from .table import Paint, Row, table

_EACH_MOST = 3  # rows of one output; a tune has many


@dataclass(frozen=True, slots=True)
class PaceRow:
    """What follows, and how many more there are of the same output that this one stands for."""

    pace: Pace
    more: int


@dataclass(frozen=True, slots=True)
class Paces:
    """All that follows the clock, or is said to stay; `old` is the clock at which it is as it is meant to be."""

    rows: tuple[PaceRow, ...]
    unknown: tuple[Unfollowed, ...]
    old: Clock | None


def paces(found: Iterable[Pace | Unfollowed], old: Clock | None) -> Paces:
    """The rows of a build: of an output with many numbers the first few."""
    all_ = list(found)
    by_name: dict[str, list[Pace]] = {}
    for each in all_:
        if isinstance(each, Pace):
            by_name.setdefault(each.name, []).append(each)
    rows = [
        PaceRow(pace, len(own) - _EACH_MOST if number == _EACH_MOST - 1 and len(own) > _EACH_MOST else 0)
        for own in by_name.values()
        for number, pace in enumerate(own[:_EACH_MOST])
    ]
    unknown = {
        (each.part.name, each.output.name, each.reason): each for each in all_ if isinstance(each, Unfollowed)
    }
    return Paces(tuple(rows), tuple(unknown.values()), old)


def text(found: Paces, clocks: tuple[Clock, ...], paint: Paint) -> Iterator[str]:
    """What moves as a table, then a line for each that stays."""
    moving = [row for row in found.rows if not row.pace.stays]
    if moving:
        yield ""
        yield paint("follows the clock (in brackets the number that keeps it)", "head")
        yield ""
        head = ("kind", "what", "number", "where", *(clock.text() for clock in clocks))
        yield from table(head, [_row(row, found.old, clocks) for row in moving], paint)
    staying = [row for row in found.rows if row.pace.stays]
    if staying and clocks:
        yield ""
        for row in staying:
            pace = row.pace
            yield f"stays: {pace.name} {pace.said(clocks[0])} ({pace.place}), at every bus clock{more(row)}"


def _row(row: PaceRow, old: Clock | None, clocks: tuple[Clock, ...]) -> Row:
    pace = row.pace
    cells = [at_clock(pace, old, clock) for clock in clocks]
    where = f"{pace.place.path}:{pace.place.line}"
    below = (f"    and {row.more} more of it",) if row.more else ()
    return Row((pace.kind, pace.name, pace.number, where, *cells), "", below)


def at_clock(pace: Pace, old: Clock | None, clock: Clock) -> str:
    """What it is at a clock, in brackets the number that keeps it."""
    kept = "" if old is None or old == clock else pace.keeping(old, clock)
    return f"{pace.said(clock)} ({kept})" if kept else pace.said(clock)


def more(row: PaceRow) -> str:
    """How many more of it there are, where there are any."""
    return f"; {row.more} more of it" if row.more else ""


def lines(found: Paces, clocks: tuple[Clock, ...]) -> Iterator[str]:
    """One line for each."""
    for row in found.rows:
        pace = row.pace
        if pace.stays:
            yield f"{pace.place}: note: stays: {pace.name} {pace.said(clocks[0])}{more(row)}"
            continue
        cells = ", ".join(f"{at_clock(pace, found.old, clock)} at {clock.text()}" for clock in clocks)
        number = f" with {pace.number}" if pace.number else ""
        yield f"{pace.place}: note: follows: {pace.name}{number}: {cells}{more(row)}"


def value(found: Paces, clocks: tuple[Clock, ...]) -> list[Json]:
    """The rows by shared/schemas/report-margins.json."""
    return [
        {
            "kind": row.pace.kind,
            "name": row.pace.name,
            "number": row.pace.number or None,
            "file": row.pace.place.path,
            "line": row.pace.place.line or None,
            "more": row.more,
            "stays": row.pace.stays,
            "cells": [
                {
                    "clock_hz": exact(clock.hz),
                    **seconds("lasts", row.pace.at(clock)),
                    "said": row.pace.said(clock),
                    "keeps": (row.pace.keeping(found.old, clock) or None) if found.old is not None else None,
                }
                for clock in clocks
            ],
        }
        for row in found.rows
    ]
