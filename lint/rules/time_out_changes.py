"""time-out-changes: a loop that waits for a part gives up after another time at another clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from operator import itemgetter

from ..timing import Context, Exact, LoopTiming, Poll, Range
from .base import Case, Finding, Rule, Verdict, WaitGoal
from .stated import spoken_for
from .words import counted, lasting, subject


@dataclass(frozen=True, slots=True)
class TimeOut:
    """A loop that ends when a part is ready, or after so many cycles at most."""

    loop: LoopTiming
    poll: Poll
    cycles: int


def time_outs(case: Case) -> Iterator[TimeOut]:
    """Every poll that gives up after a count, the outermost loop of each, in the order of the source.

    One with a timing note is left out: its time is judged by the note.
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
                        found[loop.head] = TimeOut(loop, poll, most)
            case _:
                pass
    for head in sorted(found):
        yield found[head]


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
    """One note for each poll that gives up, where the clock it was written for is known and another is judged."""
    old = case.written_for
    others = [clock for clock in case.clocks if clock != old]
    if old is None or not others:
        return
    clock = max(others, key=lambda clock: abs(clock.hz - old.hz))
    for each in time_outs(case):
        loop = each.loop
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


RULE = Rule(
    name="time-out-changes",
    summary="A loop that waits for a part gives up after another time at another clock",
    mend="",
    explanation="""
        What it finds: a loop that ends when a port gives what is waited for, and counts to give up if that does not
            come, at a clock other than the one the source was written for. Its time is that of all turns.
        Why it matters: at a faster clock it gives up before a slow part has had its time; a motor that starts, a disk
            that turns, a key that is typed do not get faster.
        Example: 5000 turns of 18 cycles give up after 90 ms at 1 MHz and after 45 ms at 2 MHz.
        Mend: none is made; multiply its count, or put another loop around it. A timing note that states how long it
            has to last is judged at every clock.
        When to leave it: the part is ready long before either. Accept it with that reason.
    """,
    judge=judge,
)
