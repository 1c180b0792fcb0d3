"""All that a program and its board require, each as a margin: what is to spare at any clock."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..board import (
    BusClock,
    FixedClock,
    LeastGap,
    MostGap,
    OwnClocks,
    Part,
    Rating,
    budgets,
    bus_needs,
    not_given,
)
from ..quantity import Clock, Duration
from ..source import Takes
from ..timing import Context, Exact, Formula, Range, Unknown
from ..timing.wording import total
from .access_too_soon import after
from .base import Case, Open, Strobes
from .follow import Followed, followed, place
from .frame import frames
from .margin import Kind, Line, Margin
from .over_rating import place_of
from .pair import Pair, pairs
from .pointer import astray
from .rate_off import TOLERANCE, number, wanted
from .stated import Stated, stated
from .use import uses
from .words import counted, needed, subject, verb, where


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
    yield from _rates(case)
    yield from _frames(case)
    yield from _memory(case)
    yield from _bus(case)
    yield from _grades(case)
    for text in case.board.unjudged:
        yield Open(*text.split(": ", 1))
    for row in astray(case.timings, case.board):
        at = f"{row.first.path}:{row.first.line}"
        yield Open(
            f"{row.count} access{'es' * (row.count != 1)} through {row.through}",
            f"the address is not known and may be a part's; the first is at {at}",
        )


# -- between accesses ----------------------------------------------------------------------------------------


def _spacing(case: Case, pair: Pair) -> Iterator[Margin]:
    clock = case.clocks[0]
    access = pair.then.site.access
    for requirement in pair.requirements(case, clock):
        limit = requirement.limit
        if isinstance(limit, LeastGap):
            cycles, fixed = _moving(case, pair.part, clock, limit.least)
            kind: Kind = "pulse" if pair.part.wires else "spacing"
            yield Margin(
                kind,
                f"{subject(case.program, access.address)} {after(case, pair)}",
                f"{limit.whose} needs {needed(limit.least)}{pair.in_mode(limit)}",
                case.program.instructions[access.instruction].origin.place,
                pair.fewest - cycles,
                -fixed,
                (cycles, fixed),
                "" if pair.certain(requirement) else pair.why(requirement),
                strobes=_strobes(case, pair),
            )


def _strobes(case: Case, pair: Pair) -> Strobes | None:
    return None if pair.first is None else Strobes(pair.fewest, pair.most, case.clocks)


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
            f"{limit.whose} allows {limit.most.text(3, 'down')}{pair.in_mode(limit)}",
            place,
            -pair.most - case.stretched,
            limit.most,
            (Fraction(0), limit.most),
            "" if pair.certain(requirement) else pair.why(requirement),
            strobes=_strobes(case, pair),
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
        cycles = case.timings.analysis.between(handler.entry).most(handler.most + most)
        yield Margin(
            "deadline",
            f"{name} takes up to {counted(cycles, 'cycle')} with its entry",
            f"{interrupt.name} comes every {interrupt.period.text()}",
            case.program.instructions[handler.entry].origin.place,
            -cycles - case.stretched,
            interrupt.period,
            (Fraction(0), interrupt.period),
            doubt,
        )


# -- rates ---------------------------------------------------------------------------------------------------


def _rates(case: Case) -> Iterator[Margin | Open]:
    found = list(followed(case))
    for each in found:
        if not isinstance(each, Followed):
            if each.moves:
                line = case.program.instructions[each.index].origin.place
                yield Open(f"{each.part.name} {each.output.name} at {line.path}:{line.line}", each.reason)
            continue
        if each.output.kind != "rate":
            continue
        want = wanted(case, each, [other for other in found if isinstance(other, Followed)])
        if want is None:
            yield Open(each.name, "state baud: to know which rate it is meant to have")
            continue
        shortest, longest = 1 / want / (1 + TOLERANCE), 1 / want / (1 - TOLERANCE)
        yield Margin(
            "rate",
            f"{each.name} with {each.said()}",
            f"{number(want)} baud to {TOLERANCE * 100} %",
            place(case, each.chain[0]),
            each.cycles,
            Duration(each.fixed.seconds - shortest),
            (Fraction(0), Duration(1 / want)),
            besides=Line(-each.cycles, Duration(longest - each.fixed.seconds)),
        )


def _frames(case: Case) -> Iterator[Margin | Open]:
    for each in frames(case):
        if isinstance(each, Open):
            yield each
            continue
        early, late = each.lines()
        edges = f"{len(each.edges)} bits"
        yield Margin(
            "rate",
            f"{each.part.name} {each.way} over {edges}",
            f"{number(1 / each.bit.seconds)} baud to {TOLERANCE * 100} %",
            case.program.instructions[each.index].origin.place,
            early.cycles,
            early.fixed,
            (Fraction(0), each.bit),
            besides=late,
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


def _bus(case: Case) -> Iterator[Margin | Open]:
    """What parts need of the bus; what no clock changes is told only where it is not given."""
    for lacking in not_given(case.board):
        yield Open(
            f"{lacking.name}: {', '.join(lacking.subjects)}",
            f"no source says what the {lacking.processor} gives in an access of a port; compare it with its sheet",
        )
    for need in bus_needs(case.board):
        fixed = need.fixed.seconds - need.needed.seconds
        if need.cycles == 0 and fixed >= 0:
            continue
        stated = "" if need.stated else ", the strictest grade, as none is stated"
        yield Margin(
            "bus",
            f"{need.name}: {need.subject}",
            f"{need.whose} needs {need.needed.text()}{stated}",
            need.place,
            need.cycles,
            Duration(fixed),
            (Fraction(0), need.needed),
            tried=need.tried,
        )


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
