"""The state at a loop's head as a function of the turn: what one turn does from anywhere, read as steps of counters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

from ..cpu import term
from ..cpu.stepper import stepper
from ..cpu.symbolic import Reader, State, changed, resolver, unsure
from ..cpu.term import Cell, Held, Input, Seen, Slot, Term, Unsure
from .ways import Moving, Out


@dataclass(frozen=True, slots=True)
class Shape:
    """One turn over an unknown start of turn: where it comes back, where it leaves, which registers it reads first."""

    scope: int
    back: State | None
    outs: list[Out]
    exposed: frozenset[str]
    kept: frozenset[tuple[str, Term]]
    assumed: frozenset[str] = frozenset()  # flags taken to hold the same at every head

    def changed(self) -> list[tuple[str, Term]]:
        """What a turn writes, with the value it leaves."""
        assert self.back is not None
        kept = dict(self.kept)
        return [
            (name, value)
            for name, value in changed(self.back)
            if kept.get(name) != value and name not in self.assumed
        ]

    def stays(self, given: Input) -> bool:
        """Whether it was there at the start of the turn, and a turn leaves it as it was."""
        assert self.back is not None
        match given.origin:
            case Cell(address=address, scope=self.scope):
                return term.number(address) not in self.back.memory
            case Slot(address=where, scope=self.scope):
                return where not in self.back.memory
            case Held(name=name, scope=self.scope):
                return all(name != changed for changed, _ in self.changed())
        return False

    def matters(self, early: frozenset[Input]) -> bool:
        """Whether a turn reads any of these before it writes them; memory always counts."""
        names = {i.origin.name for i in early if isinstance(i.origin, Held)}
        return len(names) < len(early) or bool(names & self.exposed)


@dataclass(frozen=True, slots=True)
class Head:
    """The state at the head as a function of the turn. `early` holds what is different in the first turn."""

    state: State
    early: frozenset[Input]
    lost: frozenset[Input]
    moving: Moving


def head_of(shape: Shape, start: State, turn: Input) -> Head:
    """The state at the head of the loop before turn `turn`, from the one it is entered with."""
    return _Maker(shape, start, turn).make()


class _Maker:
    """Turns "after one turn from anywhere" into "at the head before turn k"."""

    def __init__(self, shape: Shape, start: State, turn: Input) -> None:
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

    def make(self) -> Head:
        if self.back.memory_scope != self.scope:
            self.head.forget_memory()
        self._registers()
        self._memory()
        self._derive()
        return Head(self.head, frozenset(self.early), frozenset(self.lost), tuple(self.moving))

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
            if not names <= self.start.cpu.registers.keys():
                continue  # flags together are no counter
            apart = term.add(Reader(self.back).read(register), held.read(register), -1)
            step = term.modulo(apart, register.width).value
            if step is None and [width for _, width in register.parts] == [8, 8]:
                (high, _), (low, _) = register.parts
                step = _carried(*(at.get(name) for at in (held.state, self.back) for name in (high, low)))
            if step:
                now = term.add(Reader(self.start).read(register), self.k, step)
                Reader(self.head).write(register, now)
                paired |= names
        return paired | self._joined_registers(paired)

    def _joined_registers(self, paired: set[str]) -> set[str]:
        """Two registers of a byte each that the program makes one counter of, though the processor does not."""
        held = State(self.start.cpu, self.scope)
        single = [name for name, _ in self.changed if name not in paired and self.start.width(name) == 8]
        for low, high in permutations(single, 2):
            step = _carried(*(at.get(name) for at in (held, self.back) for name in (high, low)))
            if step:
                start = term.join(self.start.get(high), self.start.get(low), 8)
                now = term.modulo(term.add(start, self.k, step), 16)
                self.head.registers[high], self.head.registers[low] = (
                    term.bits(now, 15, 8),
                    term.bits(now, 7, 0),
                )
                return {low, high}
        return set()

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
            if step is None:
                step = _carried(
                    self._cell(high), self._cell(low), self.back.memory[high], self.back.memory[low]
                )
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
        step = term.add(term.put(later, self.turn, term.ONE), where, -1)
        if step.value:
            self.moving.append((where, step.value))

    def _derive(self) -> None:
        """A register that a turn sets from counters (or to a constant) holds what the turn before gave it."""
        earlier = self.head.copy()
        before = term.add(self.k, term.number(-1))
        earlier.registers = {n: term.put(v, self.turn, before) for n, v in earlier.registers.items()}
        earlier.memory = {a: term.put(v, self.turn, before) for a, v in earlier.memory.items()}
        replace = resolver(self.scope, earlier)
        for own, value, _width, put, at_start in self.derived:
            now = term.substitute(value, replace)
            if term.inputs([now]) & self.lost or any(
                isinstance(i.origin, (Seen, Unsure)) for i in term.inputs([now])
            ):
                continue
            if term.put(now, self.turn, term.ZERO) == at_start:
                put(now)
            else:
                self.early.add(own)


def _carried(high: Term, low: Term, high_after: Term, low_after: Term) -> int | None:
    """The step of two bytes as a word, where the high one changes by what the low one's step carries or borrows.

    How a program finds that out, by a carry or a test for zero, does not matter: every value of the low one is tried.
    """
    step = term.modulo(term.add(low_after, low, -1), 8).value
    change = term.modulo(term.add(high_after, high, -1), 8)
    given = low.atom
    if not step or not isinstance(given, Input) or change.inputs != {given}:
        return None
    carries = stepper((change,), given)
    for signed in (step, step - 256):
        if carries and all(carries(value) == ((value + signed) // 256 % 256,) for value in range(256)):
            return signed % 65536
    return None
