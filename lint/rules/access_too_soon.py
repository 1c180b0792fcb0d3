"""access-too-soon: a part is accessed again before it is ready."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from ..board import BusClock, LeastGap, Part, Requirement
from ..quantity import Clock
from .base import Case, Finding, Holds, Open, PadGoal, Rule, Strobes, Verdict
from .pair import Pair, pairs
from .use import uses
from .words import counted, lasting, needed, path_notes, subject, verb, where


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each two accesses of a part between which it needs time: the worst over all ways."""
    told = uses(case.timings, case.board, case.handlers)
    for part in case.board.parts:
        by_lines: dict[tuple[int, int], list[Pair]] = {}
        for pair in pairs(case, part, told[part.name], most=False):
            by_lines.setdefault(pair.lines, []).append(pair)
        for lines in sorted(by_lines, key=lambda lines: (lines[1], lines[0])):
            yield from _verdict(case, by_lines[lines])
    for text in case.board.unjudged:
        yield Open(*text.split(": ", 1))


@dataclass(frozen=True, slots=True)
class _Need:
    """What one pair needs at one clock."""

    pair: Pair
    clock: Clock
    requirement: Requirement
    limit: LeastGap

    @property
    def missing(self) -> int:
        """Cycles that are missing between the two; zero or less where there are enough."""
        return ceil(self.limit.least.cycles(self.clock)) - self.pair.fewest

    @property
    def certain(self) -> bool:
        return self.pair.certain(self.requirement)


def _needs(case: Case, found: Sequence[Pair], clock: Clock) -> list[_Need]:
    return [
        _Need(pair, clock, requirement, requirement.limit)
        for pair in found
        for requirement in pair.requirements(case, clock)
        if isinstance(requirement.limit, LeastGap)
    ]


def _verdict(case: Case, found: Sequence[Pair]) -> Iterator[Verdict]:
    needs = [
        need
        for clock in sorted(clock.fastest for clock in case.clocks)
        for need in _needs(case, found, clock)
    ]
    short = [need for need in needs if need.missing > 0]
    faults = [need for need in short if need.certain]
    if faults:
        worst = max(faults, key=lambda need: (need.clock, need.missing))
        yield _finding(
            case, worst, [need for need in short if need.clock == worst.clock and not need.certain]
        )
    elif short:
        yield _open(case, max(short, key=lambda need: (need.clock, need.missing)))
    elif needs:
        yield _holds(case, needs)


def _holds(case: Case, needs: Sequence[_Need]) -> Holds:
    tight = max(needs, key=lambda need: (need.clock, need.missing))
    fastest = [clock for clock in map(_holds_up_to, needs) if clock is not None]
    return Holds(
        f"{subject(case.program, tight.pair.then.site.access.address)} {after(case, tight.pair)}",
        tight.clock.duration(tight.pair.fewest),
        tight.limit.least,
        min(fastest, default=None),
    )


def _holds_up_to(need: _Need) -> Clock | None:
    """The fastest clock at which the pair is far enough apart; None where the need moves with the clock."""
    return None if _moves(need.pair.part) else Clock(need.pair.fewest / need.limit.least.seconds)


def _moves(part: Part) -> bool:
    return isinstance(part.clock, BusClock)


def _open(case: Case, need: _Need) -> Open:
    place = case.program.instructions[need.pair.then.site.access.instruction].origin.place
    name = subject(case.program, need.pair.then.site.access.address)
    return Open(
        f"{name} at {place.path}:{place.line}",
        f"{after(case, need.pair)}, {lasting(need.pair.fewest, need.clock)}, and {need.limit.whose} may need "
        f"{needed(need.limit.least)}{need.pair.in_mode(need.limit)}: {need.pair.why(need.requirement)}",
    )


def after(case: Case, pair: Pair) -> str:
    """How far behind what the access comes: "written 62 cycles after line 1"."""
    access = pair.then.site.access
    cycles = counted(pair.fewest, "cycle")
    if pair.first is None:
        return f"{verb(access)} {cycles} after reset"
    first = pair.first.site.access
    if first.instruction == access.instruction and pair.through is None:
        return f"{verb(access)} every {cycles}" if first == access else f"{verb(access)} {cycles} apart"
    through = f" through {pair.through.name}" if pair.through else ""
    return (
        f"{verb(access)} {cycles} after {where(case.program, first.instruction, access.instruction)}{through}"
    )


