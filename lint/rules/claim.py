"""Times, cycles and clocks that comments and labels speak of: "20 ms", "about 1.5 sec at 2 MHz", "8000 cycles"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ..quantity import Clock, Duration

_UNITS: Final = {
    "ns": Fraction(1, 10**9),
    "us": Fraction(1, 10**6),
    "µs": Fraction(1, 10**6),  # the micro sign
    "μs": Fraction(1, 10**6),  # the Greek letter, which looks the same
    "usec": Fraction(1, 10**6),
    "microsecond": Fraction(1, 10**6),
    "ms": Fraction(1, 10**3),
    "msec": Fraction(1, 10**3),
    "millisecond": Fraction(1, 10**3),
    "s": Fraction(1),
    "sec": Fraction(1),
    "second": Fraction(1),
}
_TIME: Final = re.compile(
    r"(?<![\w.$/-])(?P<about>~|about\s+|approx\.?\s+|approximately\s+|roughly\s+|ca\.?\s+)?"
    r"(?P<number>\d+(?:\.\d+)?)[ -]?(?P<unit>ns|[uµμ]s|usecs?|microseconds?|ms|msecs?|milliseconds?|s|secs?|seconds?)"
    r"(?![\w/])(?P<each>\s+(?:each|per|a|every|between accesses)\b)?",
    re.IGNORECASE,
)
_CYCLES: Final = re.compile(
    r"(?<![\w.$/-])(?P<about>~|about\s+|approx\.?\s+|approximately\s+|roughly\s+|ca\.?\s+)?"
    r"(?P<number>\d+) ?-?(?P<unit>cycles?|clocks?|T-?states?)(?![\w/])(?P<each>\s+(?:each|per|a|every)\b)?",
    re.IGNORECASE,
)
# A smaller number of cycles is that of one instruction.
_FEWEST_CYCLES: Final = 40
_CLOCK: Final = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) ?([Mk])Hz\b", re.IGNORECASE)
_LABEL: Final = re.compile(r"[A-Za-z_.@]*?(\d+)_?(US|USEC|MS|MSEC|SEC)_?", re.IGNORECASE)
_WAITING: Final = re.compile(r"(?:DELAY|DLY|WAIT|PAUSE)_?(\d+)_?S", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Claim:
    """A time or a number of cycles somebody wrote down; `text` as written, `about` if it was meant roughly."""

    text: str
    said: Duration | int
    about: bool

    def time(self, clock: Clock) -> Duration:
        """The time at that clock."""
        return clock.duration(self.said) if isinstance(self.said, int) else self.said


def in_comment(text: str) -> list[Claim]:
    """The times and cycles a comment speaks of; those of each turn, of one instruction or of a pad are none."""
    if "timing:" in text.lower():
        return []
    times = [
        Claim(
            f"{found['number']} {found['unit']}", _time(found["number"], found["unit"]), bool(found["about"])
        )
        for found in _TIME.finditer(text)
        if not found["each"]
    ]
    cycles = [
        Claim(f"{found['number']} {found['unit']}", int(found["number"]), bool(found["about"]))
        for found in _CYCLES.finditer(text)
        if not found["each"] and int(found["number"]) > _FEWEST_CYCLES
    ]
    return times + cycles


def is_bare(text: str) -> bool:
    """Whether a comment is nothing but a time."""
    return _TIME.fullmatch(text.strip(" \t;*")) is not None


def in_label(name: str) -> list[Claim]:
    """The time a label carries in its name."""
    found = _LABEL.fullmatch(name)
    if found is not None:
        return [Claim(name, _time(found[1], found[2]), False)]
    waiting = _WAITING.fullmatch(name)
    return [Claim(name, _time(waiting[1], "s"), False)] if waiting is not None else []


def clock_in(text: str) -> Clock | None:
    """The clock a comment speaks of; None where it speaks of none, or of several."""
    found = {Fraction(number) * (10**6 if unit in "mM" else 10**3) for number, unit in _CLOCK.findall(text)}
    return Clock(found.pop()) if len(found) == 1 and min(found) > 0 else None


def _time(number: str, unit: str) -> Duration:
    word = unit.lower()
    return Duration(Fraction(number) * (_UNITS.get(word) or _UNITS[word.removesuffix("s")]))
