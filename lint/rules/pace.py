"""What follows the clock and what stays: rates, times, tones, time-outs, pulses and tempo."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from ..errors import Place
from ..quantity import Clock, Duration
from .base import Case
from .changes import NEAR
from .follow import Followed, Unfollowed, followed, named, place, said
from .hurting import pulses
from .rate_off import rate_text
from .time_out_changes import time_outs
from .tone_changes import pitch
from .words import subject, where

PaceKind = Literal["rate", "time", "tone", "time-out", "pulse", "tempo"]
_NOTHING: Final = Duration(Fraction(0))


@dataclass(frozen=True, slots=True)
class Pace:
    """Something that lasts so many `cycles` of the bus, or a time `fixed` that stays.

    `number` is what the program writes for it, as it is said; empty where it writes none. `was` is the time before an
    oscillator was turned.
    """

    kind: PaceKind
    name: str
    number: str
    place: Place
    cycles: Fraction
    fixed: Duration
    was: Duration
    made: Followed | None = None

    @property
    def stays(self) -> bool:
        """Whether no clock and no oscillator changes it."""
        return self.cycles == 0 and self.fixed == self.was

    def at(self, clock: Clock) -> Duration:
        """How long it lasts at a bus clock."""
        return Duration(clock.duration(self.cycles).seconds + self.fixed.seconds)

    def said(self, clock: Clock) -> str:
        """What it is at a bus clock: a rate, a pitch or a time."""
        match self.kind:
            case "rate":
                return rate_text(self.at(clock))
            case "tone":
                return pitch(self.at(clock))
            case _:
                return self.at(clock).text()

    def keeping(self, old: Clock, clock: Clock) -> str:
        """The number that makes it at `clock` what it was at `old`, to 1 %; "none" where none does."""
        if self.made is None:
            return ""
        before = old.duration(self.cycles).seconds + self.was.seconds
        counter, kept = self.made.keep(before / self.at(clock).seconds)
        if kept is None or kept.error > NEAR:
            return "none"
        return said(counter, dict(kept.numbers)) + (f" of {named(counter)}" if self.made.through else "")


def paces(case: Case) -> Iterator[Pace | Unfollowed]:
    """Everything that follows the clock, or is said to stay, in the order of the board and then of the source."""
    for each in followed(case):
        if not isinstance(each, Followed):
            yield each
            continue
        yield Pace(
            each.output.kind,
            each.name,
            each.said(),
            place(case, each.chain[0]),
            each.cycles,
            each.fixed,
            each.was,
            each,
        )
    for end in time_outs(case):
        spot = case.program.instructions[end.loop.head].origin.place
        name = f"{end.loop.name} gives up on {subject(case.program, end.poll.address)}"
        yield Pace("time-out", name, "", spot, Fraction(end.cycles), _NOTHING, _NOTHING)
    seen: set[tuple[int, int]] = set()
    for part, gap in pulses(case):
        ends = gap.first.access.instruction, gap.then.access.instruction
        if gap.most is not None and ends not in seen:
            seen.add(ends)
            spot = case.program.instructions[ends[1]].origin.place
            name = f"{part.name} from {where(case.program, ends[0], ends[1])}"
            yield Pace("pulse", name, "", spot, Fraction(gap.most), _NOTHING, _NOTHING)
    for interrupt in case.board.interrupts:
        if interrupt.period is not None:
            spot = _entry(case, interrupt.entry)
            yield Pace(
                "tempo", f"{interrupt.name} every", "", spot, Fraction(0), interrupt.period, interrupt.period
            )


def _entry(case: Case, address: int) -> Place:
    found = case.program.at(address)
    return Place(case.program.path) if found is None else found.origin.place
