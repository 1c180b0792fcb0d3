"""`margins`: how far each requirement is from breaking at each clock, and which gives first."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..chain import Chain, margins_of, paces_of
from ..quantity import Clock, Duration
from ..rules import Margin, Open
from . import pace_table
from .amount import Json, exact, seconds, strobes_json
from .pace_table import Paces
from .table import Paint, Row, Style, table

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True)
class MarginRow:
    """A requirement, and how many there are with the same cause; of those this is the one that gives first."""

    margin: Margin
    count: int


@dataclass(frozen=True, slots=True)
class BuildMargins:
    """The requirements of one build, what gives first with a rising clock first; `opens` are not known at any clock."""

    name: str
    source: str
    processor: str
    clocks: tuple[Clock, ...]
    rows: tuple[MarginRow, ...]
    opens: tuple[Open, ...]
    paces: Paces

    @property
    def unknown(self) -> int:
        """How many requirements may give before what is known does, or can't be worked out at all."""
        end = self.first.highest if self.first else None
        if self.first is not None and end is None:
            return len(self.opens)
        doubtful = [row for row in self.rows if row.margin.doubt and _ends(row.margin)]
        sooner = (row.count for row in doubtful if end is None or _hz(row.margin.highest) < end.hz)
        return len(self.opens) + sum(sooner)

    @property
    def first(self) -> Margin | None:
        """What gives first of all that is known when the clock rises; None where nothing does."""
        return next((row.margin for row in self.rows if not row.margin.doubt and _ends(row.margin)), None)

    @property
    def last(self) -> Margin | None:
        """What gives first when the clock falls; None where nothing does."""
        sure = [row.margin for row in self.rows if not row.margin.doubt and row.margin.lowest is not None]
        return max(sure, key=lambda margin: _hz(margin.lowest), default=None)


@dataclass(frozen=True, slots=True)
class Margins:
    """The report: one part for each build."""

    builds: tuple[BuildMargins, ...]


def margins(chain: Chain) -> BuildMargins:
    """The margins of a build at the clocks of its board. Raises SourceError where it has none."""
    found = margins_of(chain)
    opens = tuple(dict.fromkeys(each for each in found if isinstance(each, Open)))
    rows = sorted(_joined(each for each in found if isinstance(each, Margin)), key=_order)
    old = chain.board.written_for or next(iter(chain.board.clocks), None)
    return BuildMargins(
        chain.name,
        chain.request.source,
        chain.request.processor,
        chain.board.clocks,
        tuple(rows),
        opens,
        pace_table.paces(paces_of(chain), old),
    )


def _joined(found: Iterable[Margin]) -> Iterator[MarginRow]:
    """One row for each cause: the requirement that gives first, and how many places have it."""
    causes: dict[tuple[str, str, bool], dict[tuple[object, str], Margin]] = {}
    for margin in found:
        # The same place several times over is one requirement, its strictest.
        places = causes.setdefault((margin.kind, _whose(margin), bool(margin.doubt)), {})
        key = margin.place, margin.subject.split(" ")[0]
        places[key] = min(places.get(key, margin), margin, key=_strictness)
    for places in causes.values():
        yield MarginRow(min(places.values(), key=_strictness), len(places))


def _whose(margin: Margin) -> str:
    # Waits are each their own; a memory's paths and a part's grade belong to the one that is named.
    named = margin.subject.split(":")[0] if margin.kind in ("memory", "bus", "grade") else ""
    return margin.subject if margin.kind == "wait" else f"{named} {margin.cause}"


def _strictness(margin: Margin) -> tuple[bool, Fraction, Fraction]:
    highest, lowest = margin.highest, margin.lowest
    return (
        not margin.never,
        highest.hz if highest else Fraction(10**15),
        -(lowest.hz if lowest else Fraction(0)),
    )


def _order(row: MarginRow) -> tuple[tuple[bool, Fraction, Fraction], str, int, str]:
    place = row.margin.place
    return _strictness(row.margin), place.path, place.line, row.margin.subject


