"""The waveform of a finding: clock, instructions, bus and strobe between two accesses, against what the part needs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ...rules.words import counted, needed
from .bars import hatch
from .markup import Markup, element, join
from .way import Stretch, Way

_CYCLE: Final = 22.0  # a cycle's width where cycles are drawn one by one
_BREAK: Final = 84.0  # the width of what is passed over
_LEFT: Final = 104.0  # for the names of the rows
_NEAR: Final = 13  # cycles that are drawn at either end of a long way
_LONGEST: Final = 34  # a way up to that many cycles is drawn whole
_ROW: Final = 34.0
_LETTER: Final = 7.3  # a letter's width
_TOP: Final = 14.0


@dataclass(frozen=True, slots=True)
class _Piece:
    """Cycles from `start` to `end`, drawn from `x` on; `drawn` one by one, else passed over in a break."""

    start: int
    end: int
    x: float
    drawn: bool

    @property
    def width(self) -> float:
        return (self.end - self.start) * _CYCLE if self.drawn else _BREAK

    def at(self, cycle: float) -> float:
        return self.x + self.width * (cycle - self.start) / (self.end - self.start)


class _Scale:
    """Where each cycle stands; 0 is the end of the bus cycle of the first access, from which times are counted."""

    def __init__(self, way: Way) -> None:
        begin, needs = -way.before, float(way.limit)
        last = way.measured + way.behind
        cuts = [(begin, last, True)]
        if last - begin > _LONGEST:
            cuts = [
                (begin, _NEAR, True),
                (_NEAR, way.measured - _NEAR, False),
                (way.measured - _NEAR, last, True),
            ]
        beyond = -int(-needs // 1) + 1
        if beyond > last:
            near = beyond - last <= _NEAR
            cuts += (
                [(last, beyond, True)] if near else [(last, beyond - 2, False), (beyond - 2, beyond, True)]
            )
        self.pieces: list[_Piece] = []
        x = _LEFT
        for start, end, drawn in cuts:
            self.pieces.append(_Piece(start, end, x, drawn))
            x += self.pieces[-1].width
        self.right = x

    def at(self, cycle: float) -> float:
        piece = next((p for p in self.pieces if cycle <= p.end), self.pieces[-1])
        return piece.at(cycle)

    @property
    def drawn(self) -> Iterator[_Piece]:
        return (piece for piece in self.pieces if piece.drawn)

    @property
    def breaks(self) -> Iterator[_Piece]:
        return (piece for piece in self.pieces if not piece.drawn)


def waveform(way: Way, name: str, whose: str, key: str) -> Markup:
    """The drawing, with its text alternative; `name` is what is accessed, `whose` whose limit it is, `key` its ids."""
    scale = _Scale(way)
    height = _TOP + 6 * _ROW + 20
    rows = (
        _clock(scale, _TOP),
        _instructions(way, scale, _TOP + _ROW),
        _bus(way, scale, _TOP + 2 * _ROW),
        _strobe(way, scale, _TOP + 3 * _ROW, name),
        _measured(way, scale, _TOP + 4 * _ROW),
        _needed(way, scale, _TOP + 5 * _ROW, whose, key),
    )
    width = scale.right + 24
    return element(
        "svg",
        element("title", f"{name}, cycle by cycle", id=f"{key}-t"),
        element("desc", _said(way, name, whose), id=f"{key}-d"),
        element("defs", hatch(f"{key}-h")),
        _cycle_lines(way, scale, height),
        rows,
        role="img",
        aria_labelledby=f"{key}-t {key}-d",
        viewBox=f"0 0 {width:g} {height:g}",
        width=width,
        height=height,
        class_="wave",
    )


def _said(way: Way, name: str, whose: str) -> str:
    ends = f"{name} is {_done(way.words[0])}, and {_done(way.words[1])} again"
    apart = f"{counted(way.measured, 'cycle')}, {way.clock.duration(way.measured).text()} at {way.clock.text()}, later"
    ran = ", ".join(f"{each.text} {counted(each.cycles, 'cycle')}" for each in way.stretches)
    return f"{ends} {apart}; {whose} needs {needed(way.needed)}. In between: {ran}."


def _done(word: str) -> str:
    return "written" if word == "write" else "read"


def _label(words: str, y: float) -> Markup:
    return element("text", words, x=0, y=y, class_="row")


def _clock(scale: _Scale, y: float) -> Markup:
    drawn: list[Markup] = [_label("clock", y + 15)]
    for piece in scale.drawn:
        steps = "".join(
            f"V{y + 4:g}h{_CYCLE / 2:g}V{y + 18:g}h{_CYCLE / 2:g}" for _ in range(piece.start, piece.end)
        )
        drawn.append(element("path", d=f"M{piece.x:g} {y + 18:g}{steps}", class_="line"))
    for piece in scale.breaks:
        drawn.append(_torn(piece, y + 11))
    return join(drawn)


def _torn(piece: _Piece, y: float) -> Markup:
    middle = piece.x + piece.width / 2
    path = f"M{piece.x:g} {y:g}H{middle - 5:g}m0 6l4 -12m6 0l-4 12m4 -6H{piece.x + piece.width:g}"
    return element("path", d=path, class_="torn")


def _instructions(way: Way, scale: _Scale, y: float) -> Markup:
    drawn: list[Markup] = [_label("runs", y + 15)]
    start = -way.before
    over: list[Stretch] = []
    shown_from = start
    for each in way.stretches:
        end = start + each.cycles
        if each.whole and _drawn(scale, start, end):
            drawn += _over(scale, over, shown_from, start, y)
            over, shown_from = [], end
            drawn += _box(each, scale.at(start), scale.at(end), y)
        else:
            over.append(each)
        start = end
    return join(drawn, _over(scale, over, shown_from, start, y))


def _drawn(scale: _Scale, start: int, end: int) -> bool:
    return any(piece.start <= start and end <= piece.end for piece in scale.drawn)


def _box(each: Stretch, left: float, right: float, y: float) -> Iterator[Markup]:
    room = int((right - left - 6) // _LETTER)
    yield element("rect", x=left + 1, y=y + 1, width=right - left - 2, height=22, rx=3, class_="box")
    short = each.text if len(each.text) <= room else each.text.split(" ")[0]
    if len(short) <= room:
        yield element("text", short, x=(left + right) / 2, y=y + 16, class_="op")


def _over(scale: _Scale, over: list[Stretch], start: int, end: int, y: float) -> Iterator[Markup]:
    """What is not drawn instruction by instruction: how long it is, and what it is where it is one thing."""
    if not over:
        return
    left, right = scale.at(start), scale.at(end)
    yield element("rect", x=left + 1, y=y + 1, width=right - left - 2, height=22, rx=3, class_="box over")
    words = counted(end - start, "cycle")
    room = int((right - left - 6) // _LETTER)
    longest = max(over, key=lambda each: each.cycles)
    main = f"{longest.text} {longest.cycles} and {len(over) - 1} more"
    full = f"{over[0].text}, {words}" if len(over) == 1 else main
    shown = full if len(full) <= room else words
    yield element("text", shown, x=(left + right) / 2, y=y + 16, class_="op")


def _bus(way: Way, scale: _Scale, y: float) -> Markup:
    drawn: list[Markup] = [_label("bus", y + 15)]
    start = -way.before
    for each in way.stretches:
        for number, letter in enumerate(each.bus):
            cycle = start + number
            if letter != "." and _drawn(scale, cycle, cycle + 1):
                mark = "bus hit" if cycle + 1 in (0, way.measured) else "bus"
                drawn.append(element("text", letter, x=scale.at(cycle + 0.5), y=y + 15, class_=mark))
        start += each.cycles
    drawn += [_torn(piece, y + 11) for piece in scale.breaks]
    return join(drawn)


def _strobe(way: Way, scale: _Scale, y: float, name: str) -> Markup:
    high, low = y + 4, y + 18
    path = f"M{_LEFT:g} {high:g}"
    for cycle in (0, way.measured):
        left, right = scale.at(cycle - 1), scale.at(cycle)
        path += f"H{left:g}V{low:g}H{right:g}V{high:g}"
    path += f"H{scale.right:g}"
    labels = [element("title", f"strobe of {name}"), element("path", d=path, class_="line strobe")]
    return element("g", labels, _label(_clipped(name), y + 15))


def _clipped(name: str) -> str:
    return name if len(name) <= 13 else f"{name[:12]}…"


def _measured(way: Way, scale: _Scale, y: float) -> Markup:
    words = f"{counted(way.measured, 'cycle')}, {way.clock.duration(way.measured).text()}"
    return join(
        _label("apart", y + 13),
        _dimension(scale.at(0), scale.at(way.measured), y + 9, "line"),
        _beside(words, scale.at(0), scale.at(way.measured), scale.right, y),
    )


def _dimension(left: float, right: float, y: float, mark: str) -> Markup:
    path = f"M{left:g} {y - 6:g}v12M{right:g} {y - 6:g}v12M{left:g} {y:g}H{right:g}"
    heads = f"M{left + 6:g} {y - 4:g}L{left:g} {y:g}l6 4M{right - 6:g} {y - 4:g}L{right:g} {y:g}l-6 4"
    return element("path", d=path + heads, class_=mark)


def _beside(words: str, left: float, right: float, edge: float, y: float) -> Markup:
    middle = max((left + right) / 2, left + len(words) * _LETTER / 2)
    return element("text", words, x=min(middle, edge - len(words) * _LETTER / 2), y=y + 28, class_="figure")


def _needed(way: Way, scale: _Scale, y: float, whose: str, key: str) -> Markup:
    """The limit as a span from the first access on; what of it is missing is hatched."""
    left, right, end = scale.at(0), scale.at(float(way.limit)), scale.at(way.measured)
    held = min(right, end)
    drawn = [element("rect", x=left, y=y + 4, width=held - left, height=14, class_="has")]
    if right > end:
        drawn.append(
            element(
                "rect", x=end, y=y + 4, width=right - end, height=14, class_="lacks", fill=f"url(#{key}-h)"
            )
        )
    drawn.append(element("path", d=f"M{right:g} {y:g}v22", class_="edge"))
    words = f"{whose} needs {needed(way.needed)}"
    if right > end:
        words += f": {(-way.spare).text(3, 'up')} short"
    return join(_label("needed", y + 15), drawn, _beside(words, left, right, scale.right, y + 6))


def _cycle_lines(way: Way, scale: _Scale, height: float) -> Markup:
    """A dotted line down from each end of what is measured, and the number of the cycle it falls in."""
    drawn = []
    for cycle in (0, way.measured):
        x = scale.at(cycle)
        drawn.append(element("path", d=f"M{x:g} {_TOP:g}V{height - 24:g}", class_="guide"))
        drawn.append(element("text", str(cycle), x=x, y=10, class_="op"))
    return join(drawn)
