"""tone-changes: a tone made from the clock has another pitch at another clock."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import log2

from ..quantity import Clock, Duration
from .base import Case, Rule, Verdict
from .changes import changes

# Five cents: less than that few people hear. Common practice.
_LEAST = Fraction(289, 100_000)


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each pitch, where the clock it was written for is known."""
    return changes(case, RULE.name, "tone", pitch, cents, _LEAST)


def pitch(wave: Duration) -> str:
    """The frequency of a wave that lasts so long."""
    return Clock(1 / wave.seconds).text(6)


def cents(ratio: Fraction) -> str:
    """How much higher or lower a wave is that lasts so many times as long: 1200 cents are an octave."""
    found = -1200 * log2(ratio)
    return f", {abs(found):.0f} cents {'higher' if found > 0 else 'lower'}"


RULE = Rule(
    name="tone-changes",
    summary="A tone made from the clock has another pitch at another clock",
    mend="retime",
    explanation="""
        What it finds: a number written to a tone generator that is clocked from the bus clock, or from a clock of the
            board that was turned, where the pitch becomes another by more than 5 cents.
        Why it matters: every note sounds higher or lower; a tune stays in tune with itself, but not with anything else.
        Example: 254 in a 76489 clocked with twice a bus of 1.789773 MHz is 440.4 Hz; at double the clock it sounds an
            octave higher.
        Mend: `retime` writes the number that is named where it stands in one place, with a note of the clock it is
            for; else give the part a clock of its own.
        When to leave it: any pitch will do. Accept it with that reason.
    """,
    judge=judge,
)
