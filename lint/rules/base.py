"""What a rule is and what it says: findings, requirements that hold, and those that can't be judged."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..assemble import Program
from ..board import Acceptance, Board, LeastGap
from ..errors import Place
from ..quantity import Clock, Duration
from ..timing import Handler, Site, Timings

Severity = Literal["error", "warning", "note"]
MendKind = Literal["pad", "retime", ""]


@dataclass(frozen=True, slots=True)
class PadGoal:
    """At least `cycles` more between the two accesses, at the clock of the finding.

    `path` are the instructions of the shortest way between them, both ends included; `limit` is what asks for it.
    """

    first: Site
    then: Site
    cycles: int
    path: tuple[int, ...]
    limit: LeastGap | None = None


@dataclass(frozen=True, slots=True)
class WaitGoal:
    """The routine or loop that begins at instruction `index` lasts at least (or at most) that long.

    `loop` tells a loop from a routine.
    """

    index: int
    loop: bool
    least: Duration | None
    most: Duration | None


@dataclass(frozen=True, slots=True)
class Constant:
    """A byte of the constant in a hole of an instruction's operand, `shift` bits up, and what it has to become."""

    index: int
    hole: str
    shift: int
    byte: int


@dataclass(frozen=True, slots=True)
class NumberGoal:
    """Constants that have to become others, so that what a part counts lasts as long as before.

    `complete` is false where some byte of the number does not stand in the source as a constant.
    """

    constants: tuple[Constant, ...]
    complete: bool


Goal = PadGoal | WaitGoal | NumberGoal


@dataclass(frozen=True, slots=True)
class Strobes:
    """Fewest and most cycles from the strobe of one access to that of the next, and the clocks that are judged.

    `most` is None where nothing bounds them.
    """

    fewest: int
    most: int | None
    clocks: tuple[Clock, ...]

    def at(self, clock: Clock) -> str:
        """What a scope shows between them at a clock: "31 us", "at least 31 us" or both ends."""
        low = clock.duration(self.fewest).text()
        if self.most is None:
            return f"at least {low}"
        high = clock.duration(self.most).text()
        return low if low == high else f"{low}..{high}"

    def note(self) -> str:
        """What to expect on a scope at every clock, in one line."""
        shown = (f"{self.at(clock)} at {clock.text()}" for clock in self.clocks)
        return f"strobe to strobe on a scope: {', '.join(shown)}"


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault (or a fact worth knowing) at one place; `message` stands alone in a build log.

    `notes` are secondary facts, a line each (the path, the page of the data sheet). `measured` and `limit` are what
    was compared, at `clock`; `whose` limit it is where it is a part's; `holds_up_to` is the fastest clock at which
    the requirement still holds. `hurts` marks an output that can hurt people or equipment. `count` is how many lines
    one finding speaks of. `strobes` are those of the two accesses that it is about.
    """

    name: str
    severity: Severity
    place: Place
    message: str
    subject: str
    index: int | None = None
    notes: tuple[str, ...] = ()
    measured_cycles: int | None = None
    measured: Duration | None = None
    limit: Duration | None = None
    clock: Clock | None = None
    whose: str = ""
    holds_up_to: Clock | None = None
    short_before: bool = False
    hurts: bool = False
    goal: Goal | None = None
    count: int = 1
    strobes: Strobes | None = None


@dataclass(frozen=True, slots=True)
class Holds:
    """A requirement that every path keeps at every clock judged; `subject` is what it speaks of."""

    subject: str
    measured: Duration
    limit: Duration
    holds_up_to: Clock | None


@dataclass(frozen=True, slots=True)
class Open:
    """A requirement that can't be judged, and why, in words a person can act on."""

    subject: str
    reason: str


Verdict = Finding | Holds | Open


@dataclass(frozen=True, slots=True)
class Case:
    """What a rule judges: one build's timings, on its board, at the clocks to judge.

    `written_for` is the clock the source was written for, where that is known; `accepted` is what the project file
    accepts, `found` what the other rules found, for the one that runs last.
    """

    timings: Timings
    board: Board
    clocks: tuple[Clock, ...]
    written_for: Clock | None
    accepted: tuple[Acceptance, ...] = ()
    found: tuple[Finding, ...] = ()

    @property
    def program(self) -> Program:
        return self.timings.graph.program

    @property
    def stretched(self) -> Fraction:
        """Cycles that come on top of a longest time at the mean clock, where some cycles are stretched."""
        return max((clock.stretch.by for clock in self.clocks if clock.stretch), default=Fraction(0))

    @property
    def handlers(self) -> tuple[Handler, ...]:
        """The interrupt handlers that the project file or the vectors in the text name."""
        return self.timings.handlers


Judge = Callable[[Case], Iterator[Verdict]]


@dataclass(frozen=True, slots=True)
class Page:
    """A page of the manual: a name, its line in a list, and the explanation in five parts."""

    name: str
    summary: str
    explanation: str

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts of the explanation, each on one line: a line that is not set in begins one."""
        parts: list[str] = []
        for line in textwrap.dedent(self.explanation).strip().splitlines():
            if line and not line[0].isspace():
                parts.append(line.strip())
            elif line.strip():
                parts[-1] += f" {line.strip()}"
        return tuple(parts)


@dataclass(frozen=True, slots=True)
class Rule(Page):
    """A kind of finding with its page, what mends it, and its judgement."""

    mend: MendKind
    judge: Judge
