"""`cycles` for people: the source as it stands, its cycles at the right edge, and sums under what they sum up."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from ..quantity import Clock
from ..timing import Exact, Total, Unknown
from ..visible import visible
from .amount import bounds, cycles_text, detail, time_text
from .cycles import BuildCycles, Cycles, FileCycles, LoopLines, rails
from .table import Paint, Style

_PAGE: Final = 120  # columns where no terminal says how many it has
_LEAST: Final = 20
_STYLES: Final[dict[str, Style]] = {"loop": "note", "routine": "head"}

_LEGEND: Final = {
    "/": "2/3: cycles of a branch, call or return not taken/taken",
    "..": "4..6: fewest and most, as far as the text tells",
    "+": "5+: at least; nothing bounds it",
    "(": "(12): what a macro puts there, with branches: each instruction counted once",
    "?": "?: not understood",
    "called": "+13925: what is called there takes by itself",
    "|": "|: goes round; its turns and cycles stand under its last line",
}


@dataclass(frozen=True, slots=True)
class Sum:
    """What stands under the last line of a loop or routine; `reason` says why its total is not known."""

    of: Literal["loop", "routine"]
    words: str
    figure: str
    reason: str


@dataclass(frozen=True, slots=True)
class _Row:
    """A line to print with its figures: a line of source, or a sum at the right edge of the text."""

    text: str
    figure: str
    rails: str
    called: str = ""
    sum: Sum | None = None


def text(report: Cycles, paint: Paint) -> Iterator[str]:
    """Each file of each build with its figures, then what the marks mean that stand in it."""
    used: dict[str, None] = {}
    for number, build in enumerate(report.builds):
        for place, file in enumerate(build.files):
            if number or place:
                yield ""
            yield paint(_title(build, file), "head")
            yield ""
            rows = list(_rows(build, file))
            used |= dict.fromkeys(mark for row in rows for mark in _marks(row))
            yield from _set(rows, report.columns, paint)
    if used:
        yield ""
    yield from (paint(words, "dim") for mark, words in _LEGEND.items() if mark in used)


def lines(report: Cycles) -> Iterator[str]:
    """One line that stands alone for each line of source that takes time, and for each loop and routine."""
    for build in report.builds:
        for file in build.files:
            path = file.source.name
            for line in sorted(file.taken.keys() | file.unread):
                name, total = file.called.get(line, ("", None))
                calls = f"; {name} takes {cycles_text(total)}" if total else ""
                yield f"{path}:{line}: note: cycles: {figure(file, line)}{calls}"
            for loop in file.loops:
                words = f"loop {loop.name}: {account(loop)}: {said(loop.total, build.clocks)}"
                yield f"{path}:{loop.first}: note: cycles: {words}"
            for routine in file.routines:
                words = f"{routine.name}: {said(routine.total, build.clocks)}"
                yield f"{path}:{routine.first}: note: cycles: {words}"


def figure(file: FileCycles, line: int) -> str:
    """What a line takes: "5", "2/3" not taken and taken, "4..6", "5+" without a bound, "?" where not understood."""
    taken = file.taken.get(line)
    if line in file.unread:
        return "?"
    if taken is None:
        return ""
    way = _span(taken.fewest, taken.most)
    both = f"{_span(*taken.passed)}/{way}" if taken.passed else way
    return f"({both})" if taken.several else both


def called(file: FileCycles, line: int) -> str:
    """What the routine called in a line takes by itself: "+13925"; empty where there is no call, or it is not known."""
    return f"+{cycles_text(file.called[line][1])}" if line in file.called else ""


def account(loop: LoopLines) -> str:
    """What a loop's total is made of: "11519 turns x 8", "256 turns x 13 - 5", "35 turns"."""
    if loop.even is None:
        return _turns(loop.trips)
    rest = "" if not loop.even.rest else f" {'+' if loop.even.rest > 0 else '-'} {abs(loop.even.rest)}"
    return f"{_turns(Exact(loop.even.turns))} x {loop.even.cycles}{rest}"


def _turns(trips: Total) -> str:
    if bounds(trips)[1] is None:
        return "turns unknown"
    return f"{cycles_text(trips)} turn{'' if trips == Exact(1) else 's'}"


def _span(fewest: int, most: int | None) -> str:
    if most is None:
        return f"{fewest}+"
    return str(fewest) if fewest == most else f"{fewest}..{most}"


def said(total: Total, clocks: Sequence[Clock]) -> str:
    """A total in full: "13925 cycles, 15.1096 ms at 921.6 kHz", and behind it why it is unknown."""
    taken = cycles_text(total)
    if isinstance(total, Unknown):
        taken = f"at least {total.fewest}"
    more = detail(total)
    return f"{taken} cycles{_times(total, clocks)}{'; ' if more else ''}{more}"


def _times(total: Total, clocks: Sequence[Clock]) -> str:
    return "".join(f", {time} at {clock.text()}" for clock in clocks if (time := time_text(total, clock)))


