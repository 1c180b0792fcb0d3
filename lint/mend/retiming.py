"""Turns solved counts into edits: the operand or the constant behind it, pads, and the wait's time as a note."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..chain import Chain
from ..flow import liveness
from ..quantity import Clock
from ..rules.stated import own_clock
from ..timing import Formula, Range, Wait, open_waits, ranged_waits, waits
from .clocksymbol import scaled_by
from .goal import Goal, Key, Untouched, Wanted, key
from .maker import Maker, Retimed
from .model import Left
from .padding import Pads
from .reach import reach
from .region import Regions
from .retime import NoSolution, Retimer, Solution
from .served import Served
from .use import Use, use_of


def retimings(
    chain: Chain,
    clock: Clock,
    written_for: Clock | None,
    goals: Mapping[Key, Goal],
    made: frozenset[int] = frozenset(),
) -> list[tuple[Wait, Retimed | Left]]:
    """Every wait that has to change at the new clock: how, or why it is left. Without a goal it is none of them.

    `made` are the waits already retimed, by index: one that calls them and can't be solved gets its note all the
    same, or a second run would take what it lasts now for what it lasted.
    """
    live = liveness(chain.graph)
    retimer = Retimer(chain.timings, Pads(chain.timings, live), Regions(chain.timings, live))
    maker = Maker(chain, clock, written_for)
    found: list[tuple[Wait, Retimed | Left]] = []
    enough: list[tuple[Wait, Retimed | Left]] = []
    served = Served(chain, clock, written_for)
    for wait in waits(chain.timings):
        goal = goals.get(key(wait))
        if goal is None or (isinstance(goal, Wanted) and goal.met(wait.cycles)):
            continue
        reason = served.reason(wait) if isinstance(goal, Wanted) and not goal.stated else ""
        if reason:
            place = chain.program.instructions[wait.index].origin.place
            enough.append((wait, Left(wait.name, place, f"long enough as it is: {reason}")))
        else:
            found.append((wait, _retiming(chain, retimer, maker, wait, goal, made)))
    apart = {_target(chain, wait) for wait, _ in enough}
    shared = [(wait, each) for wait, each in found if _target(chain, wait) not in apart]
    alone = [(wait, each) for wait, each in found if _target(chain, wait) in apart]
    return [*_together(chain, retimer, maker, shared, goals), *alone, *enough]


def _together(
    chain: Chain,
    retimer: Retimer,
    maker: Maker,
    found: list[tuple[Wait, Retimed | Left]],
    goals: Mapping[Key, Goal],
) -> list[tuple[Wait, Retimed | Left]]:
    """Calls of one routine share a count in it, or a pad, where one of them has no count of its own that would do."""
    results = {key(wait): (wait, each) for wait, each in found}
    for target in dict.fromkeys(_target(chain, wait) for wait, each in found if isinstance(each, Left)):
        if target is not None:
            shared = _shared(chain, retimer, maker, target, goals)
            # All or none: a pad that serves one call makes the others longer as well.
            if all(isinstance(each, Retimed) and each.evidence.grade == "proved" for _, each in shared):
                results |= {key(wait): (wait, each) for wait, each in shared}
    return list(results.values())


def _shared(
    chain: Chain, retimer: Retimer, maker: Maker, target: int, goals: Mapping[Key, Goal]
) -> list[tuple[Wait, Retimed | Left]]:
    calls = [wait for wait in waits(chain.timings) if _target(chain, wait) == target]
    wanted = [goal for wait in calls if isinstance(goal := goals.get(key(wait)), Wanted)]
    if len(wanted) != sum(call.target == target for call in chain.graph.calls.values()):
        return []
    aims = [(wait, *goal.aim) for wait, goal in zip(calls, wanted, strict=True)]
    solutions = retimer.solve_together(aims) or retimer.solve_apart(aims)
    return [
        (wait, maker.retimed(wait, goal, solution, use_of(chain, wait)))
        for wait, goal, solution in zip(calls, wanted, solutions, strict=False)
    ]


def _target(chain: Chain, wait: Wait) -> int | None:
    return chain.graph.calls[wait.index].target if wait.kind == "call" else None


def _retiming(
    chain: Chain, retimer: Retimer, maker: Maker, wait: Wait, goal: Goal, made: frozenset[int]
) -> Retimed | Left:
    clock, written_for = maker.clock, maker.written_for
    place = chain.program.instructions[wait.index].origin.place
    if isinstance(goal, Untouched):
        return Left(wait.name, place, goal.reason)
    symbol = scaled_by(chain, wait)
    if symbol:
        reason = f"scaled by {symbol} already; give it the value for {clock.text()}"
        return Left(wait.name, place, f"{maker.short(wait, goal)}; {reason}")
    use = use_of(chain, wait)
    nearest = None
    if use.frame is not None and written_for is not None and use.frame.cycles:
        nearest = use.frame.cell(wait, clock.hz / written_for.hz)
    solutions = retimer.solve(wait, *goal.aim, nearest)
    # Calls of one routine may still find a count that they share.
    alone = goal.stated or (wait.kind != "call" and wait.cycles < goal.least)
    if isinstance(solutions, NoSolution) and goal.beyond is not None and alone:
        farther = retimer.solve(wait, goal.least, goal.beyond, nearest)
        solutions = solutions if isinstance(farther, NoSolution) else farther
    if isinstance(solutions, NoSolution):
        if made & reach(chain.graph, wait) and not goal.stated:
            as_it_is = Solution(wait.index, None, 0, (), wait.cycles)
            return maker.retimed(wait, goal, as_it_is, Use("wait", "it does nothing but last"))
        return Left(wait.name, place, f"{maker.short(wait, goal)}; {solutions.reason}")
    return _first_proved(maker.retimed(wait, goal, solution, use) for solution in solutions)


def _first_proved(tried: Iterator[Retimed | Left]) -> Retimed | Left:
    """The least change that is proved, else the least that can be made, else the reason why the least can't."""
    seen: list[Retimed | Left] = []
    for each in tried:
        if isinstance(each, Retimed) and each.evidence.grade == "proved":
            return each
        seen.append(each)
    return next((each for each in seen if isinstance(each, Retimed)), seen[0])


def unsolved(chain: Chain, clock: Clock, written_for: Clock | None) -> Iterator[Left]:
    """Waits that follow the clock and that no single count keeps.

    Their callers decide at run time how long, or they take more or fewer cycles from one time to the next.
    """
    for routine in (*open_waits(chain.timings), *ranged_waits(chain.timings)):
        own = own_clock(chain.program, routine.entry.index) or written_for
        if own is None or own == clock:
            continue
        total = routine.total
        if isinstance(total, Range):
            takes = f"{total.fewest} to {total.most} cycles, and no count is solved for a range"
            what = "change its count by hand"
        else:
            assert isinstance(total, Formula)
            takes = f"{total.text} cycles, and some of its callers decide at run time"
            what = "change its own count by hand, or what they hand over"
        place = chain.program.instructions[routine.entry.index].origin.place
        yield Left(routine.entry.name, place, f"it takes {takes}; {what}")
