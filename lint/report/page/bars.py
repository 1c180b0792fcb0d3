"""Bars to scale, as wide as there is room: two times beside each other, and clocks between which something holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import log2
from typing import Final

from ...quantity import Clock, Duration
from ...rules import Margin
from .markup import Markup, element

_ROOM: Final = Fraction(5, 4)  # of the longer of two bars, so that its end is seen


def compared(measured: Duration, limit: Duration, words: tuple[str, str], key: str) -> Markup:
    """What something lasts above what it is compared with, and what it lacks or has too much."""
    longest = max(measured, limit).seconds * _ROOM
    lasts, has = (float(time.seconds / longest) if longest else 0.0 for time in (measured, limit))
    said = f"{words[0]} {measured.text()}", f"{limit.text()} {words[1]}"
    less, more = sorted((lasts, has))
    return element(
        "svg",
        element("title", "; ".join(said), id=f"{key}-t"),
        element("defs", hatch(f"{key}-h")),
        _bar(0, less, 16, "lasts"),
        _bar(less, more, 16, "lacks", f"url(#{key}-h)"),
        _bar(0, has, 54, "has"),
        element("line", x1=_per_cent(has), x2=_per_cent(has), y1=10, y2=72, class_="edge"),
        [element("text", each, x=0, y=12 + 38 * row) for row, each in enumerate(said)],
        role="img",
        aria_labelledby=f"{key}-t",
        width="100%",
        height=72,
        class_="bars",
    )


def _bar(left: float, right: float, y: int, mark: str, fill: str | None = None) -> Markup:
    width = _per_cent(right - left)
    return element("rect", x=_per_cent(left), y=y, width=width, height=14, class_=mark, fill=fill)


def _per_cent(share: Fraction | float) -> str:
    return f"{float(share) * 100:.2f}%"


@dataclass(frozen=True, slots=True)
class Axis:
    """Clocks from `low` to `high` Hz on a line, each doubling as far as the one before; `marks` are drawn through."""

    low: float
    high: float
    marks: tuple[tuple[Clock, str], ...]

    def at(self, hz: Fraction) -> float:
        """The place of a clock, from 0 to 1; what is outside stands at the end."""
        if hz <= 0:
            return 0.0
        place = log2(float(hz) / self.low) / log2(self.high / self.low)
        return min(max(place, 0.0), 1.0)


def axis(clocks: Sequence[Clock], written_for: Clock | None) -> Axis:
    """An axis that shows every clock judged and the one before, with two doublings of room on either side."""
    judged = [clock.hz for clock in clocks]
    low = min([*judged, *([written_for.hz] if written_for else [])]) / 4
    high = max([*judged, *([written_for.hz] if written_for else [])]) * 4
    marks = [(clock, "judged") for clock in clocks]
    if written_for is not None and written_for not in clocks:
        marks.append((written_for, "before"))
    return Axis(float(low), float(high), tuple(marks))


def scale(line: Axis) -> Markup:
    """The clocks of the axis by name above their marks, in two rows by turns: neighbours have room."""
    marks = sorted(line.marks, key=lambda mark: mark[0])
    names = [
        element(
            "span",
            clock.text(),
            class_=f"{kind} low" if number % 2 == len(marks) % 2 else kind,
            style=f"left:{_per_cent(line.at(clock.hz))}",
        )
        for number, (clock, kind) in enumerate(marks)
    ]
    return element("span", names, class_="scale")


def stretch(margin: Margin, line: Axis, words: str, key: str) -> Markup:
    """From which to which clock a requirement holds, its edges marked, and hatched what it lacks at a clock."""
    left = line.at(margin.lowest.hz) if margin.lowest else 0.0
    right = 0.0 if margin.never else line.at(margin.highest.hz) if margin.highest else 1.0
    drawn: list[Markup] = [element("rect", x=0, y=8, width="100%", height=6, class_="track")]
    if right > left:
        drawn.append(_span(left, right, "doubt" if margin.doubt else "held"))
    broken = [
        line.at(clock.hz) for clock, mark in line.marks if mark == "judged" and margin.at(clock).seconds < 0
    ]
    if broken and not margin.doubt:
        short = (right, max(broken)) if max(broken) > right else (min(broken), left)
        drawn.append(_span(*short, "lacks", fill=f"url(#{key})"))
    for clock, kind in line.marks:
        place = _per_cent(line.at(clock.hz))
        drawn.append(element("line", x1=place, x2=place, y1=0, y2=22, class_=kind))
    drawn += [_edge(line.at(e.hz)) for e in (margin.lowest, margin.highest) if e is not None]
    return element(
        "svg",
        element("title", words),
        element("defs", hatch(key)),
        drawn,
        role="img",
        width="100%",
        height=22,
        class_="stretch",
    )


def _span(left: float, right: float, mark: str, fill: str | None = None) -> Markup:
    width = _per_cent(right - left)
    return element("rect", x=_per_cent(left), y=5, width=width, height=12, class_=mark, fill=fill)


def _edge(place: float) -> Markup:
    """A diamond at an edge: its shape tells it from a clock. One that lies outside stands half at the end."""
    shape = element("path", d="M0 2l7 9l-7 9l-7 -9z", class_="edge")
    return element("svg", shape, x=_per_cent(place), y=0, overflow="visible", width=1, height=22)


def hatch(key: str) -> Markup:
    """The pattern of what is missing."""
    stripes = element("path", d="M-2 2l4 -4M0 8l8 -8M6 10l4 -4", class_="hatch")
    return element("pattern", stripes, id=key, width=8, height=8, patternUnits="userSpaceOnUse")
