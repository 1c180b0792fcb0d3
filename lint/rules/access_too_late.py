"""access-too-late: a part is accessed again later than it allows."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import MostGap, Requirement
from ..quantity import Clock
from .base import Case, Finding, Holds, Open, Rule, Strobes, Verdict
from .pair import Pair, pairs
from .use import Use, uses
from .words import counted, lasting, path_notes, subject, verb, where


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each two accesses of a part with a longest time between them, at the slowest clock."""
    if not case.clocks or not any(
        r.kind == "max_gap" for part in case.board.parts for r in part.family.limits
    ):
        return
    told = uses(case.timings, case.board, case.handlers)
    for part in case.board.parts:
        for pair in pairs(case, part, told[part.name], most=True):
            for requirement in pair.requirements(case, _slowest(case)):
                if isinstance(requirement.limit, MostGap) and pair.first is not None and pair.through is None:
                    yield _verdict(case, pair, pair.first, requirement, requirement.limit)


def _verdict(case: Case, pair: Pair, first: Use, requirement: Requirement, limit: MostGap) -> Verdict:
    clock = _slowest(case)
    access = pair.then.site.access
    place = case.program.instructions[access.instruction].origin.place
    after = where(case.program, first.site.access.instruction, access.instruction)
    name = subject(case.program, access.address)
    allowed = f"{limit.whose} allows {limit.most.text(3, 'down')}{pair.in_mode(limit)}"
    if pair.most is None:
        return Open(
            f"{name} at {place.path}:{place.line}",
            f"nothing bounds how long after {after} it is {verb(access)}; {allowed}",
        )
    lasts = clock.duration(pair.most + case.stretched)
    if lasts <= limit.most:
        return Holds(f"{name} {verb(access)} after {after}", lasts, limit.most, None)
    spent = f"{verb(access)} up to {counted(pair.most, 'cycle')} after {after}, {lasting(pair.most, clock)}"
    if not requirement.certain or not (first.certain and pair.then.certain):
        return Open(f"{name} at {place.path}:{place.line}", f"{spent}; {allowed}: {pair.why(requirement)}")
    strobes = Strobes(pair.fewest, pair.most, case.clocks)
    return Finding(
        name="access-too-late",
        severity="error",
        place=place,
        message=f"{name} {spent}; {allowed}",
        subject=name,
        index=access.instruction,
        notes=(
            *path_notes(case.program, pair.path),
            strobes.note(),
            f"{limit.whose}: {limit.most.text()}: {limit.source}",
            *pair.mode_notes(case, limit, clock),
        ),
        measured_cycles=pair.most,
        measured=lasts,
        limit=limit.most,
        clock=clock,
        whose=limit.whose,
        short_before=_long_before(case, pair, limit),
        hurts=pair.part.hurts,
        strobes=strobes,
    )


def _slowest(case: Case) -> Clock:
    return min(clock.slowest for clock in case.clocks)


def _long_before(case: Case, pair: Pair, limit: MostGap) -> bool:
    old = case.written_for
    return old is not None and pair.most is not None and old.duration(pair.most) > limit.most


RULE = Rule(
    name="access-too-late",
    summary="A part is accessed again later than it allows",
    mend="",
    explanation="""
        What it finds: two accesses to one part with more time between their bus cycles than the part allows, at the
            slowest clock that is judged. The longest known way counts.
        Why it matters: the part goes on without the second access: a page is written with a byte missing, a driver
            stays on.
        Example: bytes of one page of a 28C256 written from a slow loop; 150 us after a byte the part writes what it
            has.
        Mend: none is made; shorten the way, or run it at a faster clock.
        When to leave it: the longest way never runs with the part in that state. Accept it with that reason.
    """,
    judge=judge,
)
