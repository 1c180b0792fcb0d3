"""The state at a loop's head as a function of the turn: what one turn does from anywhere, read as steps of counters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never

from ..cpu import term
from ..cpu.symbolic import Reader, State, changed, resolve, resolver, unsure
from ..cpu.term import Cell, Held, Input, Seen, Slot, Term, Unsure
from .motion import IsSet, Motion, Moves, PairMoves, Place, StoreMoves, WordMoves, motions
from .ways import Moving, Out


@dataclass(frozen=True, slots=True)
class Shape:
    """One turn over an unknown start of turn: where it comes back, where it leaves, which registers it reads first.

    `changed` are the registers that a turn writes, with the value it leaves; `motions` is how they and memory move on.
    """

    scope: int
    back: State | None
    outs: list[Out]
    exposed: frozenset[str]
    changed: tuple[tuple[str, Term], ...]
    motions: tuple[Motion, ...]

    def stays(self, given: Input) -> bool:
        """Whether it was there at the start of the turn, and a turn leaves it as it was."""
        assert self.back is not None
        match given.origin:
            case Cell(address=address, scope=self.scope):
                return term.number(address) not in self.back.memory
            case Slot(address=where, scope=self.scope):
                return where not in self.back.memory
            case Held(name=name, scope=self.scope):
                return all(name != changed for changed, _ in self.changed)
        return False

    def matters(self, early: frozenset[Input]) -> bool:
        """Whether a turn reads any of these before it writes them; memory always counts."""
        names = {i.origin.name for i in early if isinstance(i.origin, Held)}
        return len(names) < len(early) or bool(names & self.exposed)


def shape_of(
    scope: int,
    back: State | None,
    outs: list[Out],
    exposed: frozenset[str],
    kept: frozenset[tuple[str, Term]],
    assumed: frozenset[str],
) -> Shape:
    """The turn that comes back in the state `back`; `kept` was known at its start, `assumed` holds at every head."""
    if back is None:
        return Shape(scope, None, outs, exposed, (), ())
    known = dict(kept)
    moved = tuple(
        (name, value) for name, value in changed(back) if known.get(name) != value and name not in assumed
    )
    return Shape(scope, back, outs, exposed, moved, motions(back, scope, moved))


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


class _Earlier(State):
    """A state at the head, as a function of the turn, as it was one turn before: worked out for what is asked for."""

    __slots__ = ("_before", "_turn")

    def __init__(self, head: State, turn: Input) -> None:
        super().__init__(head.cpu, head.scope)
        self.memory_scope = head.memory_scope
        self.registers, self.memory = dict(head.registers), dict(head.memory)
        self._turn = turn
        self._before = term.add(term.atom(turn), term.number(-1))

    def get(self, name: str) -> Term:
        return term.put(super().get(name), self._turn, self._before)

    def byte(self, address: Term) -> Term:
        return term.put(super().byte(address), self._turn, self._before)


class _Maker:
    """Turns "after one turn from anywhere" into "at the head before turn k"."""

    def __init__(self, shape: Shape, start: State, turn: Input) -> None:
        assert shape.back is not None
        self.shape = shape
        self.start = start
        self.turn = turn
        self.k = term.atom(turn)
        self.head = start.copy()
        if shape.back.memory_scope != shape.scope:
            self.head.forget_memory()
        self.lost: set[Input] = set()
        self.moving: list[tuple[Term, int]] = []

    def make(self) -> Head:
        for motion in self.shape.motions:
            self._move(motion)
        early = frozenset(self._derive())
        return Head(self.head, early, frozenset(self.lost), tuple(self.moving))

    def _move(self, motion: Motion) -> None:
        match motion:
            case PairMoves(register, step):
                before = Reader(self.start).read(register)
                Reader(self.head).write(register, term.add(before, self.k, step))
            case WordMoves(high, low, step):
                before = term.join(self._at_start(high), self._at_start(low), 8)
                now = term.modulo(term.add(before, self.k, step), 16)
                self._put(high, term.bits(now, 15, 8))
                self._put(low, term.bits(now, 7, 0))
            case Moves(place, step, width):
                self._put(place, term.modulo(term.add(self._at_start(place), self.k, step), width))
            case IsSet(place, _, _, width):
                reason = "it changes from turn to turn in a way that is not a fixed step"
                fresh = unsure(reason, 0, (1 << width) - 1)
                self.lost |= fresh.inputs
                self._put(place, fresh)
            case StoreMoves(address):
                self._moving_store(address)
            case _:
                assert_never(motion)

    def _where(self, address: Term) -> Term:
        return resolve(address, self.shape.scope, self.start)

    def _at_start(self, place: Place) -> Term:
        return self.start.get(place) if isinstance(place, str) else self.start.byte(self._where(place))

    def _put(self, place: Place, now: Term) -> None:
        if isinstance(place, str):
            self.head.registers[place] = now
        else:
            self.head.memory[self._where(place)] = now

    def _moving_store(self, address: Term) -> None:
        later = resolve(address, self.shape.scope, self.head)
        where = self._where(address)
        step = term.add(term.put(later, self.turn, term.ONE), where, -1)
        if step.value:
            self.moving.append((where, step.value))

    def _derive(self) -> Iterator[Input]:
        """A register that a turn sets from counters (or to a constant) holds what the turn before gave it.

        Gives what is different in the first turn.
        """
        are_set = [motion for motion in self.shape.motions if isinstance(motion, IsSet)]
        if not are_set:
            return
        replace = resolver(self.shape.scope, _Earlier(self.head, self.turn))
        memo: dict[Term, Term] = {}
        for motion in are_set:
            now = term.substitute(motion.value, replace, memo)
            if now.inputs & self.lost or any(isinstance(i.origin, (Seen, Unsure)) for i in now.inputs):
                continue
            if term.put(now, self.turn, term.ZERO) == self._at_start(motion.place):
                self._put(motion.place, now)
            else:
                yield motion.own