def _ends(margin: Margin) -> bool:
    return margin.never or margin.highest is not None


def _hz(clock: Clock | None) -> Fraction:
    return clock.hz if clock else Fraction(0)


# -- text ----------------------------------------------------------------------------------------------------


def text(report: Margins, paint: Paint) -> Iterator[str]:
    """A table for each build, a row for each requirement, a column for each clock; then what gives first."""
    for number, build in enumerate(report.builds):
        if number:
            yield ""
        title = build.source if build.name == build.source else f"{build.source}, build {build.name}"
        yield paint(f"{title}, {build.processor}", "head")
        yield ""
        head = (
            "kind",
            "requirement",
            "whose",
            "places",
            "where",
            *(c.text() for c in build.clocks),
            "from",
            "up to",
        )
        if build.rows:
            yield from table(head, [_row(row, build.clocks) for row in build.rows], paint)
        yield from pace_table.text(build.paces, build.clocks, paint)
        if build.rows or build.paces:
            yield ""
        for each in build.opens:
            yield f"unknown: {each.subject}: {each.reason}"
        yield from sentences(build)


def lines(report: Margins) -> Iterator[str]:
    """One line for each requirement and for each that is not known, then the sentences of each build."""
    for build in report.builds:
        for row in build.rows:
            margin = row.margin
            broken = any(margin.at(clock).seconds < 0 for clock in build.clocks)
            severity = "note" if margin.doubt or not broken else "error"
            cells = "; ".join(f"at {clock.text()} {cell(margin, clock)}" for clock in build.clocks)
            more = f"; {row.count} places" if row.count > 1 else ""
            more += f"; {margin.strobes.note()}" if margin.strobes else ""
            yield (
                f"{margin.place}: {severity}: margin: {margin.subject}; {margin.cause}; {cells}"
                f"{_holding(margin)}{more}"
            )
        yield from pace_table.lines(build.paces, build.clocks)
        for each in build.opens:
            yield f"{build.source}: note: margin: {each.subject}: unknown: {each.reason}"
        for sentence in sentences(build):
            yield f"{build.source}: note: margin: {sentence}"


def _row(row: MarginRow, clocks: Sequence[Clock]) -> Row:
    margin = row.margin
    cells = [cell(margin, clock) for clock in clocks]
    broken = [margin.at(clock).seconds < 0 for clock in clocks]
    style: Style = "note" if margin.doubt else "error" if any(broken) else ""
    lowest = margin.lowest.text(6, "up") if margin.lowest else ""
    highest = "never" if margin.never else margin.highest.text(6, "down") if margin.highest else ""
    if margin.stays and not margin.never:
        highest = "stays"
    where = f"{margin.place.path}:{margin.place.line}" if margin.place.line else str(margin.place)
    count = str(row.count) if row.count > 1 else ""
    unknown = (f"    unknown: {margin.doubt}",) if margin.doubt else ()
    strobes = (f"    {margin.strobes.note()}",) if margin.strobes else ()
    return Row(
        (margin.kind, margin.subject, margin.cause, count, where, *cells, lowest, highest),
        style,
        (*unknown, *strobes),
    )


def cell(margin: Margin, clock: Clock) -> str:
    """What is to spare, or missing, in time and per cent."""
    spare, share = margin.at(clock), margin.share(clock)
    if spare.seconds >= 0:
        return f"{spare.text(3, 'down')} ({_per_cent(share)} %)"
    if margin.doubt:
        return "unknown"
    ran = margin.tried is not None and clock <= margin.tried
    tried = ", tried, not rated" if ran else ""
    return f"short {(-spare).text(3, 'up')} ({_per_cent(-share)} %){tried}"


def _per_cent(share: Fraction) -> str:
    whole = share * 100
    return str(int(whole)) if whole >= 10 else f"{float(int(whole * 10)) / 10:g}"


