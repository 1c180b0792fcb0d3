"""Loops: one turn is read over a symbolic start, its counters found, and the exit test solved for the turn count."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, Protocol

from ..cpu import term
from ..cpu.symbolic import Reader, State, applied, changed, resolver, serial, unsure
from ..cpu.term import Cell, Held, Input, Seen, Slot, Term, Turn, Unsure
from ..flow import Loop
from .polynomial import NONE, Cost, Polynomial, constant, cycles, either, summed
from .result import Record
from .turns import EXACT_WIDTH, At, First, Never, Sometime, first


@dataclass(slots=True)
class Arrival:
    """Control at a point: the state, the cycles since the start of the region, the tests passed on the way."""

    state: State
    cost: Cost
    guards: frozenset[Term]


@dataclass(frozen=True, slots=True)
class Out:
    """A way out of a region: to an instruction outside, by a return, or to where the text does not tell."""

    source: int
    target: int | None
    kind: Literal["edge", "return", "lost"]
    arrival: Arrival
    reason: str = ""


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


@dataclass(frozen=True, slots=True)
class _Shape:
    """One turn over an unknown start of turn: where it comes back, where it leaves, which registers it reads first."""

    scope: int
    back: State | None
    outs: list[Out]
    exposed: frozenset[str]
    kept: frozenset[tuple[str, Term]]

    def changed(self) -> list[tuple[str, Term]]:
        """What a turn writes, with the value it leaves."""
        assert self.back is not None
        kept = dict(self.kept)
        return [(name, value) for name, value in changed(self.back) if kept.get(name) != value]

    def matters(self, early: frozenset[Input]) -> bool:
        """Whether a turn reads any of these before it writes them; memory always counts."""
        names = {i.origin.name for i in early if isinstance(i.origin, Held)}
        return len(names) < len(early) or bool(names & self.exposed)


@dataclass(frozen=True, slots=True)
class _Head:
    """The state at the head as a function of the turn. `early` holds what is different in the first turn."""

    state: State
    early: frozenset[Input]
    lost: frozenset[Input]
    moving: tuple[tuple[Term, int], ...]  # stores that move on: address in the first turn, and step


Shapes = dict[tuple[Loop, frozenset[tuple[str, Term]]], _Shape]

_MOST_PEELED: Final = 2
_LARGEST_PEELED: Final = 32  # instructions; counted nests are smaller, main loops are not
_MOST_UNROLLED: Final = 3_000  # instructions in one routine
_MOST_REFINED: Final = 3_000
_ENDLESS: Final = 1 << 32


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

    def note(self, loop: Loop) -> tuple[int, int] | None:
        """The turns a timing note states."""
        ...

    def trial(self, attempt: Callable[[], Solved]) -> tuple[Solved, Record]:
        """An attempt, and the records with it; they count only once they are adopted."""
        ...

    def adopt(self, record: Record) -> None: ...


class Rounds:
    """Solves loops on their ground; `shapes` are turns read before, shared by all contexts."""

    def __init__(self, ground: Ground, shapes: Shapes) -> None:
        self._ground = ground
        self._shapes = shapes
        self.recording = True
        self.budget = _MOST_UNROLLED
        self._unrolling = False
        self._told: set[Input] = set()

    def solve(self, loop: Loop, start: State, peeled: int = 0) -> Solved:
        """The loop entered at its head with that state."""
        shape = self._shape(loop, start)
        if shape.back is None:
            outs, _ = self._ground.turn(loop, Arrival(start.copy(), NONE, frozenset()))
            return Solved(outs, cycles(1, 1))
        turn = Input(Turn(loop.head, serial()), 0, _ENDLESS)
        head = _head(shape, start, turn)
        outside = self._outside(loop, shape)
        if outside and len(outside) == len(shape.outs):
            return self._until_outside(loop, shape, head, turn, outside)
        if self._worth_peeling(loop, shape, head, peeled):
            solved = self._whole_or_peeled(loop, start, head, turn, peeled)
        else:
            solved = self._whole(loop, start, head, turn)
        if outside and solved.never == "test":
            return self._until_outside(loop, shape, head, turn, outside)
        return solved

    def _whole_or_peeled(self, loop: Loop, start: State, head: _Head, turn: Input, peeled: int) -> Solved:
        """What is different in the first turn often does not matter to the count: peeled only where that settles it."""
        whole, record = self._ground.trial(lambda: self._whole(loop, start, head, turn))
        if not _settled(whole):
            other, peeled_record = self._ground.trial(lambda: self._peel(loop, start, peeled))
            if _settled(other):
                whole, record = other, peeled_record
        self._ground.adopt(record)
        return whole

    def _whole(self, loop: Loop, start: State, head: _Head, turn: Input) -> Solved:
        """All turns in one, as a function of the turn."""
        self._told |= head.lost
        outs, back = self._ground.turn(loop, Arrival(head.state.copy(), NONE, frozenset()))
        solved = self._count(loop, head, turn, outs, back)
        if solved is not None:
            return self._finer(loop, start, head, back, solved)
        assert back is not None
        found = [(out, first(out.arrival.guards, turn)) for out in outs]
        asked = frozenset[Input]().union(*(when.inputs for _, when in found if isinstance(when, Sometime)))
        asked -= {turn}
        within = all(i in self._told or _stepped_over(i, self._told | {turn}) for i in asked)
        if within:
            unrolled = self._unroll(loop, start)
            if unrolled is not None:
                return unrolled
        return self._bounded(loop, head, turn, found, back, asked, within)

    def _worth_peeling(self, loop: Loop, shape: _Shape, head: _Head, peeled: int) -> bool:
        if peeled >= _MOST_PEELED or len(loop.nodes) > _LARGEST_PEELED or self._ground.note(loop) is not None:
            return False
        return shape.matters(head.early)

    def _finer(self, loop: Loop, start: State, head: _Head, back: Arrival | None, solved: Solved) -> Solved:
        """The loop turn by turn, where a turn's cycles depend on what is only known that way."""
        turns = None if solved.trips is None else solved.trips.fewest.value
        if back is None or back.cost.exact or not head.lost or turns is None or self._ground.calls(loop):
            return solved
        if turns * len(loop.nodes) > min(self.budget, _MOST_REFINED):
            return solved
        return self._unroll(loop, start, exactly=True) or solved

    def _shape(self, loop: Loop, start: State) -> _Shape:
        """Read once: at the start of a turn nothing is known but flags that the loop tests and never writes.

        Other constants would be known as well, but then every context of a loop would need a reading of its own.
        """
        reads = self._ground.reads(loop)
        held = {name: start.get(name) for name in reads.untouched & reads.exposed if start.width(name) == 1}
        kept = frozenset((name, value) for name, value in held.items() if value.value is not None)
        shape = self._shapes.get((loop, kept))
        if shape is None:
            recording, self.recording = self.recording, False
            state = State(start.cpu, serial())
            state.registers.update(kept)
            outs, back = self._ground.turn(loop, Arrival(state, NONE, frozenset()))
            self.recording = recording
            shape = _Shape(state.scope, back.state if back else None, outs, reads.exposed, kept)
            self._shapes[loop, kept] = shape
        return shape

    def _peel(self, loop: Loop, start: State, peeled: int) -> Solved:
        """The first turn by itself, then the rest."""
        outs, back = self._ground.turn(loop, Arrival(start.copy(), NONE, frozenset()))
        if back is None:
            return Solved(outs, cycles(1, 1))
        rest = self.solve(loop, back.state, peeled + 1)
        later = [_later(out, back) for out in rest.outs]
        trips = None if rest.trips is None else rest.trips + cycles(1, 1)
        if trips is not None and outs:
            trips = either(cycles(1, 1), trips)
        return Solved(outs + later, trips, rest.never if not outs else "", rest.turn, rest.last)

    def _count(
        self, loop: Loop, head: _Head, turn: Input, outs: list[Out], back: Arrival | None
    ) -> Solved | None:
        """Solved where every way out is; None where one depends on something else."""
        note = self._ground.note(loop)
        if note is not None:
            return self._by_note(note, turn, outs, back)
        if back is None:
            return Solved([_leave(out, NONE, _at(0), turn, head) for out in outs], cycles(1, 1))
        found = [(out, first(out.arrival.guards, turn)) for out in outs]
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
        spent = _spent(back.cost, turn, when.full)
        trips = when.full + constant(1)
        return Solved(
            [_leave(out, spent, when, turn, head)], Cost(trips, trips), turn=turn, last=when.full.bounds[1]
        )

    def _endless(self, tested: bool) -> Solved:
        never: Literal["no exit", "test"] = "test" if tested else "no exit"
        reason = "its exit test never holds" if tested else "it has no exit"
        return Solved([], cycles(1, None, reason), never)

    def _until_outside(
        self, loop: Loop, shape: _Shape, head: _Head, turn: Input, ways: list[tuple[Out, frozenset[Input]]]
    ) -> Solved:
        """A loop that ends when memory changes that it does not write itself: a port, or what a handler sets."""
        self._ground.turn(loop, Arrival(head.state.copy(), NONE, frozenset()))
        reason = self._ground.until(frozenset().union(*(cells for _, cells in ways)), loop)
        outs = [
            _sometime(_instance(out, shape.scope, head.state), NONE, None, reason, turn, alone=len(ways) == 1)
            for out, _ in ways
        ]
        return Solved(outs, cycles(1, None, reason))

    def _outside(self, loop: Loop, shape: _Shape) -> list[tuple[Out, frozenset[Input]]]:
        """The ways out, with the memory, whose test compares named memory with what stays; the loop changes neither."""
        if self._ground.note(loop) is not None:
            return []
        found = []
        for out in shape.outs:
            asked = term.inputs(out.arrival.guards)
            cells = frozenset(i for i in asked if isinstance(i.origin, Cell))
            if cells and all(self._stays(i, shape) for i in asked):
                found.append((out, cells))
        return found

    def _stays(self, given: Input, shape: _Shape) -> bool:
        """Whether it was there at the start of the turn, and a turn leaves it as it was."""
        assert shape.back is not None
        match given.origin:
            case Cell(address=address, scope=shape.scope):
                return term.number(address) not in shape.back.memory
            case Slot(address=where, scope=shape.scope):
                return where not in shape.back.memory
            case Held(name=name, scope=shape.scope):
                return all(name != changed for changed, _ in shape.changed())
        return False

    def _bounded(
        self,
        loop: Loop,
        head: _Head,
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
        limits += [_at(when.longest).full for _, when in found if isinstance(when, Sometime) and when.longest]
        # Whatever else is tested: the loop ends as soon as one of the tests for staying in it fails.
        staying = [first(frozenset({term.negate_truth(guard)}), turn) for guard in back.guards]
        limits += [when.full for when in staying if isinstance(when, At)]
        limit = min(limits, key=lambda full: full.bounds[1], default=None)
        possible = [(out, when) for out, when in found if not isinstance(when, Never)]
        ways = [
            _leave(out, _spent(back.cost, turn, when.full), when, turn, head)
            if isinstance(when, At)
            else _sometime(out, back.cost, limit, reason, turn, alone=len(possible) == 1)
            for out, when in possible
        ]
        if within:
            # Whoever reads an outer loop turn by turn will know these as well.
            self._told |= {i for out in ways for i in _fresh(out)}
        last = None if limit is None else limit.bounds[1]
        most = None if last is None else constant(last + 1)
        return Solved(ways, Cost(constant(1), most, reason), turn=turn, last=last)

    def _by_note(self, note: tuple[int, int], turn: Input, outs: list[Out], back: Arrival | None) -> Solved:
        low, high = note
        if back is None:
            return Solved(outs, cycles(1, 1))
        ways = []
        for out in outs:
            fewest = _spent(back.cost, turn, constant(low - 1))
            most = _spent(back.cost, turn, constant(high - 1))
            spent = Cost(fewest.fewest, most.most, most.reason)
            ways.append(_without(out, spent, turn, "its author gives a range of turns"))
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
                return Solved([_after(out, spent) for out in outs], cycles(turns, turns))
            if outs or (back.state.registers == state.registers and back.state.memory == state.memory):
                return None
            if exactly and not back.cost.exact:
                return None
            spent, state = spent + back.cost, back.state
        return None


def _settled(solved: Solved) -> bool:
    """Whether the turns and the cycles of every way out are exact, be it as a formula."""
    costs = [*(out.arrival.cost for out in solved.outs), *([solved.trips] if solved.trips else [])]
    return solved.trips is not None and all(
        cost.exact and not any(isinstance(i.origin, Unsure) for i in cost.fewest.inputs) for cost in costs
    )


def _stepped_over(given: Input, told: set[Input]) -> bool:
    """A byte at an address that turn-by-turn reading makes a constant."""
    return isinstance(given.origin, Slot) and term.inputs([given.origin.address]) <= told


def _head(shape: _Shape, start: State, turn: Input) -> _Head:
    assert shape.back is not None
    return _HeadMaker(shape, start, turn).make()


class _HeadMaker:
    """Turns "after one turn from anywhere" into "at the head before turn k"."""

    def __init__(self, shape: _Shape, start: State, turn: Input) -> None:
        assert shape.back is not None
        self.scope = shape.scope
        self.back = shape.back
        self.changed = shape.changed()
        self.start = start
        self.turn = turn
        self.k = term.atom(turn)
        self.head = start.copy()
        self.early: set[Input] = set()
        self.lost: set[Input] = set()
        self.moving: list[tuple[Term, int]] = []
        self.derived: list[tuple[Input, Term, int, Callable[[Term], None], Term]] = []

    def make(self) -> _Head:
        if self.back.memory_scope != self.scope:
            self.head.forget_memory()
        self._registers()
        self._memory()
        self._derive()
        return _Head(self.head, frozenset(self.early), frozenset(self.lost), tuple(self.moving))

    def _registers(self) -> None:
        paired = self._paired_registers()
        for name, value in self.changed:
            if name in paired:
                continue
            width = self.start.width(name)

            def put(now: Term, name: str = name) -> None:
                self.head.registers[name] = now

            self._place(
                Input(Held(name, self.scope), 0, (1 << width) - 1), value, width, put, self.start.get(name)
            )

    def _paired_registers(self) -> set[str]:
        """Registers that count as one, such as the 6809's A and B as D: placed here as the pair they are."""
        moved = {name for name, _ in self.changed}
        paired: set[str] = set()
        held = Reader(State(self.start.cpu, self.scope))
        for register in self.start.cpu.views.values():
            names = {name for name, _ in register.parts}
            if len(names) < 2 or not names & moved or names & paired:
                continue
            apart = term.add(Reader(self.back).read(register), held.read(register), -1)
            step = term.modulo(apart, register.width).value
            if step:
                now = term.add(Reader(self.start).read(register), self.k, step)
                Reader(self.head).write(register, now)
                paired |= names
        return paired

    def _paired_bytes(self) -> set[Term]:
        """Two bytes in memory that count as one word, at addresses that stay."""
        paired: set[Term] = set()
        replace = resolver(self.scope, self.start)
        big = self.start.cpu.endian == "big"
        for address in self.back.memory:
            beside = self.start.address(term.add(address, term.ONE))
            if beside not in self.back.memory or {address, beside} & paired:
                continue
            high, low = (address, beside) if big else (beside, address)
            after = term.join(self.back.memory[high], self.back.memory[low], 8)
            before = term.join(self._cell(high), self._cell(low), 8)
            step = term.modulo(term.add(after, before, -1), 16).value
            if step:
                top, bottom = term.substitute(high, replace), term.substitute(low, replace)
                start = term.join(self.start.byte(top), self.start.byte(bottom), 8)
                now = term.modulo(term.add(start, self.k, step), 16)
                self.head.memory[top], self.head.memory[bottom] = term.bits(now, 15, 8), term.bits(now, 7, 0)
                paired |= {address, beside}
        return paired

    def _cell(self, address: Term) -> Term:
        """What the byte held at the start of the turn."""
        origin = Slot(address, self.scope) if address.value is None else Cell(address.value, self.scope)
        return term.atom(Input(origin, 0, 255))

    def _memory(self) -> None:
        paired = self._paired_bytes()
        replace = resolver(self.scope, self.start)
        moves = {name for name, _ in self.changed}
        for address, value in self.back.memory.items():
            where = term.substitute(address, replace)
            if any(isinstance(i.origin, Held) and i.origin.name in moves for i in term.inputs([address])):
                self._moving_store(address, where)
                continue
            own = self._cell(address).atom
            assert isinstance(own, Input)
            if value == term.atom(own) or address in paired:
                continue

            def put(now: Term, where: Term = where) -> None:
                self.head.memory[where] = now

            self._place(own, value, 8, put, self.start.byte(where))

    def _place(self, own: Input, value: Term, width: int, put: Callable[[Term], None], before: Term) -> None:
        step = term.modulo(term.add(value, term.atom(own), -1), width).value
        if step is not None:
            put(term.modulo(term.add(before, self.k, step), width))
        else:
            self.derived.append((own, value, width, put, before))
            reason = "it changes from turn to turn in a way that is not a fixed step"
            fresh = unsure(reason, 0, (1 << width) - 1)
            self.lost |= term.inputs([fresh])
            put(fresh)

    def _moving_store(self, address: Term, where: Term) -> None:
        later = term.substitute(address, resolver(self.scope, self.head))
        step = term.add(term.substitute(later, lambda i: term.ONE if i == self.turn else None), where, -1)
        if step.value:
            self.moving.append((where, step.value))

    def _derive(self) -> None:
        """A register that a turn sets from counters (or to a constant) holds what the turn before gave it."""
        earlier = self.head.copy()
        before = term.add(self.k, term.number(-1))
        shift: Callable[[Input], Term | None] = lambda i: before if i == self.turn else None  # noqa: E731
        earlier.registers = {n: term.substitute(v, shift) for n, v in earlier.registers.items()}
        earlier.memory = {a: term.substitute(v, shift) for a, v in earlier.memory.items()}
        replace = resolver(self.scope, earlier)
        for own, value, _width, put, at_start in self.derived:
            now = term.substitute(value, replace)
            if term.inputs([now]) & self.lost or any(
                isinstance(i.origin, (Seen, Unsure)) for i in term.inputs([now])
            ):
                continue
            if term.substitute(now, lambda i: term.ZERO if i == self.turn else None) == at_start:
                put(now)
            else:
                self.early.add(own)


def _at(turns: int) -> At:
    return At(constant(turns), term.number(turns), EXACT_WIDTH)


def _spent(each: Cost, turn: Input, full: Polynomial) -> Cost:
    """The cycles of `full` whole turns."""
    most = None if each.most is None else _sum(each.most, turn, full, each.most.bounds[1])
    if most is None and full.value == 0:
        most = constant(0)
    return Cost(_sum(each.fewest, turn, full, each.fewest.bounds[0]), most, each.reason)


def _sum(each: Polynomial, turn: Input, full: Polynomial, bound: int) -> Polynomial:
    total = summed(each, turn, full)
    return full.scaled(bound) if total is None else total


def _instance(out: Out, scope: int, at: State) -> Out:
    """A way out read over a scope, from the state that scope started in."""
    arrival = Arrival(applied(out.arrival.state, scope, at), out.arrival.cost, out.arrival.guards)
    return Out(out.source, out.target, out.kind, arrival, out.reason)


def _later(out: Out, back: Arrival) -> Out:
    return Out(
        out.source,
        out.target,
        out.kind,
        Arrival(out.arrival.state, back.cost + out.arrival.cost, out.arrival.guards | back.guards),
        out.reason,
    )


def _after(out: Out, spent: Cost) -> Out:
    arrival = Arrival(out.arrival.state, spent + out.arrival.cost, frozenset())
    return Out(out.source, out.target, out.kind, arrival, out.reason)


def _leave(out: Out, spent: Cost, when: At, turn: Input, head: _Head) -> Out:
    """The way out taken after a solved number of whole turns."""
    replace: Callable[[Input], Term | None] = lambda i: when.turn if i == turn else None  # noqa: E731
    state = _placed(out.arrival.state, when, turn)
    for where, step in head.moving:
        _overwrite(state, where, step, when.full.bounds[1])
    cost = spent + out.arrival.cost.substituted(replace)
    return Out(out.source, out.target, out.kind, Arrival(state, cost, frozenset()), out.reason)


def _placed(state: State, when: At, turn: Input) -> State:
    """The state with the turn number put in; a register wider than the number is known becomes unsure."""
    made = state.copy()
    exact: Callable[[Input], Term | None] = lambda i: when.turn if i == turn else None  # noqa: E731
    vague = unsure("it depends on the number of turns", 0, _ENDLESS)
    rough: Callable[[Input], Term | None] = lambda i: vague if i == turn else None  # noqa: E731
    for name, value in state.registers.items():
        fits = when.turn.value is not None or state.width(name) <= when.width
        made.registers[name] = term.substitute(value, exact if fits else rough)
    made.memory = {
        address: term.substitute(value, exact)
        for address, value in state.memory.items()
        if when.turn.value is not None or turn not in term.inputs([address])
    }
    if when.turn.value is not None:
        made.memory = {term.substitute(a, exact): value for a, value in made.memory.items()}
    return made


def _overwrite(state: State, where: Term, step: int, turns: int) -> None:
    """Forgets the named cells that stores moving on from `where` have run over."""
    if where.value is None:
        return
    ends = sorted((where.value, where.value + step * turns))
    for address in [a for a in state.memory if a.value is not None and ends[0] <= a.value <= ends[1]]:
        state.memory[address] = unsure("a loop stores over it", 0, 255)


def _fresh(out: Out) -> frozenset[Input]:
    """The values a way out leaves open."""
    terms = [*out.arrival.state.registers.values(), *out.arrival.state.memory.values(), *out.arrival.guards]
    return frozenset(i for i in term.inputs(terms) if isinstance(i.origin, Unsure))


def _sometime(
    out: Out,
    each: Cost,
    limit: Polynomial | None,
    reason: str,
    turn: Input | None = None,
    alone: bool = False,
) -> Out:
    """A way out that may be taken in any turn from the first to the one after `limit` whole turns.

    `alone` says that there is no other: then control does leave there, sooner or later.
    """
    cost = out.arrival.cost
    most = None
    if limit is not None and turn is not None:
        spent = _spent(each, turn, limit).most
        if spent is not None and cost.most is not None:
            most = constant(spent.bounds[1] + cost.most.bounds[1])
    spread = Cost(constant(cost.least), most, reason)
    found = _without(out, NONE, turn, reason, spread)
    if alone:
        found.arrival.guards = frozenset()
    return found


def _without(out: Out, spent: Cost, turn: Input | None, reason: str, cost: Cost | None = None) -> Out:
    """The way out with nothing known of the turn it is taken in."""
    vague = unsure(reason, 0, _ENDLESS)
    rough: Callable[[Input], Term | None] = lambda i: vague if i == turn else None  # noqa: E731
    state = out.arrival.state.copy()
    state.registers = {name: term.substitute(value, rough) for name, value in state.registers.items()}
    state.memory = {
        address: term.substitute(value, rough)
        for address, value in state.memory.items()
        if turn is None or turn not in term.inputs([address])
    }
    total = cost if cost is not None else spent + out.arrival.cost.substituted(rough)
    chance = unsure(reason, 0, 1)
    return Out(out.source, out.target, out.kind, Arrival(state, total, frozenset({chance})), out.reason)
