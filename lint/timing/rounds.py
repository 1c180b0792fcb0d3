"""Loops: one turn is read over a symbolic start, its counters found, and the exit test solved for the turn count."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal, Protocol

from ..cpu import term
from ..cpu.stepper import stepper
from ..cpu.symbolic import State, serial
from ..cpu.term import Cell, Input, Slot, Term, Turn, Unsure
from ..flow import Loop
from .byvalue import bytes_asked, formula, tabled
from .head import Head, Shape, head_of, shape_of
from .polynomial import NONE, Cost, constant, cycles, either
from .result import Record
from .turns import At, First, Never, Sometime, first, longest
from .ways import (
    ENDLESS,
    Arrival,
    Out,
    at_turn,
    leaving,
    left_open,
    once_spent,
    one_turn_later,
    some_time,
    started_from,
    turn_unknown,
    turned,
)


@dataclass(frozen=True, slots=True)
class Solved:
    """A loop from its head: the ways out with their cycles, and how many turns were begun."""

    outs: list[Out]
    trips: Cost | None
    never: Literal["", "no exit", "test"] = ""
    turn: Input | None = None
    last: int | None = None  # the greatest value of `turn`, where it is bounded


@dataclass(frozen=True, slots=True)
class Reads:
    """Registers and flags that a turn of a loop reads before it writes them, and those it never writes."""

    exposed: frozenset[str]
    untouched: frozenset[str]


# Flags that are known at the start of every turn.
Kept = frozenset[tuple[str, Term]]

_Turn = tuple[list[Out], Arrival | None]

_MOST_PEELED: Final = 2
_MOST_TRIALS: Final = 3  # loops tried in two ways inside each other: every level doubles the work
_LARGEST_PEELED: Final = 32  # instructions; counted nests are smaller, main loops are not
_MOST_UNROLLED: Final = 3_000  # instructions in one routine
_MOST_REFINED: Final = 3_000


class Ground(Protocol):
    """What loops stand on: the walk that reads one turn, and what is known of the program around."""

    def turn(self, loop: Loop, arrival: Arrival) -> tuple[list[Out], Arrival | None]:
        """One turn from the head: the ways out, and what comes back."""
        ...

    def leaves(self, loop: Loop) -> bool:
        """Whether any branch leads out."""
        ...

    def reads(self, loop: Loop) -> Reads: ...

    def calls(self, loop: Loop) -> bool:
        """Whether a turn calls a routine."""
        ...

    def reason(self, inputs: frozenset[Input], loop: Loop) -> str:
        """What the count of a loop depends on, in words."""
        ...

    def until(self, cells: frozenset[Input], loop: Loop) -> str:
        """What memory a loop waits for, in words."""
        ...

    def want(self, inputs: frozenset[Input]) -> None:
        """Notes inputs that would decide a count if a caller's values were known."""
        ...

    def wait(self, loop: Loop, cells: frozenset[Input]) -> None:
        """Notes that a loop ends when that memory changes."""
        ...

    def note(self, loop: Loop) -> tuple[int, int] | None:
        """The turns a timing note states."""
        ...

    def trial(self, attempt: Callable[[], Solved]) -> tuple[Solved, Record]:
        """An attempt, and the records with it; they count only once they are adopted."""
        ...

    def adopt(self, record: Record) -> None: ...

    def shape(self, loop: Loop, kept: Kept, read: Callable[[], Shape]) -> Shape:
        """What `read` makes of a turn with those flags; read once for all contexts."""
        ...


