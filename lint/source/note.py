"""Timing notes: what an author states about time in a comment, after the word `timing:`."""

from dataclasses import dataclass
from typing import Literal

from ..errors import Place
from ..quantity import Clock, Duration


@dataclass(frozen=True, slots=True)
class Takes:
    """`takes 20 ms within 1%`, `takes at least 20 ms`, `takes at most 5 ms`; tolerance only with "exact"."""

    kind: Literal["exact", "at_least", "at_most"]
    duration: Duration
    tolerance: Duration | None = None


@dataclass(frozen=True, slots=True)
class Runs:
    """`runs 8 times`, `runs 1 to 200 times`: how often the loop closed here is passed through."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class With:
    """`with A = 1 to 50`: the values a register or symbol can have when control comes here."""

    name: str
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class WrittenFor:
    """`written for 2 MHz`: the clock at which this routine lasts as long as its callers mean it to."""

    clock: Clock


@dataclass(frozen=True, slots=True)
class GivesUp:
    """`gives up after 90 ms`: how long this loop waits for a part at least before it gives up."""

    duration: Duration


@dataclass(frozen=True, slots=True)
class Leave:
    """`leave because REASON`: this code must not be retimed."""

    reason: str


@dataclass(frozen=True, slots=True)
class Accept:
    """`accept RULE because REASON`: findings of this rule are known here and wanted."""

    rule: str
    reason: str


Note = Takes | Runs | With | WrittenFor | GivesUp | Leave | Accept


@dataclass(frozen=True, slots=True)
class PlacedNote:
    """A note, its line, and the byte offsets from `timing:` to its end."""

    note: Note
    line: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class BadNote:
    """A `timing:` that was not understood: where, and what would be."""

    place: Place
    message: str
