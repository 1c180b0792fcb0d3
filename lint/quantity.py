"""Frequencies and times: exact fractions with a unit in and out, so that 1.8432 MHz never becomes a float."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from math import ceil, floor
from typing import Literal

from lark import Token
from lark.exceptions import UnexpectedInput

from . import packaged
from .errors import Place, QuantityError

Rounding = Literal["nearest", "up", "down"]

_LONGEST = 100  # characters of a number and its unit

_CLOCK_UNITS = {"Hz": Fraction(1), "kHz": Fraction(10**3), "MHz": Fraction(10**6)}
_TIME_UNITS = {
    "s": Fraction(1),
    "ms": Fraction(1, 10**3),
    "us": Fraction(1, 10**6),
    "µs": Fraction(1, 10**6),  # the micro sign
    "μs": Fraction(1, 10**6),  # the Greek letter, which looks the same
    "ns": Fraction(1, 10**9),
}

# Unit, its size, and from which value on it is used when printing: half a second is still 0.5 s.
_Scale = tuple[tuple[str, Fraction, Fraction], ...]
_CLOCK_SCALE: _Scale = (
    ("MHz", Fraction(10**6), Fraction(10**6)),
    ("kHz", Fraction(10**3), Fraction(10**3)),
    ("Hz", Fraction(1), Fraction(0)),
)
_TIME_SCALE: _Scale = (
    ("s", Fraction(1), Fraction(1, 2)),
    ("ms", Fraction(1, 10**3), Fraction(1, 10**3)),
    ("us", Fraction(1, 10**6), Fraction(1, 10**6)),
    ("ns", Fraction(1, 10**9), Fraction(0)),
)


@dataclass(frozen=True, slots=True, order=True)
class Duration:
    """A time in seconds, exact."""

    seconds: Fraction

    def __neg__(self) -> "Duration":
        return Duration(-self.seconds)

    def cycles(self, clock: "Clock") -> Fraction:
        """How many cycles of `clock` this lasts: exact, seldom a whole number."""
        return self.seconds * clock.hz / clock.mean

    def text(self, digits: int = 6, rounding: Rounding = "nearest") -> str:
        """Number and unit with at most `digits` significant digits: "100.004 ms", "31 us", "0.5 s".

        A time that is still needed is rounded "up", so that what is printed is enough.
        """
        return _print(self.seconds, digits, rounding, _TIME_SCALE)


@dataclass(frozen=True, slots=True)
class Stretch:
    """One cycle in `every` is longer by `by` of a cycle: for a refresh, or to keep in step with something else."""

    every: int
    by: Fraction


@dataclass(frozen=True, slots=True, order=True)
class Clock:
    """A frequency in hertz, exact and above zero.

    `ppm` is how far it may be off, in millionths; two clocks of the same frequency are the same. `stretch` says which
    of its cycles are longer, None where none is: times at it are then the mean.
    """

    hz: Fraction
    ppm: Fraction = field(default=Fraction(0), compare=False)
    stretch: Stretch | None = field(default=None, compare=False)

    @property
    def mean(self) -> Fraction:
        """What a cycle is on the mean, over one that is not stretched."""
        return 1 + self.stretch.by / self.stretch.every if self.stretch else Fraction(1)

    @property
    def fastest(self) -> "Clock":
        """The fastest it may be, with no cycle stretched: what a shortest time has to be judged at."""
        return Clock(self.hz * (1 + self.ppm / 10**6))

    @property
    def slowest(self) -> "Clock":
        """The slowest it may be on the mean: what a longest time has to be judged at, and `stretch.by` on top."""
        return Clock(self.hz * (1 - self.ppm / 10**6) / self.mean)

    def times(self, factor: Fraction) -> "Clock":
        """A clock made from it by dividers and multipliers, as far off as it is."""
        return Clock(self.hz * factor, self.ppm, self.stretch)

    def duration(self, cycles: int | Fraction) -> Duration:
        """How long so many cycles last at this clock, exact; on the mean where some are stretched."""
        return Duration(cycles * self.mean / self.hz)

    def text(self, digits: int = 9, rounding: Rounding = "nearest") -> str:
        """Number and unit: "2 MHz", "921.6 kHz"; nine digits print every usual crystal as its case says.

        A fastest allowed clock is rounded "down", so that what is printed is allowed.
        """
        return _print(self.hz, digits, rounding, _CLOCK_SCALE)


def parse_clock(text: str, place: Place | None = None) -> Clock:
    """The clock written as `text`: "1 MHz", "3.579545MHz", "500 kHz", "315/88 MHz".

    Raises QuantityError, at `place` if given, for anything but a number above zero and Hz, kHz or MHz.
    """
    hz = _parse("clock", text, _CLOCK_UNITS, "Hz, kHz or MHz", "1.8432MHz", place)
    if hz == 0:
        raise QuantityError(f'clock "{text}": is zero; write a frequency above zero', place)
    return Clock(hz)


def parse_duration(text: str, place: Place | None = None) -> Duration:
    """The time written as `text`: "20 ms", "52.6 us", "52.6 µs", "1.5 s", "150 ns", "999/19 us".

    Raises QuantityError, at `place` where given, for anything that is not a number and s, ms, us or ns.
    """
    return Duration(_parse("time", text, _TIME_UNITS, "s, ms, us or ns", "52.6us", place))


def _parse(
    kind: str, text: str, units: Mapping[str, Fraction], accepted: str, example: str, place: Place | None
) -> Fraction:
    if len(text) > _LONGEST:
        raise QuantityError(
            f'{kind} "{text[:20]}...": {len(text)} characters; write it like {example}', place
        )
    try:
        number, unit = _quantity(text.strip())
    except (UnexpectedInput, ZeroDivisionError):
        problem = "no unit" if text.strip()[-1:].isdigit() else "not a number and a unit"
        raise QuantityError(f'{kind} "{text}": {problem}; write it like {example}', place) from None
    if unit not in units:
        raise QuantityError(f'{kind} "{text}": unknown unit; write {accepted}', place)
    return number * units[unit]


@cache
def _quantity(text: str) -> tuple[Fraction, str]:
    number, unit = (
        str(token)
        for token in packaged.parser("quantity", "quantity").parse(text).children
        if isinstance(token, Token)
    )
    over, _, under = number.partition("/")
    return Fraction(over) / Fraction(under or 1), unit


def _print(value: Fraction, digits: int, rounding: Rounding, scale: _Scale) -> str:
    if value == 0:
        return f"0 {scale[0][0]}"
    # Rounded before the unit is chosen: 999.9999999 us is 1 ms, not 1000 us.
    rounded = _significant(value, digits, rounding)
    unit, size = next((unit, size) for unit, size, least in scale if abs(rounded) >= least)
    return f"{_decimal(rounded / size)} {unit}"


def _significant(value: Fraction, digits: int, rounding: Rounding) -> Fraction:
    step = Fraction(10) ** (_magnitude(abs(value)) - digits + 1)
    match rounding:
        case "up":
            return ceil(value / step) * step
        case "down":
            return floor(value / step) * step
        case "nearest":
            return floor(value / step + Fraction(1, 2)) * step


def _magnitude(value: Fraction) -> int:
    """The power of ten of the first digit: 0 for 1 to below 10."""
    power = len(str(value.numerator)) - len(str(value.denominator))
    return power if Fraction(10) ** power <= value else power - 1


def _decimal(value: Fraction) -> str:
    """`value` in decimal notation, all digits; it must be a whole number of some power of ten."""
    places = 0
    while (value * 10**places).denominator != 1:
        places += 1
    sign = "-" if value < 0 else ""
    figures = str(abs(int(value * 10**places))).rjust(places + 1, "0")
    return sign + (f"{figures[:-places]}.{figures[-places:]}" if places else figures)