def _finding(case: Case, need: _Need, doubtful: Sequence[_Need]) -> Finding:
    pair, limit, clock = need.pair, need.limit, need.clock
    access = pair.then.site.access
    name = subject(case.program, access.address)
    message = (
        f"{name} {after(case, pair)}, {lasting(pair.fewest, clock)}; "
        f"{limit.whose} needs {needed(limit.least)}{pair.in_mode(limit)}; pad {counted(need.missing, 'cycle')}"
    )
    before = _short_before(case, need)
    goal = None
    strobes = Strobes(pair.fewest, pair.most, case.clocks) if pair.first is not None else None
    if pair.first is not None:
        goal = PadGoal(pair.first.site, pair.then.site, need.missing, pair.path, need.limit)
    return Finding(
        name="access-too-soon",
        severity="error",
        place=case.program.instructions[access.instruction].origin.place,
        message=message,
        subject=name,
        index=access.instruction,
        notes=(
            *path_notes(case.program, pair.path),
            *([strobes.note()] if strobes else ()),
            *_rests(case, need, doubtful),
            *[_BEFORE] * before,
        ),
        measured_cycles=pair.fewest,
        measured=clock.duration(pair.fewest),
        limit=limit.least,
        clock=clock,
        whose=limit.whose,
        holds_up_to=_holds_up_to(need),
        short_before=before,
        hurts=pair.part.hurts,
        goal=goal,
        strobes=strobes,
    )


_BEFORE = "short at the old clock as well"


def _short_before(case: Case, need: _Need) -> bool:
    old = case.written_for
    if old is None:
        return False
    return any(each.missing > 0 and each.certain for each in _needs(case, [need.pair], old))


def _rests(case: Case, need: _Need, doubtful: Sequence[_Need]) -> Iterator[str]:
    """What the figure rests on: its source, and what was taken because nothing is stated."""
    limit, part = need.limit, need.pair.part
    condition = f" ({limit.evidence.condition})" if limit.evidence.condition else ""
    yield f"{limit.whose}: {limit.least.text(6, 'up')} after {need.requirement.first.name}{condition}: {limit.source}"
    if need.pair.through is not None:
        yield f"an interrupt can come between the two: {need.pair.through.name}"
    yield from need.pair.mode_notes(case, limit, need.clock)
    if not part.grade_stated and len(part.family.grades) > 1:
        yield f"no grade is stated for {part.name}: {part.grade.name}, the strictest, is taken"
    own = part.family.own_clock
    if part.clock is None and own is not None and own.slowest is not None:
        yield f"no clock is stated for {part.name}: {own.slowest.text()}, the slowest it may have, is taken"
    if need.pair.first is not None and need.pair.first.open and not doubtful:
        names = " or ".join(operation.name for operation in need.pair.first.operations)
        yield f"{need.pair.first.open}; the figure holds whichever it is: {names}"
    stricter = [each for each in doubtful if each.missing > need.missing]
    if stricter:
        most = max(stricter, key=lambda each: each.missing)
        yield f"{needed(most.limit.least)} may be needed: {most.pair.why(most.requirement)}"


RULE = Rule(
    name="access-too-soon",
    summary="A part is accessed again before it is ready",
    mend="pad",
    explanation="""
        What it finds: two accesses to one part with less time between their bus cycles than the part needs, at a
            clock that is judged. The fewest cycles over all known ways count: through calls, round loops, and through
            interrupts whose handlers touch the part.
        Why it matters: the second access is lost or garbled. Code that kept the distance at the old clock breaks
            silently at a faster one.
        Example: STA LCDCMD / LDB #11 / WAIT: DECB / BNE WAIT / STA LCDCMD leaves 62 cycles, which is 31 us at
            2 MHz; a 44780 needs 52.6 us.
        Mend: `pad` adds cycles between the two, from instructions that touch nothing live; a fixed wait on the way
            is retimed instead.
        When to leave it: the part is ready for a reason that can't be seen in the source. Accept the finding with
            that reason, in a timing note or in the project file.
    """,
    judge=judge,
)
