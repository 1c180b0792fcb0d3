"""A count as an expression of a clock symbol: the shortest that is right at the old clock and long enough at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from typing import Final

# Assemblers of today count in 32 bits, with a sign.
_MOST: Final = 1 << 31
# How many turns the overhead around a loop may stand for, tried beyond those it stands for.
_AROUND: Final = 4


@dataclass(frozen=True, slots=True)
class Formula:
    """symbol / `unit` * `times` / `over` + `more`, with `negative` 0 - all that before `more` is added.

    Every operator comes before those of lower rank, so that the text means the same where they have none.
    """

    unit: int
    times: int
    over: int
    more: int
    negative: bool = False

    def value(self, symbol: int) -> int:
        """What the expression gives, each division towards zero."""
        turned = symbol // self.unit * self.times // self.over
        return (-turned if self.negative else turned) + self.more

    def largest(self, symbol: int) -> int:
        """The largest number on the way."""
        return symbol // self.unit * self.times

    def text(self, name: str) -> str:
        """The expression, as every syntax writes it."""
        text = f"0-{name}" if self.negative else name
        unit, over = (1, self.unit * self.over) if self.times == 1 else (self.unit, self.over)
        for mark, number in (("/", unit), ("*", self.times), ("/", over)):
            if number != 1:
                text += f"{mark}{number}"
        return f"{text}{self.more:+d}" if self.more else text


@dataclass(frozen=True, slots=True)
class Aim:
    """What a wait has to last at one value of the symbol: `least` to `most` cycles; `cycles` gives those of a count."""

    symbol: int
    least: int
    most: int | None
    cycles: Callable[[int], int | None]

    def excess(self, count: int) -> Fraction | None:
        """How much too long it lasts, as a share of `least`; None where it is too short or not known."""
        lasts = self.cycles(count)
        if lasts is None or lasts < self.least:
            return None
        return Fraction(lasts - self.least, self.least or 1)


def sought(
    aims: Mapping[int, Aim], old: int, count: int, overhead: Fraction, most: int, up: bool
) -> Formula | None:
    """The best expression that gives `count` at the value `old` of the symbol, and is long enough at all others.

    `overhead` is what the wait lasts beside its turns, in turns; counts go from 1 to below `most`. An expression whose
    waits are within what is allowed comes before one that is nearer; among those the shortest text. None where none is.
    """
    best: tuple[tuple[bool, int, Fraction], Formula] | None = None
    for formula in _candidates(list(aims), old, count, overhead, most, up):
        counts = {value: _count(formula, value, most, up) for value in aims}
        if counts[old] != count or any(not 0 < each < most for each in counts.values()):
            continue
        if any(formula.largest(value) >= _MOST for value in aims):
            continue
        excesses = [aims[value].excess(each) for value, each in counts.items() if value != old]
        if any(excess is None for excess in excesses):
            continue
        worst = max((excess for excess in excesses if excess is not None), default=Fraction(0))
        outside = any(not _within(aims[value], each) for value, each in counts.items() if value != old)
        weight = (outside, 0 if outside else len(formula.text("")), worst)
        if best is None or weight < best[0]:
            best = weight, formula
    return best[1] if best else None


def _count(formula: Formula, value: int, most: int, up: bool) -> int:
    number = formula.value(value)
    return most - number if up else number


def _within(aim: Aim, count: int) -> bool:
    lasts = aim.cycles(count)
    return lasts is not None and (aim.most is None or lasts <= aim.most)


def _candidates(
    values: list[int], old: int, count: int, overhead: Fraction, most: int, up: bool
) -> Iterator[Formula]:
    """Turns that grow with the clock, less those that the overhead stands for; half a turn more rounds up."""
    unit = _unit(values)
    base = old // unit
    whole = int(overhead)
    for less in sorted(range(min(whole, 0) - 1, max(whole, 0) + _AROUND), key=abs):
        for shares in (1, 2, 4):
            times, over = shares * (count + less) + (shares > 1), shares * base
            if times <= 0:
                continue
            common = gcd(times, over)
            more = less + most if up else -less
            yield Formula(unit, times // common, over // common, more, up)


def _unit(values: list[int]) -> int:
    """What the symbol is divided by first: a power of ten that divides all its values, where they are large."""
    unit = 1
    while max(values) // unit > 65535 and all(value % (unit * 10) == 0 for value in values):
        unit *= 10
    return unit
