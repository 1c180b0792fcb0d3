"""Turns solved counts into edits: the operand or the constant behind it, pads, and the wait's time as a note."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..assemble import Instruction, OperandNumber, Origin, Program
from ..chain import Chain
from ..errors import Place
from ..flow import liveness
from ..quantity import Clock, Duration
from ..source import Edit, Source
from ..timing import Formula, Range, Wait, open_waits, waits
from .goal import Goal, Key, Untouched, Wanted, key, written
from .knob import measure
from .model import Evidence, Left
from .number import respell
from .padding import Padding, Pads, moved
from .proof import compared, within
from .reach import reach
from .retime import NoSolution, Retimer, Solution
from .served import Served
from .text import noted, replaced
from .trial import STATES, agree
from .use import Use, use_of


@dataclass(frozen=True, slots=True)
class Retimed:
    """A wait, its solution, and the edits by file. `wait` speaks of the program before the edits.

    `note` is the edit among them that writes the wait's time beside it, where that is not there yet.
    """

    wait: Wait
    solution: Solution
    subject: str
    place: Place
    places: tuple[Place, ...]
    reason: str
    result: str
    evidence: Evidence
    edits: Mapping[str, list[Edit]]
    note: tuple[str, Edit] | None

    def lasts_in(self, edited: Chain, together: Sequence[Retimed]) -> bool:
        """Whether the wait, counted in the edited program, lasts what it was solved for."""
        paddings = pads_of(together)
        kind, index = key(self.wait)
        sought = (kind, moved(index, paddings))
        found = next((wait for wait in waits(edited.timings) if key(wait) == sought), None)
        return found is not None and measure(edited.timings.analysis, found) == self.solution.cycles


def pads_of(together: Iterable[Retimed]) -> list[Padding]:
    """The pads of several waits, each once."""
    return list(dict.fromkeys(padding for each in together for padding in each.solution.paddings))


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
    retimer = Retimer(chain.timings, Pads(chain.timings, liveness(chain.graph)))
    maker = _Maker(chain, clock, written_for)
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
    maker: _Maker,
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
    chain: Chain, retimer: Retimer, maker: _Maker, target: int, goals: Mapping[Key, Goal]
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
    chain: Chain, retimer: Retimer, maker: _Maker, wait: Wait, goal: Goal, made: frozenset[int]
) -> Retimed | Left:
    place = chain.program.instructions[wait.index].origin.place
    if isinstance(goal, Untouched):
        return Left(wait.name, place, goal.reason)
    solution = retimer.solve(wait, *goal.aim)
    if isinstance(solution, NoSolution):
        if made & reach(chain.graph, wait) and not goal.stated:
            as_it_is = Solution(wait.index, None, 0, (), wait.cycles)
            return maker.retimed(wait, goal, as_it_is, Use("plain"))
        return Left(wait.name, place, f"{maker.short(wait, goal)}; {solution.reason}")
    return maker.retimed(wait, goal, solution, use_of(chain, wait))


def open_counts(chain: Chain, clock: Clock, written_for: Clock | None) -> Iterator[Left]:
    """Waits whose time a caller decides at run time: they follow the clock, and no single count keeps them."""
    if written_for is None or written_for == clock:
        return
    for routine in open_waits(chain.timings):
        assert isinstance(routine.total, Formula)
        place = chain.program.instructions[routine.entry.index].origin.place
        reason = f"it takes {routine.total.text} cycles, and some of its callers decide at run time"
        yield Left(
            routine.entry.name, place, f"{reason}; change its own count by hand, or what they hand over"
        )


def time_outs(chain: Chain, clock: Clock, written_for: Clock | None) -> Iterator[Left]:
    """Loops that give up after a number of turns: they are said, not changed."""
    if written_for is None:
        return
    program = chain.program
    for loop in chain.timings.loops:
        facts = (r.outcome.facts.get(loop.head) for r in chain.timings.routines)
        if not isinstance(loop.trips, Range) or not any(fact and fact.accesses for fact in facts):
            continue
        if isinstance(loop.total, Range):
            was, will = written_for.duration(loop.total.most), clock.duration(loop.total.most)
            reason = (
                f"a time-out: at most {was.text(5)} at {written_for.text()}, {will.text(5)} at {clock.text()}"
            )
            yield Left(loop.name, program.instructions[loop.head].origin.place, f"{reason}; left as it is")


class _Maker:
    def __init__(self, chain: Chain, clock: Clock, written_for: Clock | None) -> None:
        self.chain = chain
        self.program: Program = chain.program
        self.clock = clock
        self.written_for = written_for
        self.within = within(chain.graph)

    def short(self, wait: Wait, goal: Wanted) -> str:
        """What the wait lasts now, and what it has to last."""
        now = self.clock.duration(wait.cycles)
        whose = "its note states" if goal.stated else f"it lasts at {self._old()}"
        return f"{wait.cycles} cycles are {now.text()} at {self.clock.text()}; {whose} {goal.lasts.text(6, 'down')}"

    def _old(self) -> str:
        return self.written_for.text() if self.written_for is not None else "the old clock"

    def retimed(self, wait: Wait, goal: Wanted, solution: Solution, use: Use) -> Retimed | Left:
        place = self.program.instructions[wait.index].origin.place
        edits: dict[str, list[Edit]] = {}
        try:
            touched = [*self._count(solution, edits), *self._pads(solution, edits)]
            note = None if goal.stated else self._note(wait, goal.lasts)
        except _CannotEdit as fault:
            return Left(wait.name, place, f"{self.short(wait, goal)}; {fault}")
        if note is not None:
            edits.setdefault(note[0], []).append(note[1])
            touched.append(self.program.instructions[wait.index].origin)
        return Retimed(
            wait=wait,
            solution=solution,
            subject=wait.name,
            place=place,
            places=tuple(dict.fromkeys(origin.text_place for origin in touched)),
            reason=f"{wait.name}: {self.short(wait, goal)}",
            result=self._result(goal, solution),
            evidence=self._evidence(wait, solution, use),
            edits=edits,
            note=note,
        )

    def _result(self, goal: Wanted, solution: Solution) -> str:
        lasts = self.clock.duration(solution.cycles)
        over = Duration(lasts.seconds - goal.lasts.seconds)
        error = "exactly as long" if not over.seconds else f"{over.text(3, 'up')} longer"
        if over.seconds < 0:
            error = f"{Duration(-over.seconds).text(3, 'up')} shorter"
        return f"{solution.cycles} cycles, {lasts.text()} at {self.clock.text()}: {error}"

    # -- edits -----------------------------------------------------------------------------------------------

    def _count(self, solution: Solution, edits: dict[str, list[Edit]]) -> Iterator[Origin]:
        number = solution.number
        if number is None:
            return
        instruction = self.program.instructions[solution.index]
        if number.symbol is not None:
            yield self._constant(number, solution.value, edits)
            return
        self._once(instruction)
        text = None if number.value is None else respell(number.text, number.value, solution.value)
        if number.span is None or text is None:
            raise _CannotEdit(f"its count is written as {number.text}, which is not a plain number")
        source = instruction.origin.source
        edits.setdefault(source.name, []).extend(replaced(source, number.span, text))
        yield instruction.origin

    def _constant(self, number: OperandNumber, value: int, edits: dict[str, list[Edit]]) -> Origin:
        symbol = self.program.label(number.symbol or "")
        if symbol is None or symbol.kind != "constant" or symbol.origin is None or symbol.span is None:
            raise _CannotEdit(f"its count is {number.symbol}, which is no constant of the source")
        if len(symbol.uses) > 1:
            raise _CannotEdit(
                f"{symbol.name} is used in {len(symbol.uses)} places, and only one is this count"
            )
        source = symbol.origin.source
        text = source.of(symbol.span)
        new = None if symbol.value is None else respell(text.strip(), symbol.value, value)
        if new is None:
            raise _CannotEdit(f"{symbol.name} is written as {text.strip()}, which is not a plain number")
        edits.setdefault(source.name, []).extend(replaced(source, symbol.span, new))
        return symbol.origin

    def _pads(self, solution: Solution, edits: dict[str, list[Edit]]) -> Iterator[Origin]:
        for padding in solution.paddings:
            if not padding.fillers:
                continue
            instruction = self.program.instructions[padding.behind]
            self._once(instruction)
            edits.setdefault(instruction.origin.source.name, []).append(padding.edit(instruction))
            yield instruction.origin

    def _note(self, wait: Wait, lasts: Duration) -> tuple[str, Edit]:
        instruction = self.program.instructions[wait.index]
        self._once(instruction)
        source: Source = instruction.origin.source
        return source.name, noted(source, instruction.origin.statement, f"takes {written(lasts)}")

    def _once(self, instruction: Instruction) -> None:
        """Refuses a line that stands for several instructions, as in a macro."""
        origin = instruction.origin
        alike = [i for i in self.program.instructions if i.origin.statement is origin.statement]
        if len(alike) > 1:
            raise _CannotEdit("its line is in a macro that is used more than once")

    # -- evidence --------------------------------------------------------------------------------------------

    def _evidence(self, wait: Wait, solution: Solution, use: Use) -> Evidence:
        counted = f"counted again on the edited text: {solution.cycles} cycles"
        if use.kind in ("hurts", "bit cell"):
            return Evidence("shown", (use.reason,))
        if any(not self.program.instructions[node].certain for node in wait.part.nodes):
            return Evidence("shown", ("a line before it was not understood",))
        instruction = self.program.instructions[solution.index]
        rests = f"rests on the {self.program.cpu.name} table"
        same = ["registers, flags and memory that are read behind it hold the same, for all states"]
        if solution.number is not None:
            action = instruction.action
            fields = {**action.fields, solution.number.hole: solution.value}
            new = {solution.index: self.program.cpu.bind(action.row, action.variant, fields, action.address)}
            analysis = self.chain.timings.analysis
            comparison = compared(analysis, wait, new, self.within)
            if comparison.different:
                if not comparison.decided and agree(analysis, wait, new):
                    return Evidence("checked", (f"executed {STATES}: the same behind it", counted, rests))
                return Evidence("shown", (f"{comparison.different} holds something else behind it",))
            if comparison.no_result:
                names = ", ".join(sorted(comparison.no_result))
                same.append(f"but for {names}, the same after every run and read by nothing in the text")
        return Evidence("proved", (*same, counted, rests))


class _CannotEdit(Exception):
    """Why an edit can't be made in the text."""
