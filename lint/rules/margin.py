"""How far one requirement of a board is from breaking at any clock, and the exact clocks between which it holds.

Every requirement is a line over the length of a cycle, or two of them: so many cycles, less or more a time that stays.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..errors import Place
from ..quantity import Clock, Duration
from .base import Strobes

Kind = Literal["spacing", "deadline", "wait", "pulse", "memory", "bus", "grade", "rate"]


@dataclass(frozen=True, slots=True)
class Line:
    """Something that holds while `cycles` of the clock and the time `fixed` add up to zero or more."""

    cycles: Fraction
    fixed: Duration

    def at(self, clock: Clock) -> Duration:
        """What is to spare at a clock, at the side of its tolerance that is stricter; below zero what is missing."""
        side = clock.fastest if self.cycles > 0 else clock.slowest
        return Duration(self.cycles / side.hz + self.fixed.seconds)

    @property
    def highest(self) -> Clock | None:
        """The fastest clock at which it holds, exact; None where no clock is too fast, or none is slow enough."""
        if self.cycles > 0 and self.fixed.seconds < 0:
            return Clock(self.cycles / -self.fixed.seconds)
        return None

    @property
    def lowest(self) -> Clock | None:
        """The slowest clock at which it holds, exact; None where no clock is too slow, or none is fast enough."""
        if self.cycles < 0 and self.fixed.seconds > 0:
            return Clock(-self.cycles / self.fixed.seconds)
        return None

    @property
    def never(self) -> bool:
        """Whether it holds at no clock at all."""
        return self.cycles <= 0 and self.fixed.seconds <= 0 and (self.cycles < 0 or self.fixed.seconds < 0)


@dataclass(frozen=True, slots=True)
class Margin:
    """One requirement: it holds while `cycles` of the clock and the time `fixed` add up to zero or more.

    `limit` is what is required, for the margin in per cent: cycles and time as well. `cause` says whose limit it is;
    requirements of the same kind and cause break for the same reason. `doubt` says why it may not apply, empty where it
    does. `tried` is a clock at which it ran though it is not rated for it. `besides` is a second line that has to hold
    as well: a requirement with two sides. `strobes` are the cycles from one access to the other, where it lies between
    two.
    """

    kind: Kind
    subject: str
    cause: str
    place: Place
    cycles: Fraction
    fixed: Duration
    limit: tuple[Fraction, Duration]
    doubt: str = ""
    tried: Clock | None = None
    besides: Line | None = None
    strobes: Strobes | None = None

    @property
    def lines(self) -> Iterator[Line]:
        """All that has to hold."""
        yield Line(self.cycles, self.fixed)
        if self.besides is not None:
            yield self.besides

    def at(self, clock: Clock) -> Duration:
        """What is to spare at a clock, below zero what is missing; at the side of its tolerance that is stricter."""
        return min(line.at(clock) for line in self.lines)

    def share(self, clock: Clock) -> Fraction:
        """What is to spare as a share of what is required; 0 where nothing is."""
        side = clock.fastest if self.cycles > 0 else clock.slowest
        cycles, fixed = self.limit
        required = cycles / side.hz + fixed.seconds
        return self.at(clock).seconds / required if required else Fraction(0)

    @property
    def highest(self) -> Clock | None:
        """The fastest clock at which it holds, exact; None where no clock is too fast, or none is slow enough."""
        return min((clock for line in self.lines if (clock := line.highest)), default=None)

    @property
    def lowest(self) -> Clock | None:
        """The slowest clock at which it holds, exact; None where no clock is too slow, or none is fast enough."""
        return max((clock for line in self.lines if (clock := line.lowest)), default=None)

    @property
    def never(self) -> bool:
        """Whether it holds at no clock at all."""
        highest, lowest = self.highest, self.lowest
        between = highest is not None and lowest is not None and highest < lowest
        return between or any(line.never for line in self.lines)

    @property
    def stays(self) -> bool:
        """Whether no clock changes it."""
        return all(line.cycles == 0 for line in self.lines)
