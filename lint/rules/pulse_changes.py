"""pulse-changes: an output that can hurt stays on for another time at the new clock."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import Part
from ..source import Takes
from ..timing import Gap
from .base import Case, Finding, Rule, Verdict
from .hurting import pulses
from .words import counted, lasting, path_notes, subject, where


def judge(case: Case) -> Iterator[Verdict]:
    """One finding for each two writes that follow each other after a time that the clock decides."""
    old = case.written_for
    others = [clock for clock in case.clocks if clock != old]
    if old is None or not others:
        return
    worst: dict[tuple[int, int], tuple[Part, Gap]] = {}
    stated = {bound.index for bound in case.program.notes if isinstance(bound.note.note, Takes)}
    for part, gap in pulses(case):
        # A pulse whose wait has a note is judged by the note, at every clock.
        if gap.most is not None and not stated & set(gap.path):
            key = gap.first.access.instruction, gap.then.access.instruction
            if key not in worst or gap.most > (worst[key][1].most or 0):
                worst[key] = part, gap
    for part, gap in worst.values():
        yield _finding(case, part, gap)


def _finding(case: Case, part: Part, gap: Gap) -> Finding:
    old = case.written_for
    assert old is not None
    assert gap.most is not None
    clock = max((clock for clock in case.clocks if clock != old), key=lambda clock: abs(clock.hz - old.hz))
    access = gap.then.access
    name = subject(case.program, access.address)
    cycles = f"up to {gap.most} cycles" if gap.fewest != gap.most else counted(gap.most, "cycle")
    after = where(case.program, gap.first.access.instruction, access.instruction)
    return Finding(
        name="pulse-changes",
        severity="warning",
        place=case.program.instructions[access.instruction].origin.place,
        message=f"{name} written {cycles} after {after}, {lasting(gap.most, old)} and {lasting(gap.most, clock)}",
        subject=name,
        index=access.instruction,
        notes=(
            *path_notes(case.program, gap.path),
            f"{part.name} can hurt people or equipment{f': {part.note}' if part.note else ''}",
        ),
        measured_cycles=gap.most,
        measured=clock.duration(gap.most),
        limit=old.duration(gap.most),
        clock=clock,
        hurts=True,
    )


RULE = Rule(
    name="pulse-changes",
    summary="An output that can hurt stays on for another time at another clock",
    mend="",
    explanation="""
        What it finds: two writes to an output marked with hurts: in the project file, one after the other, with a
            time between them that the clock decides. Known from the clock the source was written for.
        Why it matters: at a slower clock a coil stays on longer and burns; at a faster one a striker hits softly, or a
            programming pulse is too short.
        Example: STA STRIKE / JSR DELAY / CLR STRIKE: 20 ms at 1 MHz are 10 ms at 2 MHz.
        Mend: shown, never written. Make it by hand, and try it with the coil or the heater disconnected first.
        When to leave it: the output takes every length that comes up. Accept it with that reason.
    """,
    judge=judge,
)
