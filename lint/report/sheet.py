"""A family of parts as a sheet to read at the bench: its sections, each line with its values and where they stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from ..board import Evidence, Family, Grade, Mode, Number, Operation, Output, Register
from ..board.part import Amount, BitTimes, Fixed, Given, LimitRow, OwnClocks, Pattern, Poll
from ..quantity import Clock, Duration

Value = Clock | Duration | str


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All families, to choose from."""

    families: tuple[Family, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One family; with `grade` only what is true of that grade is shown."""

    family: Family
    grade: Grade | None


@dataclass(frozen=True, slots=True)
class Line:
    """One statement about a part: what, its values by grade (one under "" where all grades have the same), and why.

    `evidence` is None for what is no figure, such as a port. `words` say what else must be true.
    """

    what: str
    values: Mapping[str, Value]
    words: str = ""
    evidence: Evidence | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """Lines of one kind under their title."""

    title: str
    lines: tuple[Line, ...]


def sections(sheet: Sheet) -> Iterator[Section]:
    """The sections of a sheet that have a line, in the order in which they are read."""
    family = sheet.family
    found = {
        "ports": [Line(port.name, {"": _port(port.offset, port.size)}) for port in family.ports],
        "lines": [Line(name, {}) for name in family.lines],
        "operations": [Line(row.name, {"": _operation(row)}) for row in family.operations],
        "groups": [
            Line(name, {"": ", ".join(row.name for row in family.operations if row.name in members)})
            for name, members in family.groups.items()
        ],
        "pairs": list(_pair(family)),
        "modes, followed by what is written": [
            Line(mode.name, {"": _when(mode)}, "", mode.evidence) for mode in family.set_by_writes
        ],
        "polls": [Line(poll.name, {"": _poll(poll)}, "", poll.evidence) for poll in family.polls],
        "limits, judged by check": list(_limits(sheet)),
        "clock ratings, judged by check": list(_ratings(sheet)),
        "bus times": list(_bus_times(sheet)),
        "figures, shown only": list(_figures(sheet)),
        "registers": [Line(row.name, {"": _register(row)}) for row in family.registers],
        "follows a clock, judged by check": list(_outputs(sheet)),
        "formulas": list(_remarks(sheet, formulas=True)),
        "cautions": list(_remarks(sheet, formulas=False)),
    }
    for title, lines in found.items():
        if lines:
            yield Section(title, tuple(lines))


def _port(offset: int, size: int) -> str:
    return f"+{offset}" if size == 1 else f"+{offset} to +{offset + size - 1}"


def _operation(row: Operation) -> str:
    if row.direction == "reset":
        return "power coming on"
    if row.direction in ("rise", "fall"):
        return f"{row.port} {row.direction}s"
    bits = f", value %{_bits(row.pattern)}" if row.pattern.mask else ""
    place = f", {row.place} of a pair" if row.place else ""
    return f"{row.direction} {row.port}{bits}{place}{', half a byte' * row.half}"


def _bits(pattern: Pattern) -> str:
    return "".join(
        str(pattern.match >> bit & 1) if pattern.mask >> bit & 1 else "x" for bit in range(7, -1, -1)
    )


def _poll(poll: Poll) -> str:
    ready = "as last written" if poll.ready is None else f"${poll.ready:02X}"
    return f"{poll.port} and ${poll.mask:02X} reads {ready}"


def _pair(family: Family) -> Iterator[Line]:
    pair = family.pair
    if pair is not None:
        again = f"; a first one again after {', '.join(pair.restarts)}" if pair.restarts else ""
        alone = f"; %{_bits(pair.single)} stands alone" if pair.single else ""
        yield Line(f"{pair.direction} {pair.port}", {"": f"two and two{alone}{again}"}, "", pair.evidence)


def _limits(sheet: Sheet) -> Iterator[Line]:
    family = sheet.family
    for row in family.limits:
        values = _chosen(sheet, {name: _amount(amount, family) for name, amount in row.amounts.items()})
        if values:
            bound = "at most" if row.kind == "max_gap" else "at least"
            what = f"{_named(family, row.first)} to {_named(family, row.then)}, {bound}"
            yield Line(what, values, _conditions(family, row), row.evidence)


def _amount(amount: Amount, family: Family) -> Value:
    match amount:
        case Fixed(duration):
            return duration
        case OwnClocks(count):
            own = family.own_clock
            periods = f"{_number(count)} periods of the {own.name if own else 'own clock'}"
            return (
                f"{own.slowest.duration(count).text(3, 'up')}, {periods}" if own and own.slowest else periods
            )
        case BitTimes(count):
            return f"{_number(count)} bit times"
    assert_never(amount)


def _number(count: Fraction) -> str:
    return str(count.numerator) if count.denominator == 1 else f"{float(count):.6g}"


def _named(family: Family, members: frozenset[str]) -> str:
    """The operations by their group if they are just one, else one by one."""
    for name, group in family.groups.items():
        if group == members:
            return name
    return " or ".join(row.name for row in family.operations if row.name in members)


def _conditions(family: Family, row: LimitRow) -> str:
    modes = [mode.name for mode in family.modes if mode.name in row.modes]
    stated = "in mode " + " or ".join(modes) if len(modes) < len(family.modes) else ""
    provided = f"if {row.provided}" if row.provided else ""
    poll = f"or {row.poll} is polled" if row.poll else ""
    return ", ".join(word for word in (stated, provided, poll) if word)


def _ratings(sheet: Sheet) -> Iterator[Line]:
    for row in sheet.family.ratings:
        if values := _chosen(sheet, row.clocks):
            name = sheet.family.own_clock.name if sheet.family.own_clock else row.subject
            subject = row.subject if row.subject == "bus clock" else name
            yield Line(f"{subject} at {row.bound}", values, "", row.evidence)


def _bus_times(sheet: Sheet) -> Iterator[Line]:
    for row in sheet.family.bus_times:
        if values := _chosen(sheet, row.times):
            yield Line(f"{row.subject} at {row.bound}", values, "", row.evidence)


def _figures(sheet: Sheet) -> Iterator[Line]:
    for row in sheet.family.figures:
        if values := _chosen(sheet, row.values):
            bound = "" if row.bound == "is" else f" at {row.bound}"
            yield Line(f"{row.name}{bound}", values, "", row.evidence)


def _register(row: Register) -> str:
    at = "" if row.at is None else f" +{row.at}"
    bits = f", value %{_bits(row.pattern)}" if row.pattern.mask else ""
    behind = f", behind {', '.join(each.register for each in row.behind)}" if row.behind else ""
    takes = f", gets what {row.takes} holds" if row.takes else ""
    return f"write {' or '.join(row.ports)}{at}{bits}{_given(row.given)}{behind}{takes}"


def _when(mode: Mode) -> str:
    return " or ".join(" and ".join(f"{g.register} %{_bits(g.pattern)}" for g in way) for way in mode.when)


def _given(given: tuple[Given, ...]) -> str:
    return "".join(f", {each.register} %{_bits(each.pattern)}" for each in given)


def _outputs(sheet: Sheet) -> Iterator[Line]:
    for row in sheet.family.outputs:
        if sheet.grade is None or sheet.grade.name in row.grades:
            what = {"rate": "a bit is", "time": "lasts", "tone": "a wave is"}[row.kind]
            numbers = "; ".join(_made_of(made) for made in row.numbers)
            pin = f", leaves by {row.pin}" if row.pin not in ("", row.name) else ""
            text = f"{what} {row.periods.text} periods of {_counted(row)}{_given(row.given)}{pin}"
            yield Line(row.name, {"": text}, numbers, row.evidence)


def _counted(row: Output) -> str:
    if row.clock == "input":
        return f"input {row.input}"
    return f"the {row.clock}" + (f", or of input {row.input} if stated" if row.input else "")


def _made_of(made: Number) -> str:
    zero = f", 0 is {made.zero}" if made.zero is not None else ""
    return f"{made.name} in {' and '.join(made.bits)}{zero}"


def _remarks(sheet: Sheet, formulas: bool) -> Iterator[Line]:
    family = sheet.family
    for remark in family.formulas if formulas else family.cautions:
        if sheet.grade is None or sheet.grade.name in remark.grades:
            every = len(remark.grades) == len(family.grades)
            words = (
                "" if every else f"for {', '.join(g.name for g in family.grades if g.name in remark.grades)}"
            )
            yield Line(remark.text, {}, words, remark.evidence)


def _chosen(sheet: Sheet, values: Mapping[str, Value]) -> Mapping[str, Value]:
    """The value of the sheet's grade, one for all grades where all have the same, else each with its grade."""
    if sheet.grade is not None:
        return {"": values[sheet.grade.name]} if sheet.grade.name in values else {}
    if len(values) == len(sheet.family.grades) and len(set(values.values())) == 1:
        return {"": next(iter(values.values()))}
    return values
