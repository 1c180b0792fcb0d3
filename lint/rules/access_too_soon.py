"""access-too-soon: a part is accessed again before it is ready."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from ..board import LeastGap, Operation, Part
from ..quantity import Clock, Duration
from ..timing import Gap, Poll, Query, Site
from .base import Case, Finding, Holds, Open, PadGoal, Rule, Verdict
from .use import Use, uses
from .words import after, path_notes, subject


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each pair of accesses and each limit between them."""
    for pair in _pairs(case):
        yield pair.verdict(case)


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two accesses of one part, the fewest cycles between them, and what has to lie between them at each clock."""

    part: Part
    first: Use
    then: Use
    cycles: int
    gap: Gap | None
    limits: tuple[tuple[Clock, LeastGap], ...]
    certain: bool

    def verdict(self, case: Case) -> Verdict:
        broken = [(clock, limit) for clock, limit in self.limits if clock.duration(self.cycles) < limit.least]
        if not broken:
            clock, limit = self.limits[-1]
            return Holds(subject(case, self.then.site), clock.duration(self.cycles), limit.least, self._edge(limit))
        clock, limit = max(broken, key=lambda each: each[0])
        if limit.provided:
            return Open(subject(case, self.then.site), f"{limit.whose}: {limit.least.text()} only if {limit.provided}")
        return self._finding(case, clock, limit)

    def _edge(self, limit: LeastGap) -> Clock | None:
        return Clock(self.cycles / limit.least.seconds) if limit.least.seconds else None

    def _finding(self, case: Case, clock: Clock, limit: LeastGap) -> Finding:
        time = clock.duration(self.cycles)
        missing = ceil(limit.least.cycles(clock)) - self.cycles
        verb = "written" if self.then.site.access.way == "write" else "read"
        name = subject(case, self.then.site)
        whose = f"{limit.whose} needs {limit.least.text(4, 'up')}"
        message = (
            f"{name} {verb} {self.cycles} cycles after {self._first(case)}, {time.text()} at {clock.text()}; "
            f"{whose}; pad {missing} cycles"
        )
        then = case.timings.graph.program.instructions[self.then.site.access.instruction]
        goal = None if self.gap is None else PadGoal(self.first.site, self.then.site, missing, self.gap.path)
        return Finding(
            name="access-too-soon",
            severity="error" if self.certain else "warning",
            place=then.origin.place,
            message=message,
            subject=name,
            index=then.index,
            notes=tuple(self._notes(case, limit)),
            measured_cycles=self.cycles,
            measured=time,
            limit=limit.least,
            clock=clock,
            holds_up_to=self._edge(limit),
            short_before=self._short_before(case),
            hurts=self.part.hurts,
            goal=goal,
        )

    def _first(self, case: Case) -> str:
        return "reset" if self.gap is None else after(case, self.then.site, self.first.site)

    def _short_before(self, case: Case) -> bool:
        clock = case.written_for
        if clock is None:
            return False
        found = _limits(case, self.part, self.first.operations, self.then.operations, clock)
        return any(clock.duration(self.cycles) < limit.least for limit, _ in found)

    def _notes(self, case: Case, limit: LeastGap) -> Iterator[str]:
        if self.gap is not None:
            yield from path_notes(case, self.gap)
        names = " or ".join(dict.fromkeys(o.name for o in self.first.operations))
        yield f"limit: {limit.least.text(6, 'up')} after {names}, {limit.source}"
        if not self.certain:
            yield "the value written is not known; the strictest of what it may be is taken"
        if not self.part.mode_stated and len(self.part.family.modes) > 1:
            yield f"no mode is stated for {self.part.name}; {self.part.mode.name}, the strictest, is taken"
        if self._short_before(case):
            yield "short at the old clock as well"


def _pairs(case: Case) -> Iterator[_Pair]:
    for part in case.board.parts:
        own = _uses(case).get(part.name, [])
        found: dict[tuple[int, int, str], _Pair] = {}
        for row in _queries(case, part, own):
            for pair in row:
                key = (
                    pair.first.site.access.instruction if pair.gap else -1,
                    pair.then.site.access.instruction,
                    pair.limits[-1][1].source,
                )
                before = found.get(key)
                if before is None or pair.cycles < before.cycles:
                    found[key] = pair
        yield from found.values()


def _uses(case: Case) -> dict[str, list[Use]]:
    return dict(uses(case.timings, case.board))


def _queries(case: Case, part: Part, own: list[Use]) -> Iterator[list[_Pair]]:
    by_site = {use.site: use for use in own}
    for row in part.family.limits:
        if row.kind == "max_gap" or part.mode.name not in row.modes or part.grade.name not in row.amounts:
            continue
        firsts = {use.site for use in own if any(o.name in row.first for o in use.operations)}
        thens = {use.site for use in own if any(o.name in row.then for o in use.operations)}
        poll = part.family.poll(row.poll)

        def satisfied(seen: Poll, poll: object = poll) -> bool:
            return _ready(part, seen, poll)

        query = Query(firsts.__contains__, thens.__contains__, satisfied)
        made = []
        for gap in case.timings.gaps(query):
            pair = _pair(case, part, by_site[gap.first], by_site[gap.then], gap, row.first, row.then)
            if pair is not None:
                made.append(pair)
        reset = case.board.power_on(part)
        if reset is not None and reset.name in row.first:
            for site, cycles in case.timings.since_reset(Query(lambda _: False, thens.__contains__, satisfied)):
                first = Use(site, part, (reset,), True)
                made += _from_reset(case, part, first, by_site[site], cycles, row.then)
        yield made


def _ready(part: Part, seen: Poll, poll: object) -> bool:
    from ..board import Poll as PartPoll

    if not isinstance(poll, PartPoll) or poll.ready is None or poll.port not in part.ports:
        return False
    if seen.address != part.ports[poll.port]:
        return False
    return seen.mask & poll.mask == poll.mask and seen.result & poll.mask == poll.ready


def _pair(
    case: Case, part: Part, first: Use, then: Use, gap: Gap, names: frozenset[str], nexts: frozenset[str]
) -> _Pair | None:
    firsts = tuple(o for o in first.operations if o.name in names)
    thens = tuple(o for o in then.operations if o.name in nexts)
    certain = first.certain and then.certain and len(firsts) == len(first.operations)
    certain = certain and len(thens) == len(then.operations)
    limits = _strictest(case, part, firsts, thens)
    if not limits:
        return None
    return _Pair(
        part,
        Use(first.site, part, firsts, first.certain),
        Use(then.site, part, thens, then.certain),
        gap.fewest,
        gap,
        limits,
        certain,
    )


def _from_reset(
    case: Case, part: Part, first: Use, then: Use, cycles: int, nexts: frozenset[str]
) -> Iterator[_Pair]:
    thens = tuple(o for o in then.operations if o.name in nexts)
    limits = _strictest(case, part, first.operations, thens)
    if limits:
        certain = then.certain and len(thens) == len(then.operations)
        yield _Pair(part, first, Use(then.site, part, thens, then.certain), cycles, None, limits, certain)


def _strictest(
    case: Case, part: Part, firsts: tuple[Operation, ...], thens: tuple[Operation, ...]
) -> tuple[tuple[Clock, LeastGap], ...]:
    """At each clock the limit that asks for most, unconditional ones before others."""
    found = []
    for clock in sorted(case.clocks):
        limits = [limit for limit, _ in _limits(case, part, firsts, thens, clock)]
        if limits:
            found.append((clock, max(limits, key=lambda limit: (not limit.provided, limit.least))))
    return tuple(found)


def _limits(
    case: Case, part: Part, firsts: tuple[Operation, ...], thens: tuple[Operation, ...], clock: Clock
) -> Iterator[tuple[LeastGap, Operation]]:
    for first in firsts:
        for then in thens:
            for limit in case.board.limits(part, first, then, clock):
                if isinstance(limit, LeastGap):
                    yield limit, first


RULE = Rule(
    name="access-too-soon",
    summary="A part is accessed again before it is ready",
    mend="pad",
    explanation="""
        What it finds: two accesses to one part with less time between their bus cycles than the part needs, at a
            clock that is judged. The fewest cycles over all known ways count: through calls, round loops.
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

__all__ = ["RULE", "Duration", "Site", "judge"]
