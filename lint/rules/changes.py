"""What timers and tones do at another clock than the one they were written for: the two findings have one form."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from ..board import OutputKind
from ..quantity import Clock, Duration
from .base import Case, Finding, Holds, Open, Verdict
from .follow import Followed, Kept, followed, goal, named, place, said, written_at
from .setting import Setting
from .words import line

Said = Callable[[Duration], str]


def changes(
    case: Case, name: str, kind: OutputKind, told: Said, behind: Callable[[Fraction], str], least: Fraction
) -> Iterator[Verdict]:
    """One verdict for each output of the kind: a finding where it becomes another by more than `least`, at the clock
    that is furthest from the old one; it holds where it stays.

    `told` says how long something lasts, `behind` what so many times as long means.
    """
    if not case.clocks:
        return
    for each in followed(case):
        if each.output.kind != kind:
            continue
        old = written_at(case, each) if isinstance(each, Followed) else case.written_for
        if old is None:
            continue
        if not isinstance(each, Followed):
            if each.moves and any(clock != old for clock in case.clocks):
                where = line(case.program, each.index)
                yield Open(f"{each.part.name} {each.output.name} at {where}", each.reason)
            continue
        clock = max(case.clocks, key=lambda clock: _share(each, old, clock))
        ratio = each.at(clock).seconds / each.before(old).seconds
        if max(ratio, 1 / ratio) - 1 <= least:
            yield Holds(each.name, each.at(clock), each.before(old), None)
        else:
            yield _finding(case, name, each, (old, clock), told, behind(ratio))


def _share(each: Followed, old: Clock, clock: Clock) -> Fraction:
    ratio = each.at(clock).seconds / each.before(old).seconds
    return max(ratio, 1 / ratio)


def _finding(
    case: Case, name: str, each: Followed, clocks: tuple[Clock, Clock], told: Said, behind: str
) -> Finding:
    old, clock = clocks
    ratio = each.at(clock).seconds / each.before(old).seconds
    counter, kept = each.keep(1 / ratio)
    return Finding(
        name=name,
        severity="warning",
        place=place(case, counter),
        message=(
            f"{each.name}: {each.said()} makes {told(each.before(old))} at {old.text()} "
            f"and {told(each.at(clock))} at {clock.text()}{behind}; {keeping(each, counter, kept)}"
        ),
        subject=each.name,
        index=counter.index,
        notes=tuple(rests(case, each)),
        measured=each.at(clock),
        limit=each.before(old),
        clock=clock,
        goal=goal(case, counter, kept) if kept is not None and kept.error <= NEAR else None,
    )


# A number that misses by more than this does not keep it.
NEAR = Fraction(1, 100)


def keeping(each: Followed, counter: Setting, kept: Kept | None) -> str:
    """Which number of a divider would keep it, and how nearly."""
    whose = f"of {named(counter)} " if each.through else ""
    if kept is None or kept.numbers == counter.numbers:
        return f"no number {whose}keeps it"
    numbers = said(counter, dict(kept.numbers))
    if kept.error == 0:
        return f"{numbers} {whose}keeps it"
    if kept.error <= NEAR:
        return f"{numbers} {whose}keeps it to {per_cent(kept.error)}"
    return f"no number {whose}keeps it: {numbers}, the nearest, makes it {per_cent(kept.error)} {_way(kept)}"


def _way(kept: Kept) -> str:
    return "too long" if kept.share > 1 else "too short"


def per_cent(share: Fraction) -> str:
    """A share of one, in per cent, with three digits."""
    return f"{float(abs(share) * 100):.3g} %"


def rests(case: Case, each: Followed) -> Iterator[str]:
    """What the figure rests on: the formulas and their sources, and where each byte was written."""
    part = each.part
    for setting in each.chain[::-1]:
        output = setting.output
        of = f"{named(setting)}: " if each.through else ""
        counted = output.input if output.input in setting.part.inputs else f"the {output.clock}"
        yield f"{of}{output.periods.text} periods of {counted}: {output.evidence.text}"
        for register, index in setting.writers.items():
            yield f"{of}{register} is written at {line(case.program, index)}"
    if not part.grade_stated and len(each.output.grades) < len(part.family.grades):
        yield f"no grade is stated for {part.name}: {part.grade.name} is taken"
