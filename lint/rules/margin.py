"""How far each requirement of a board is from breaking at any clock, and the exact clocks between which it holds.

Every requirement here is a line over the length of a cycle: so many cycles, less or more a time that stays.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..board import BusClock, FixedClock, LeastGap, MostGap, OwnClocks, Part, Rating, budgets
from ..errors import Place
from ..quantity import Clock, Duration
from ..source import Takes
from ..timing import Context, Exact, Formula, Range, Unknown
from ..timing.wording import total
from .access_too_soon import after
from .base import Case, Open
from .over_rating import place_of
from .pair import Pair, pairs
from .stated import Stated, stated
from .use import uses
from .words import counted, needed, subject, verb, where

Kind = Literal["spacing", "deadline", "wait", "memory", "grade"]


@dataclass(frozen=True, slots=True)
class Margin:
    """One requirement: it holds while `cycles` of the clock and the time `fixed` add up to zero or more.

    `limit` is what is required, for the margin in per cent: cycles and time as well. `cause` says whose limit it is;
    requirements of the same kind and cause break for the same reason. `doubt` says why it may not apply, empty where it
    does. `tried` is a clock at which it ran though it is not rated for it.
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

    def at(self, clock: Clock) -> Duration:
        """What is to spare at a clock, below zero what is missing; at the side of its tolerance that is stricter."""
        side = self._strict(clock)
        return Duration(self.cycles / side.hz + self.fixed.seconds)

    def share(self, clock: Clock) -> Fraction:
        """What is to spare as a share of what is required; 0 where nothing is."""
        side = self._strict(clock)
        cycles, fixed = self.limit
        required = cycles / side.hz + fixed.seconds
        return self.at(clock).seconds / required if required else Fraction(0)

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

    def _strict(self, clock: Clock) -> Clock:
        return clock.fastest if self.cycles > 0 else clock.slowest


def margins(case: Case) -> Iterator[Margin | Open]:
    """Every requirement with its margin, and those of which it can't be worked out, in no special order.

    Raises nothing; a case without clocks has none.
    """
    if not case.clocks:
        return
    told = uses(case.timings, case.board, case.handlers)
    for part in case.board.parts:
        for pair in pairs(case, part, told[part.name], most=False):
            yield from _spacing(case, pair)
        for pair in pairs(case, part, told[part.name], most=True):
            yield from _deadline(case, pair)
    yield from _waits(case)
    yield from _handlers(case)
    yield from _memory(case)
    yield from _grades(case)
    for text in case.board.unjudged:
        yield Open(*text.split(": ", 1))


# -- between accesses ----------------------------------------------------------------------------------------


def _spacing(case: Case, pair: Pair) -> Iterator[Margin]:
    clock = case.clocks[0]
    access = pair.then.site.access
    for requirement in pair.requirements(case, clock):
        limit = requirement.limit
        if isinstance(limit, LeastGap):
            cycles, fixed = _moving(case, pair.part, clock, limit.least)
            yield Margin(
                "spacing",
                f"{subject(case.program, access.address)} {after(case, pair)}",
                f"{limit.whose} needs {needed(limit.least)}",
                case.program.instructions[access.instruction].origin.place,
                pair.fewest - cycles,
                -fixed,
                (cycles, fixed),
                "" if pair.certain(requirement) else pair.why(requirement),
            )


def _moving(case: Case, part: Part, clock: Clock, limit: Duration) -> tuple[Fraction, Duration]:
    """A limit as cycles of the bus and a time that stays: a part clocked from the bus counts in its cycles."""
    if not isinstance(part.clock, BusClock):
        return Fraction(0), limit
    if limit not in _counted(case, part, clock):
        return Fraction(0), limit
    return limit.cycles(clock), Duration(Fraction(0))


def _counted(case: Case, part: Part, clock: Clock) -> set[Duration]:
    """The limits of a part that are counted in its own clock, as they are at a bus clock."""
    own = case.board.own_clock(part, clock)
    amounts = (row.amounts.get(part.grade.name) for row in part.family.limits)
    counts = [amount.count for amount in amounts if isinstance(amount, OwnClocks)]
    return {own.slowest.duration(count) for count in counts} if own is not None else set()


def _deadline(case: Case, pair: Pair) -> Iterator[Margin | Open]:
    access = pair.then.site.access
    place = case.program.instructions[access.instruction].origin.place
    for requirement in pair.requirements(case, case.clocks[0]):
        limit = requirement.limit
        if not isinstance(limit, MostGap) or pair.first is None or pair.through is not None:
            continue
        behind = where(case.program, pair.first.site.access.instruction, access.instruction)
        name = f"{subject(case.program, access.address)} {verb(access)}"
        if pair.most is None:
            yield Open(name, f"nothing bounds how long after {behind} it is {verb(access)}")
            continue
        yield Margin(
            "deadline",
            f"{name} up to {counted(pair.most, 'cycle')} after {behind}",
            f"{limit.whose} allows {limit.most.text(3, 'down')}",
            place,
            Fraction(-pair.most),
            limit.most,
            (Fraction(0), limit.most),
            "" if pair.certain(requirement) else pair.why(requirement),
        )


# -- waits and handlers --------------------------------------------------------------------------------------


