"""over-rating: the processor or a part runs outside the clock it is rated for."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import BusClock, Family, FixedClock, Rating
from ..errors import Place
from ..quantity import Clock
from .base import Case, Finding, Open, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """One finding for each rating that a clock exceeds, at the clock that is furthest out.

    Where an access takes several cycles, a part's own cycle is one of the clock or one access: what is outside for
    the first alone is open.
    """
    parts = {part.name for part in case.board.parts}
    cycles = int(case.program.cpu.clock.get("access", "1"))
    for rating in case.board.ratings:
        if cycles > 1 and rating.subject == "bus clock" and rating.bound == "most" and rating.name in parts:
            yield from _by_access(case, rating, cycles)
            continue
        clocks = [
            _strict(rating, clock) for bus in case.clocks if (clock := _clocked(rating, bus)) is not None
        ]
        outside = [clock for clock in clocks if _outside(rating, clock)]
        if outside:
            yield _finding(case, rating, max(outside) if rating.bound == "most" else min(outside))


def _by_access(case: Case, rating: Rating, cycles: int) -> Iterator[Verdict]:
    fastest = max(case.clocks, default=None)
    if fastest is None or not _outside(rating, fastest):
        return
    if _outside(rating, Clock(fastest.hz / cycles)):
        yield _finding(case, rating, fastest)
        return
    yield Open(
        f"{rating.name} at {fastest.text()}",
        f"{rating.whose} is rated for at most {rating.clock.text()} of its own clock or enable, and an access takes "
        f"{cycles} cycles of the processor or more",
    )


def _clocked(rating: Rating, bus: Clock) -> Clock | None:
    """The clock the rating speaks of, when the bus runs at `bus`."""
    if rating.subject == "bus clock":
        return bus
    match rating.clocked:
        case FixedClock(clock=own):
            return own
        case BusClock(times=times):
            return bus.times(times)
        case None:
            return None


def _strict(rating: Rating, clock: Clock) -> Clock:
    return clock.fastest if rating.bound == "most" else clock.slowest


def _outside(rating: Rating, clock: Clock) -> bool:
    return clock > rating.clock if rating.bound == "most" else clock < rating.clock


def _finding(case: Case, rating: Rating, clock: Clock) -> Finding:
    limit = "at most" if rating.bound == "most" else "at least"
    runs = "runs" if rating.subject == "bus clock" else "is clocked"
    better = _better(case, rating, clock)
    taken = "" if rating.stated else ", the strictest grade, as none is stated"
    return Finding(
        name="over-rating",
        severity="error" if rating.stated else "warning",
        place=place_of(case, rating),
        message=(
            f"{rating.name} {runs} at {clock.text()}; {rating.whose} is rated for {limit} "
            f"{rating.clock.text()}{taken}{f'; {better}' if better else ''}"
        ),
        subject=rating.name,
        notes=(f"{rating.whose}: {limit} {rating.clock.text()}: {rating.evidence.text}",),
        clock=clock,
        holds_up_to=rating.clock if rating.bound == "most" else None,
    )


def _better(case: Case, rating: Rating, clock: Clock) -> str:
    """A grade of the same family that is rated for the clock."""
    family = _family(case, rating)
    for row in family.ratings if family and rating.bound == "most" else ():
        if (row.subject, row.bound) == (rating.subject, rating.bound):
            fitting = [name for name, rated in row.clocks.items() if rated >= clock]
            if fitting and family is not None:
                slowest = min(fitting, key=lambda name: row.clocks[name])
                grade = family.grade(slowest)
                return f"{grade.names[0] if grade and grade.names else slowest} is rated for it"
    return ""


def _family(case: Case, rating: Rating) -> Family | None:
    owned: dict[str, Family | None] = {area.name: area.family for area in case.board.areas}
    owned |= {part.name: part.family for part in case.board.parts}
    return owned.get(rating.name, case.board.processor_family)


def place_of(case: Case, rating: Rating) -> Place:
    stated = [part.place for part in case.board.parts if part.name == rating.name]
    stated += [area.place for area in case.board.areas if area.name == rating.name]
    return stated[0] if stated else Place(case.program.path)


RULE = Rule(
    name="over-rating",
    summary="The processor or a part runs outside the clock it is rated for",
    mend="",
    explanation="""
        What it finds: a clock that is judged above the fastest, or below the slowest, that the sheet of the processor
            or of a part gives for its grade. Where no grade is stated the strictest is taken and it is a warning.
        Why it matters: nobody promises that the part works there: in the cold, in the heat, or with the next one
            from the tube.
        Example: a 68A09 at 2 MHz; it is rated for 1.5 MHz, the 68B09 for 2 MHz.
        Mend: none is made; fit the faster grade, or state the grade that is fitted in the project file.
        When to leave it: at the owner's risk.
    """,
    judge=judge,
)