def edges(margin: Margin) -> str:
    """Between which clocks it holds: "from 250 kHz up and up to 2 MHz"; empty where no clock is too slow or fast."""
    if margin.never:
        return "at no clock"
    parts = [f"from {margin.lowest.text(6, 'up')} up"] if margin.lowest else []
    parts += [f"up to {margin.highest.text(6, 'down')}"] if margin.highest else []
    return " and ".join(parts)


def _holding(margin: Margin) -> str:
    found = edges(margin)
    return f"; holds {found}" if found else ""


def sentences(build: BuildMargins) -> Iterator[str]:
    """What gives first with its file and line, and how far all that is known holds; nothing is ever called safe."""
    first, last = build.first, build.last
    if first is not None:
        highest = first.highest
        above = f"above {highest.text(6, 'down')}" if highest else "at every clock"
        yield f"first to give: {first.subject} ({first.place}), {above}: {first.cause}"
        if first.tried is not None:
            yield f"tried at {first.tried.text()}, not rated{_following(build, first)}"
    if last is not None and last.lowest is not None:
        yield f"too slow below {last.lowest.text(6, 'up')}: {last.subject} ({last.place}): {last.cause}"
    unknown = f"{build.unknown} requirement{'' if build.unknown == 1 else 's'} unknown"
    if not build.rows:
        yield f"no requirement is known; {unknown}"
    elif first is None:
        yield f"nothing known breaks at a faster clock; {unknown}"
    elif first.highest is None:
        yield f"holds at no clock by what is known; {unknown}"
    else:
        yield f"holds up to {first.highest.text(6, 'down')} by what is known; {unknown}"


def _following(build: BuildMargins, first: Margin) -> str:
    """What gives next among what was not tried at that clock."""
    others = (row.margin for row in build.rows if not row.margin.doubt and _ends(row.margin))
    rest = (each for each in others if each.tried is None or first.tried is None or each.tried < first.tried)
    found = next(rest, None)
    if found is None:
        return ""
    above = f"above {found.highest.text(6, 'down')}" if found.highest else "at every clock"
    return f"; next to give: {found.subject} ({found.place}), {above}: {found.cause}"


# -- JSON ----------------------------------------------------------------------------------------------------


def value(report: Margins) -> Json:
    """The report by shared/schemas/report-margins.json."""
    return {"schema_version": SCHEMA_VERSION, "builds": [_build(build) for build in report.builds]}


def _build(build: BuildMargins) -> Json:
    first = build.first
    return {
        "name": build.name,
        "source": build.source,
        "processor": build.processor,
        "clocks_hz": [exact(clock.hz) for clock in build.clocks],
        "holds_up_to_hz": exact(first.highest.hz) if first and first.highest else None,
        "unknown": build.unknown,
        "rows": [_json_row(row, build.clocks) for row in build.rows],
        "follows": pace_table.value(build.paces, build.clocks),
        "opens": [{"subject": each.subject, "reason": each.reason} for each in build.opens],
    }


def _json_row(row: MarginRow, clocks: Sequence[Clock]) -> Json:
    margin = row.margin
    return {
        "kind": margin.kind,
        "subject": margin.subject,
        "cause": margin.cause,
        "file": margin.place.path,
        "line": margin.place.line or None,
        "count": row.count,
        "doubt": margin.doubt or None,
        "tried_hz": exact(margin.tried.hz) if margin.tried else None,
        "cells": [_json_cell(margin, clock) for clock in clocks],
        "lowest_hz": exact(margin.lowest.hz) if margin.lowest else None,
        "highest_hz": exact(margin.highest.hz) if margin.highest else None,
        "never": margin.never,
        "strobe_distance": strobes_json(margin.strobes) if margin.strobes else None,
    }


def _json_cell(margin: Margin, clock: Clock) -> Json:
    spare: Duration = margin.at(clock)
    broken = spare.seconds < 0
    return {
        "clock_hz": exact(clock.hz),
        "verdict": "unknown" if broken and margin.doubt else "broken" if broken else "holds",
        **seconds("margin", spare),
        "per_cent": float(f"{float(margin.share(clock) * 100):.6g}"),
    }