def _waits(case: Case) -> Iterator[Margin | Open]:
    for each in stated(case):
        if isinstance(each, Stated):
            yield from _wait(case, each)


def _wait(case: Case, each: Stated) -> Iterator[Margin | Open]:
    takes = each.takes
    match each.spent:
        case Exact(cycles=least):
            most: int | None = least
        case Range(fewest=least, most=most):
            pass
        case Formula(text=text, inputs=inputs):
            yield Open(each.name, f"takes {text} cycles, and {', '.join(inputs)} is not known")
            return
        case Unknown(reason=reason):
            yield Open(each.name, reason)
            return
    place = case.program.instructions[each.index].origin.place
    slack = takes.tolerance.seconds if takes.tolerance is not None else Fraction(0)
    limit = (Fraction(0), takes.duration)
    if takes.kind != "at_most":
        fixed = Duration(slack - takes.duration.seconds)
        name = f"{each.name} takes {counted(least, 'cycle')}"
        yield Margin("wait", name, f"its note states {_said(takes)}", place, Fraction(least), fixed, limit)
    if most is not None and (takes.kind == "at_most" or takes.tolerance is not None):
        fixed = Duration(slack + takes.duration.seconds)
        name = f"{each.name} takes {counted(most, 'cycle')}"
        yield Margin(
            "deadline", name, f"its note states {_said(takes)}", place, Fraction(-most), fixed, limit
        )


def _said(takes: Takes) -> str:
    words = {"exact": "", "at_least": "at least ", "at_most": "at most "}[takes.kind]
    return f"{words}{takes.duration.text()}"


def _handlers(case: Case) -> Iterator[Margin | Open]:
    handlers = {handler.name: handler for handler in case.handlers}
    for interrupt in case.board.interrupts:
        handler = handlers.get(interrupt.name)
        if interrupt.period is None or handler is None:
            continue
        name = case.timings.graph.name(handler.entry)
        outcome = case.timings.analysis.outcome(Context(handler.entry))
        if handler.most is None or outcome.cost is None:
            yield Open(name, outcome.reason or f"the processor has no interrupt called {interrupt.name}")
            continue
        doubt = ""
        match total(outcome.cost, case.timings.graph):
            case Exact(cycles=most) | Range(most=most):
                pass
            case Formula(most=most, inputs=inputs):
                doubt = f"it depends on {', '.join(inputs)}"
            case Unknown(reason=reason):
                yield Open(name, reason)
                continue
        cycles = handler.most + most
        yield Margin(
            "deadline",
            f"{name} takes up to {counted(cycles, 'cycle')} with its entry",
            f"{interrupt.name} comes every {interrupt.period.text()}",
            case.program.instructions[handler.entry].origin.place,
            Fraction(-cycles),
            interrupt.period,
            (Fraction(0), interrupt.period),
            doubt,
        )


# -- hardware ------------------------------------------------------------------------------------------------


def _memory(case: Case) -> Iterator[Margin | Open]:
    clock = case.clocks[0]
    for budget in budgets(case.board, clock):
        for path in budget.paths:
            fixed = path.left.seconds - path.cycles / clock.hz
            yield Margin(
                "memory",
                f"{budget.area.name}: {path.kind} path",
                f"{path.whose} needs {path.needed.text()}",
                budget.area.place,
                path.cycles,
                Duration(fixed - path.needed.seconds),
                (Fraction(0), path.needed),
                tried=budget.area.tried,
            )
        for unsummed in budget.unsummed:
            yield Open(f"{budget.area.name}: {unsummed.kind} path", unsummed.reason)


def _grades(case: Case) -> Iterator[Margin]:
    tried = {part.name: part.tried for part in case.board.parts}
    tried |= {area.name: area.tried for area in case.board.areas}
    parts = {part.name for part in case.board.parts}
    several = int(case.program.cpu.clock.get("access", "1")) > 1
    for rating in case.board.ratings:
        found = _clocked(rating)
        if found is None:
            continue
        cycles, fixed = found
        sign = 1 if rating.bound == "most" else -1
        rated = Duration(1 / rating.clock.hz)
        stated = "" if rating.stated else ", the strictest grade, as none is stated"
        by_access = (
            several and rating.subject == "bus clock" and rating.bound == "most" and rating.name in parts
        )
        yield Margin(
            "grade",
            f"{rating.name}: a cycle of {'the bus' if rating.subject == 'bus clock' else 'its own clock'}",
            f"{rating.whose} is rated for at {rating.bound} {rating.clock.text()}{stated}",
            place_of(case, rating),
            sign * cycles,
            Duration(sign * (fixed.seconds - rated.seconds)),
            (Fraction(0), rated),
            "an access takes several cycles of the processor" if by_access else "",
            tried.get(rating.name, case.board.processor_tried),
        )


def _clocked(rating: Rating) -> tuple[Fraction, Duration] | None:
    """A cycle of what is rated: of the bus in cycles, or a time that stays; None where nothing is known of it."""
    if rating.subject == "bus clock":
        return Fraction(1), Duration(Fraction(0))
    match rating.clocked:
        case FixedClock(clock=own):
            side = own.fastest if rating.bound == "most" else own.slowest
            return Fraction(0), Duration(1 / side.hz)
        case BusClock(times=times):
            return 1 / times, Duration(Fraction(0))
        case None:
            return None
