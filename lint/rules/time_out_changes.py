"""time-out-changes: a loop that waits for a part gives up after another time at another clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from operator import itemgetter

from ..quantity import Clock, Duration
from ..source import GivesUp
from ..timing import Context, Exact, LoopTiming, Poll, Range
from .base import Case, Finding, Holds, Open, Rule, Verdict, WaitGoal
from .stated import spoken_for
from .words import counted, lasting, subject


@dataclass(frozen=True, slots=True)
class TimeOut:
    """A loop that ends when a part is ready, or after so many cycles at most; `stated` is what its note says."""

    loop: LoopTiming
    poll: Poll
    cycles: int
    stated: Duration | None

    @property
    def turn(self) -> int:
        """Cycles of a turn, rounded up."""
        trips = self.loop.trips
        turns = trips.most if isinstance(trips, Range) else trips.cycles if isinstance(trips, Exact) else 1
        return -(-self.cycles // max(turns, 1))


def time_outs(case: Case) -> Iterator[TimeOut]:
    """Every poll that gives up after a count, the outermost loop of each, in the order of the source.

    One with a note that states how long it takes is left out: that is judged by itself.
    """
    found: dict[int, TimeOut] = {}
    inside: set[int] = set()
    polls = _polls(case)
    for loop in sorted(case.timings.loops, key=lambda loop: -len(loop.key.nodes)):
        match loop.total:
            case Range(most=most) | Exact(cycles=most):
                poll = _way_out(polls, loop)
                if poll is not None and not loop.key.nodes <= inside:
                    inside |= loop.key.nodes
                    if not spoken_for(case, loop.key.nodes):
                        found[loop.head] = TimeOut(loop, poll, most, _stated(case, loop))
            case _:
                pass
    for head in sorted(found):
        yield found[head]


def longest(lasts: Duration, out: TimeOut, clock: Clock) -> Duration:
    """The longest time that is still the same time-out: one count more does not matter, nor does 1 %."""
    return Duration(lasts.seconds * 101 / 100 + clock.duration(out.turn).seconds)


def _stated(case: Case, loop: LoopTiming) -> Duration | None:
    notes = (bound.note.note for bound in case.program.notes if bound.index in loop.key.nodes)
    return next((note.duration for note in notes if isinstance(note, GivesUp)), None)


# By the branch it is taken at: where it stands among all, where it goes, and what is read.
_Polls = Mapping[int, list[tuple[int, int, Poll]]]


def _polls(case: Case) -> _Polls:
    """Every branch taken on what a port gave, as routines run."""
    found: dict[int, list[tuple[int, int, Poll]]] = {}
    order = count()
    for entry in dict.fromkeys(context.entry for context in case.timings.contexts()):
        for (source, target), poll in case.timings.analysis.outcome(Context(entry)).polls.items():
            found.setdefault(source, []).append((next(order), target, poll))
    return found


def _way_out(polls: _Polls, loop: LoopTiming) -> Poll | None:
    """What is read to leave the loop before its count has run out: the first that is come by."""
    nodes = loop.key.nodes
    ways = (way for node in nodes for way in polls.get(node, ()) if way[1] not in nodes)
    first = min(ways, key=itemgetter(0), default=None)
    return None if first is None else first[2]


def judge(case: Case) -> Iterator[Verdict]:
    """One note for each poll that gives up, where the clock it was written for is known and another is judged.

    Where a note states its time, that is judged at every clock.
    """
    found = tuple(time_outs(case))
    yield from _by_note(case, [each for each in found if each.stated is not None])
    yield from _unbound(case, found)
    old = case.written_for
    others = [clock for clock in case.clocks if clock != old]
    if old is None or not others:
        return
    clock = max(others, key=lambda clock: abs(clock.hz - old.hz))
    for each in found:
        loop = each.loop
        if each.stated is not None:
            continue
        port = subject(case.program, each.poll.address)
        yield Finding(
            name=RULE.name,
            severity="note",
            place=case.program.instructions[loop.head].origin.place,
            message=(
                f"{loop.name} gives up on {port} after {counted(each.cycles, 'cycle')} at most, "
                f"{lasting(each.cycles, old)} and {lasting(each.cycles, clock)}; "
                f"{float(clock.hz / old.hz):.6g} times its count keeps the time"
            ),
            subject=loop.name,
            index=loop.head,
            measured_cycles=each.cycles,
            measured=clock.duration(each.cycles),
            limit=old.duration(each.cycles),
            clock=clock,
            goal=WaitGoal(loop.head, True, old.duration(each.cycles), None),
        )


def _by_note(case: Case, found: list[TimeOut]) -> Iterator[Verdict]:
    for each in found:
        assert each.stated is not None
        loop, stated = each.loop, each.stated
        port = subject(case.program, each.poll.address)
        clocks = sorted(
            case.clocks, key=lambda clock: abs(clock.duration(each.cycles).seconds - stated.seconds)
        )
        for clock in clocks[-1:]:
            there = clock.duration(each.cycles)
            if stated.seconds <= there.seconds <= longest(stated, each, clock).seconds:
                yield Holds(loop.name, there, stated, None)
                continue
            short = there.seconds < stated.seconds
            yield Finding(
                name=RULE.name,
                severity="warning" if short else "note",
                place=case.program.instructions[loop.head].origin.place,
                message=(
                    f"{loop.name} gives up on {port} after {counted(each.cycles, 'cycle')} at most, "
                    f"{lasting(each.cycles, clock)}; its note states {stated.text()}; "
                    f"{float(stated.seconds / there.seconds):.6g} times its count keeps the time"
                ),
                subject=loop.name,
                index=loop.head,
                measured_cycles=each.cycles,
                measured=there,
                limit=stated,
                clock=clock,
                goal=WaitGoal(loop.head, True, stated, None),
            )


def _unbound(case: Case, found: tuple[TimeOut, ...]) -> Iterator[Verdict]:
    """Notes that stand at no loop that gives up."""
    inside = {node for each in found for node in each.loop.key.nodes}
    for bound in case.program.notes:
        if isinstance(bound.note.note, GivesUp) and bound.index not in inside:
            place = bound.origin.place
            yield Open(
                f"the note at {place.path}:{place.line}",
                "no poll that gives up after a known count stands there",
            )


RULE = Rule(
    name="time-out-changes",
    summary="A loop that waits for a part gives up after another time at another clock",
    mend="retime",
    explanation="""
        What it finds: a loop that ends when a port gives what is waited for, and counts to give up if that does not
            come, at a clock other than the one the source was written for. Its time is that of all turns.
        Why it matters: at a faster clock it gives up before a slow part has had its time; a motor that starts, a disk
            that turns, a key that is typed do not get faster.
        Example: 5000 turns of 18 cycles give up after 90 ms at 1 MHz and after 45 ms at 2 MHz.
        Mend: `retime` sets its count, rounded up, where nobody reads what is left of it, and writes the time as a note;
            `timing: gives up after 90 ms` is then judged at every clock.
        When to leave it: the part is ready long before either. Accept it with that reason.
    """,
    judge=judge,
)