class Rounds:
    """Solves loops on their ground."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self.recording = True
        self.budget = _MOST_UNROLLED
        self._unrolling = False
        self._tabling = False
        self._trials = 0
        self._told: set[Input] = set()

    def solve(self, loop: Loop, start: State, peeled: int = 0) -> Solved:
        """The loop entered at its head with that state."""
        shape = self._shape(loop, start)
        if shape.back is None:
            outs, _ = self._ground.turn(loop, Arrival(start.copy(), NONE, frozenset()))
            return Solved(outs, cycles(1, 1)) if outs else self._endless(tested=False)
        turn = Input(Turn(loop.head, serial()), 0, ENDLESS)
        head = head_of(shape, start, turn)
        outside = self._outside(loop, shape)
        if outside and len(outside) == len(shape.outs):
            return self._until_outside(loop, shape, head, turn, outside)
        if self._worth_peeling(loop, shape, head, peeled):
            solved = self._whole_or_peeled(loop, start, head, turn, peeled)
        else:
            solved = self._whole(loop, start, head, turn)
        if outside and solved.never == "test":
            return self._until_outside(loop, shape, head, turn, outside)
        if _settled(solved):
            return solved
        return self._steady(loop, start, shape) or self._by_value(loop, start, shape, solved)

    def _steady(self, loop: Loop, start: State, shape: Shape) -> Solved | None:
        """The loop on the assumption that flags it reads and writes hold at every head what they held at the first.

        The carry of SBC #1 / BNE is one: whether it does hold is then tried over all turns counted. None where it
        does not, or where that leaves the count open.
        """
        changing = [name for name, _ in shape.changed if name in shape.exposed and start.width(name) == 1]
        assumed = {name: start.get(name) for name in changing if start.get(name).value is not None}
        if not assumed or self._ground.calls(loop) or self._ground.note(loop) is not None:
            return None
        # Should it fail, a caller's values may decide it.
        self._ground.want(term.inputs(start.get(name) for name, _ in shape.changed if name in shape.exposed))
        steady = self._shape(loop, start, assumed)
        if steady.back is None:
            return None
        turn = Input(Turn(loop.head, serial()), 0, ENDLESS)
        head = head_of(steady, start, turn)

        def attempt() -> Solved:
            outs, back = self._ground.turn(loop, Arrival(head.state.copy(), NONE, frozenset()))
            if back is None:
                return Solved([], None)
            found = [(out, first(out.arrival.guards, turn)) for out in outs]
            solved = self._count(loop, head, turn, found, back)
            if solved is None or not _settled(solved) or not _hold(assumed, back, turn, solved):
                return Solved([], None)
            return solved

        solved, record = self._ground.trial(attempt)
        if solved.trips is None:
            return None
        self._ground.adopt(record)
        return solved

    def _by_value(self, loop: Loop, start: State, shape: Shape, solved: Solved) -> Solved:
        """The loop as it was solved, with the cycles for each value of one byte, where all of them can be told."""
        if (
            len(solved.outs) != 1
            or self._trials
            or self._tabling
            or len(loop.nodes) > _LARGEST_PEELED
            or self._ground.calls(loop)
            or self._ground.note(loop) is not None
        ):
            return solved
        for name, given in bytes_asked(shape, start):
            recording, budget = self.recording, self.budget
            self.recording, self.budget, self._tabling = False, _MOST_UNROLLED, True
            table = tabled(
                lambda at: self._ground.turn(loop, at),
                shape,
                start,
                name,
                given,
                _MOST_REFINED // len(loop.nodes),
            )
            self.recording, self.budget, self._tabling = recording, budget, False
            if table is not None:
                self._ground.want(frozenset({given}))
                reason = f"depends on what {name} holds"
                turns, spent = (
                    formula({value: each[i] for value, each in table.items()}, given, reason) for i in (0, 1)
                )
                (out,) = solved.outs
                return replace(
                    solved, outs=[replace(out, arrival=replace(out.arrival, cost=spent))], trips=turns
                )
        return solved

    def _whole_or_peeled(self, loop: Loop, start: State, head: Head, turn: Input, peeled: int) -> Solved:
        """What is different in the first turn often does not matter to the count: peeled only where that settles it."""
        self._trials += 1
        try:
            whole, record = self._ground.trial(lambda: self._whole(loop, start, head, turn))
            if not _settled(whole):
                other, peeled_record = self._ground.trial(lambda: self._peel(loop, start, peeled))
                if _settled(other):
                    whole, record = other, peeled_record
        finally:
            self._trials -= 1
        self._ground.adopt(record)
        return whole

    def _whole(self, loop: Loop, start: State, head: Head, turn: Input) -> Solved:
        """All turns in one, as a function of the turn."""
        self._told |= head.lost
        outs, back = self._ground.turn(loop, Arrival(head.state.copy(), NONE, frozenset()))
        note = self._ground.note(loop)
        if note is not None:
            return self._by_note(note, turn, outs, back)
        if back is None:
            return Solved([leaving(out, NONE, at_turn(0), turn, head.moving) for out in outs], cycles(1, 1))
        found = [(out, first(out.arrival.guards, turn)) for out in outs]
        solved = self._count(loop, head, turn, found, back)
        if solved is not None:
            return self._finer(loop, start, head, back, solved)
        asked = frozenset[Input]().union(*(when.inputs for _, when in found if isinstance(when, Sometime)))
        asked -= {turn}
        within = all(i in self._told or _stepped_over(i, self._told | {turn}) for i in asked)
        if within:
            unrolled = self._unroll(loop, start)
            if unrolled is not None:
                return unrolled
        return self._bounded(loop, head, turn, found, back, asked, within)

    def _worth_peeling(self, loop: Loop, shape: Shape, head: Head, peeled: int) -> bool:
        if (
            peeled >= _MOST_PEELED
            or self._trials >= _MOST_TRIALS
            or len(loop.nodes) > _LARGEST_PEELED
            or self._ground.note(loop) is not None
        ):
            return False
        return shape.matters(head.early)

    def _finer(self, loop: Loop, start: State, head: Head, back: Arrival | None, solved: Solved) -> Solved:
        """The loop turn by turn, where a turn's cycles depend on what is only known that way."""
        turns = None if solved.trips is None else solved.trips.fewest.value
        if back is None or back.cost.exact or not head.lost or turns is None or self._ground.calls(loop):
            return solved
        if turns * len(loop.nodes) > min(self.budget, _MOST_REFINED):
            return solved
        return self._unroll(loop, start, exactly=True) or solved

    def _shape(self, loop: Loop, start: State, assumed: Mapping[str, Term] | None = None) -> Shape:
        """Read once: at the start of a turn nothing is known but flags that the loop tests and never writes.

        `assumed` are flags taken to be known as well, though it writes them.

        Other constants would be known as well, but then every context of a loop would need a reading of its own.
        """
        reads = self._ground.reads(loop)
        held = {name: start.get(name) for name in reads.untouched & reads.exposed if start.width(name) == 1}
        held |= assumed or {}
        kept = frozenset((name, value) for name, value in held.items() if value.value is not None)

        def read() -> Shape:
            state = State(start.cpu, serial())
            state.registers.update(kept)
            outs, back = self._apart(lambda: self._ground.turn(loop, Arrival(state, NONE, frozenset())))
            end = back.state if back else None
            return shape_of(state.scope, end, outs, reads.exposed, kept, frozenset(assumed or {}))

        return self._ground.shape(loop, kept, read)

    def _apart(self, turn: Callable[[], _Turn]) -> _Turn:
        """A turn that leaves no trace and sees none: what comes of it is the same whoever needs it first."""
        before = self.recording, self.budget, self._unrolling, self._tabling, self._trials, self._told
        self.recording, self.budget, self._told = False, _MOST_UNROLLED, set()
        self._unrolling, self._tabling, self._trials = False, False, 0
        try:
            return turn()
        finally:
            self.recording, self.budget, self._unrolling, self._tabling, self._trials, self._told = before

    def _peel(self, loop: Loop, start: State, peeled: int) -> Solved:
        """The first turn by itself, then the rest."""
        outs, back = self._ground.turn(loop, Arrival(start.copy(), NONE, frozenset()))
        if back is None:
            return Solved(outs, cycles(1, 1))
        rest = self.solve(loop, back.state, peeled + 1)
        later = [one_turn_later(out, back) for out in rest.outs]
        trips = None if rest.trips is None else rest.trips + cycles(1, 1)
        if trips is not None and outs:
            trips = either(cycles(1, 1), trips)
        return Solved(outs + later, trips, rest.never if not outs else "", rest.turn, rest.last)

    def _count(
        self, loop: Loop, head: Head, turn: Input, found: list[tuple[Out, First]], back: Arrival
    ) -> Solved | None:
        """Solved where every way out is; None where one depends on something else."""
        if any(isinstance(when, Sometime) for _, when in found):
            return None
        solved = [(out, when) for out, when in found if isinstance(when, At)]
        if not solved:
            return self._endless(self._ground.leaves(loop))
        if len(solved) > 1:
            if any(when.full.value is None for _, when in solved):
                return None
            least = min(when.full.value or 0 for _, when in solved)
            solved = [(out, when) for out, when in solved if (when.full.value or 0) == least][:1]
        ((out, when),) = solved
        spent = turned(back.cost, turn, when.full)
        trips = when.full + constant(1)
        return Solved(
            [leaving(out, spent, when, turn, head.moving)],
            Cost(trips, trips),
            turn=turn,
            last=when.full.bounds[1],
        )

    def _endless(self, tested: bool) -> Solved:
        never: Literal["no exit", "test"] = "test" if tested else "no exit"
        reason = "its exit test never holds" if tested else "it has no exit"
        return Solved([], cycles(1, None, reason), never)

    def _until_outside(
        self, loop: Loop, shape: Shape, head: Head, turn: Input, ways: list[tuple[Out, frozenset[Input]]]
    ) -> Solved:
        """A loop that ends when memory changes that it does not write itself: a port, or what a handler sets."""
        self._ground.turn(loop, Arrival(head.state.copy(), NONE, frozenset()))
        self._ground.wait(loop, frozenset().union(*(cells for _, cells in ways)))
        reason = self._ground.until(frozenset().union(*(cells for _, cells in ways)), loop)
        outs = [
            some_time(
                started_from(out, shape.scope, head.state), NONE, None, reason, turn, alone=len(ways) == 1
            )
            for out, _ in ways
        ]
        return Solved(outs, cycles(1, None, reason))

    def _outside(self, loop: Loop, shape: Shape) -> list[tuple[Out, frozenset[Input]]]:
        """The ways out, with the memory, whose test compares named memory with what stays; the loop changes neither."""
        if self._ground.note(loop) is not None:
            return []
        found = []
        for out in shape.outs:
            asked = term.inputs(out.arrival.guards)
            cells = frozenset(i for i in asked if isinstance(i.origin, Cell))
            if cells and all(shape.stays(i) for i in asked):
                found.append((out, cells))
        return found

    def _bounded(
        self,
        loop: Loop,
        head: Head,
        turn: Input,
        found: list[tuple[Out, First]],
        back: Arrival,
        asked: frozenset[Input],
        within: bool,
    ) -> Solved:
        """Some way out depends on what is not known: it can be taken in any turn up to a solved one."""
        reason = self._ground.reason(asked, loop)
        self._ground.want(asked)
        limits = [when.full for _, when in found if isinstance(when, At)]
        longest_ways = (longest(when, turn) for _, when in found if isinstance(when, Sometime))
        limits += [constant(turns) for turns in longest_ways if turns]
        # Whatever else is tested: the loop ends as soon as one of the tests for staying in it fails.
        staying = [first(frozenset({term.negate_truth(guard)}), turn) for guard in back.guards]
        limits += [when.full for when in staying if isinstance(when, At)]
        limit = min(limits, key=lambda full: full.bounds[1], default=None)
        possible = [(out, when) for out, when in found if not isinstance(when, Never)]
        ways = [
            leaving(out, turned(back.cost, turn, when.full), when, turn, head.moving)
            if isinstance(when, At)
            else some_time(out, back.cost, limit, reason, turn, alone=len(possible) == 1)
            for out, when in possible
        ]
        if within:
            # Whoever reads an outer loop turn by turn will know these as well.
            self._told |= {i for out in ways for i in left_open(out)}
        last = None if limit is None else limit.bounds[1]
        most = None if last is None else constant(last + 1)
        return Solved(ways, Cost(constant(1), most, reason), turn=turn, last=last)

    def _by_note(self, note: tuple[int, int], turn: Input, outs: list[Out], back: Arrival | None) -> Solved:
        low, high = note
        if back is None:
            return Solved(outs, cycles(1, 1))
        ways = []
        for out in outs:
            fewest = turned(back.cost, turn, constant(low - 1))
            most = turned(back.cost, turn, constant(high - 1))
            spent = Cost(fewest.fewest, most.most, most.reason)
            ways.append(turn_unknown(out, spent, turn, "its author gives a range of turns"))
        return Solved(ways, cycles(low, high))

    def _unroll(self, loop: Loop, start: State, exactly: bool = False) -> Solved | None:
        """Turn by turn from a known start, as long as every test is decided; None where one is not.

        With `exactly` also where a turn's cycles are not exact even so.
        """
        if self._unrolling:
            return None
        self._unrolling = True
        try:
            return self._turn_by_turn(loop, start, exactly)
        finally:
            self._unrolling = False

    def _turn_by_turn(self, loop: Loop, start: State, exactly: bool) -> Solved | None:
        spent, state = NONE, start
        for turns in range(1, _MOST_UNROLLED):
            self.budget -= len(loop.nodes)
            if self.budget < 0:
                return None
            outs, back = self._ground.turn(loop, Arrival(state.copy(), NONE, frozenset()))
            if back is None:
                return Solved([once_spent(out, spent) for out in outs], cycles(turns, turns))
            if outs or (back.state.registers == state.registers and back.state.memory == state.memory):
                return None
            if exactly and not back.cost.exact:
                return None
            spent, state = spent + back.cost, back.state
        return None


def _hold(assumed: Mapping[str, Term], back: Arrival, turn: Input, solved: Solved) -> bool:
    """Whether the flags come back as assumed in every turn but the last."""
    turns = None if solved.trips is None else solved.trips.fewest.value
    tests = tuple(term.equal(back.state.get(name), value) for name, value in assumed.items())
    holds = stepper(tests, turn)
    if turns is None or turns > _MOST_REFINED or holds is None:
        return False
    return all(all(holds(each)) for each in range(turns - 1))


def _settled(solved: Solved) -> bool:
    """Whether the turns and the cycles of every way out are exact, be it as a formula."""
    costs = [*(out.arrival.cost for out in solved.outs), *([solved.trips] if solved.trips else [])]
    return solved.trips is not None and all(
        cost.exact and not any(isinstance(i.origin, Unsure) for i in cost.fewest.inputs) for cost in costs
    )


def _stepped_over(given: Input, told: set[Input]) -> bool:
    """A byte at an address that turn-by-turn reading makes a constant."""
    return isinstance(given.origin, Slot) and term.inputs([given.origin.address]) <= told
