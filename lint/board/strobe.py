"""What the bus gives each part for an access, against what the part's sheet needs: strobes, set-up, delay and hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ..address import is_port
from ..errors import Place
from ..quantity import Clock, Duration
from .board import Board
from .budget import time_of
from .part import BusGiven, BusTimeSubject, Evidence, Family, Grade
from .placed import Part


@dataclass(frozen=True, slots=True)
class BusNeed:
    """A time that a part needs on the bus, and what it gets: so many `cycles` of the clock, and `fixed`, below zero
    where the processor takes that off."""

    name: str
    whose: str
    subject: BusTimeSubject
    needed: Duration
    cycles: Fraction
    fixed: Duration
    stated: bool
    tried: Clock | None
    place: Place
    evidence: Evidence
    given: Evidence


def bus_needs(board: Board) -> Iterator[BusNeed]:
    """What every part and memory with a sheet needs of the bus, where the processor's sheet says what it gives.

    A term that is not known for the grade of the processor leaves the need out.
    """
    processor, grade = board.processor_family, board.processor_grade
    if processor is None or grade is None:
        return
    for part in board.parts:
        # A part that a program drives by the bits of a port is given its times by the program.
        if not part.driven:
            given = processor.port_given if _in_ports(part) else processor.bus_given
            yield from _needs(processor, grade, given, _standing(part))
    for area in board.areas:
        if area.kind == "ram" and area.family is not None and area.grade is not None:
            yield from _needs(
                processor,
                grade,
                processor.bus_given,
                _Standing(
                    area.name, area.family, area.grade, area.grade_stated, area.waits, area.tried, area.place
                ),
            )


@dataclass(frozen=True, slots=True)
class NotGiven:
    """What a part in port space needs of the bus of which no sheet says how much it gets; `subjects` are the needs."""

    name: str
    subjects: tuple[BusTimeSubject, ...]
    processor: str


def not_given(board: Board) -> Iterator[NotGiven]:
    """The needs of parts in port space that can't be compared, as nothing is published of such an access."""
    processor, grade = board.processor_family, board.processor_grade
    for part in board.parts:
        if part.driven or not _in_ports(part):
            continue
        known: set[BusTimeSubject] = set()
        if processor is not None and grade is not None:
            known = {g.subject for g in processor.port_given if _fixed(processor, grade, g) is not None}
        needed = {row.subject for row in part.family.bus_times if part.grade.name in row.times}
        missing = tuple(subject for subject in _IN_AN_ACCESS if subject in needed - known)
        if missing:
            yield NotGiven(part.name, missing, board.processor)


# Needs that every access has, and that a faster clock can take away.
_IN_AN_ACCESS: Final[tuple[BusTimeSubject, ...]] = (
    "access time",
    "read delay",
    "strobe width",
    "write set-up",
)


def _in_ports(part: Part) -> bool:
    return any(is_port(address) for address in part.ports.values())


def _standing(part: Part) -> _Standing:
    return _Standing(
        part.name, part.family, part.grade, part.grade_stated, part.waits, part.tried, part.place
    )


@dataclass(frozen=True, slots=True)
class _Standing:
    """Something on the bus: a part, or a memory that is written."""

    name: str
    family: Family
    grade: Grade
    stated: bool
    waits: int
    tried: Clock | None
    place: Place


def _needs(
    processor: Family, grade: Grade, given: tuple[BusGiven, ...], each: _Standing
) -> Iterator[BusNeed]:
    for gives in given:
        fixed = _fixed(processor, grade, gives)
        rows = [
            row
            for row in each.family.bus_times
            if row.subject == gives.subject and each.grade.name in row.times
        ]
        if fixed is None or not rows:
            continue
        row = max(rows, key=lambda row: row.times[each.grade.name])
        # A wait state lengthens what the clock makes, not what stays.
        waits = each.waits if gives.cycles and gives.subject in _IN_AN_ACCESS else 0
        yield BusNeed(
            name=each.name,
            whose=each.grade.names[0] if each.grade.names else each.family.name,
            subject=gives.subject,
            needed=row.times[each.grade.name],
            cycles=gives.cycles + waits,
            fixed=fixed,
            stated=each.stated,
            tried=each.tried,
            place=each.place,
            evidence=row.evidence,
            given=gives.evidence,
        )


def _fixed(processor: Family, grade: Grade, gives: BusGiven) -> Duration | None:
    """What stays of the sum when the clock changes; None where a term is not known for the grade."""
    total = Fraction(0)
    for sign, names in ((-1, gives.less), (1, gives.plus)):
        for name in names:
            found = time_of(processor, name, grade)
            if found is None:
                return None
            total += sign * found[0].seconds
    return Duration(total)