def _title(build: BuildCycles, file: FileCycles) -> str:
    name = "" if build.name == build.source else f", build {build.name}"
    at = f" at {', '.join(clock.text() for clock in build.clocks)}" if build.clocks else ""
    return f"{file.source.name}{name}, {build.processor}{at}"


def shown(file: FileCycles, line: int) -> str:
    """A line of the source as it stands, without its end, tabs made blanks."""
    span = file.source.lines[line - 1]
    return visible(file.source.of(span).rstrip("\r\n")).expandtabs(8)


def sums(file: FileCycles, clocks: Sequence[Clock]) -> dict[int, list[Sum]]:
    """What stands under each line: inner loops before outer ones, a routine behind its loops."""
    under: dict[int, list[Sum]] = {}
    for loop in sorted(file.loops, key=lambda loop: loop.last - loop.first):
        words = account(loop) + (" =" if loop.even else "")
        under.setdefault(loop.last, []).append(_sum("loop", f"loop {loop.name}", words, loop.total, clocks))
    for routine in file.routines:
        under.setdefault(routine.last, []).append(_sum("routine", routine.name, "", routine.total, clocks))
    return under


def _sum(of: Literal["loop", "routine"], name: str, words: str, total: Total, clocks: Sequence[Clock]) -> Sum:
    figures = cycles_text(total)
    if isinstance(total, Unknown):
        # Nothing takes less than no cycles: that is no knowledge.
        words, figures = "", f"{total.fewest}+" if total.fewest else ""
    return Sum(of, f"{name}{_times(total, clocks)}{': ' if words else ''}{words}", figures, detail(total))


# -- rows ----------------------------------------------------------------------------------------------------


def _rows(build: BuildCycles, file: FileCycles) -> Iterator[_Row]:
    drawn = tuple(rails(file.loops))
    under = sums(file, build.clocks)
    for line in range(1, len(file.source.lines) + 1):
        inside = [
            column
            for column, loop in drawn
            if line in loop.lines or (loop.first < line < loop.last and line not in file.taken)
        ]
        yield _Row(shown(file, line), figure(file, line), _bars(inside), called(file, line))
        ending = sorted((c for c, loop in drawn if loop.last == line), reverse=True)
        still = {column for column, loop in drawn if loop.first <= line < loop.last}
        for each in under.get(line, ()):
            # Of loops that end together the outer one goes on below the sum of the inner one.
            ending = ending[1:] if each.of == "loop" else ending
            yield _Row(each.words, each.figure, _bars([*still, *ending]), sum=each)


def _bars(columns: Collection[int]) -> str:
    return "".join("|" if column in columns else " " for column in range(max(columns, default=-1) + 1))


# -- setting -------------------------------------------------------------------------------------------------


def _set(rows: Sequence[_Row], columns: int | None, paint: Paint) -> Iterator[str]:
    """The rows with their figures under each other, as far to the right as the longest line needs and the page has."""
    right = max((len(row.figure) for row in rows), default=0)
    middle = max((len(row.called) for row in rows), default=0)
    rail = max((len(row.rails) for row in rows), default=0)
    margin = sum(2 + width for width in (right, middle, rail) if width)
    page = columns or _PAGE
    longest = max((_width(row.text) for row in rows), default=0)
    body = max(_LEAST, min(longest, page - margin))
    told = ""
    for row in rows:
        cells = ((row.rails.ljust, rail), (row.called.rjust, middle), (row.figure.rjust, right))
        figures = "".join(f"  {put(width)}" for put, width in cells if width)
        # What keeps a loop from being counted keeps its routine from it: said once.
        reason = row.sum.reason if row.sum and row.sum.reason != told else ""
        inline = f"{row.text}: {reason}" if reason else row.text
        fits = _width(inline) <= body
        words = inline if fits else row.text
        blank = " " * _blank(_width(words), body, columns)
        left = blank + words if row.sum else words + blank
        yield paint((left + figures).rstrip(), _STYLES[row.sum.of] if row.sum else "")
        if reason and not fits:
            yield paint(f"    {reason}", "dim")
        told = row.sum.reason if row.sum else told


def _blank(width: int, body: int, columns: int | None) -> int:
    """Blanks behind a line; where a terminal breaks it, its figures stand at the right edge of the row it ends in."""
    return (body - width) % columns if columns and width > body else max(0, body - width)


def _width(text: str) -> int:
    """The columns a terminal needs."""
    if text.isascii():
        return len(text)
    wide = sum(unicodedata.east_asian_width(each) in "WF" for each in text)
    return len(text) + wide - sum(unicodedata.combining(each) > 0 for each in text)


def _marks(row: _Row) -> Iterator[str]:
    marks = {"/", "..", "+", "(", "?"} if not row.sum else {"+"}
    yield from (mark for mark in _LEGEND if mark in marks and mark in row.figure)
    if row.called:
        yield "called"
    if "|" in row.rails:
        yield "|"
