"""What one turn of a loop does to registers and memory, whatever they held before: by how much each moves on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..cpu import term
from ..cpu.meaning import Register
from ..cpu.stepper import stepper
from ..cpu.symbolic import Reader, State
from ..cpu.term import Cell, Held, Input, Slot, Term

Place = str | Term  # a stored register or flag by its name, or the byte at an address


@dataclass(frozen=True, slots=True)
class PairMoves:
    """Registers that count as one, such as the 6809's A and B as D."""

    register: Register
    step: int


@dataclass(frozen=True, slots=True)
class WordMoves:
    """Two bytes that the program makes one counter of, though the processor does not."""

    high: Place
    low: Place
    step: int


@dataclass(frozen=True, slots=True)
class Moves:
    """A register or byte that goes on by a fixed step modulo 2^width."""

    place: Place
    step: int
    width: int


@dataclass(frozen=True, slots=True)
class IsSet:
    """A register or byte that a turn gives `value`: `own` is what was there at its start."""

    place: Place
    own: Input
    value: Term
    width: int


@dataclass(frozen=True, slots=True)
class StoreMoves:
    """A store at an address made of registers that a turn changes."""

    address: Term


Motion = PairMoves | WordMoves | Moves | IsSet | StoreMoves


def motions(back: State, scope: int, changed: tuple[tuple[str, Term], ...]) -> tuple[Motion, ...]:
    """Registers first, then memory; `back` is the state after a turn from anywhere, `changed` the registers in it."""
    held = State(back.cpu, scope)
    return (*_registers(held, back, changed), *_memory(back, scope, frozenset(name for name, _ in changed)))


def _registers(held: State, back: State, changed: tuple[tuple[str, Term], ...]) -> Iterator[Motion]:
    pairs = tuple(_pairs(held, back, {name for name, _ in changed}))
    yield from pairs
    paired = {name for pair in pairs for name, _ in pair.register.parts}
    alone = [name for name, _ in changed if name not in paired]
    word = _word(held, back, [name for name in alone if held.width(name) == 8])
    if word is not None:
        yield word
    for name, value in changed:
        if name not in paired and (word is None or name not in (word.high, word.low)):
            width = held.width(name)
            yield _alone(name, Input(Held(name, scope=held.scope), 0, (1 << width) - 1), value, width)


def _pairs(held: State, back: State, moved: set[str]) -> Iterator[PairMoves]:
    paired: set[str] = set()
    for register in held.cpu.views.values():
        names = {name for name, _ in register.parts}
        if len(names) < 2 or not names & moved or names & paired:
            continue
        if not names <= held.cpu.registers.keys():
            continue  # flags together are no counter
        apart = term.add(Reader(back).read(register), Reader(held).read(register), -1)
        step = term.modulo(apart, register.width).value
        if step is None and [width for _, width in register.parts] == [8, 8]:
            (high, _), (low, _) = register.parts
            step = _carried(held.get(high), held.get(low), back.get(high), back.get(low))
        if step:
            paired |= names
            yield PairMoves(register, step)


def _word(held: State, back: State, names: list[str]) -> WordMoves | None:
    """The first two registers of a byte each of which one takes the carry of the other."""
    for low in names:
        for high in names:
            if high != low:
                step = _carried(held.get(high), held.get(low), back.get(high), back.get(low))
                if step:
                    return WordMoves(high, low, step)
    return None


def _alone(place: Place, own: Input, value: Term, width: int) -> Motion:
    step = term.modulo(term.add(value, term.atom(own), -1), width).value
    return IsSet(place, own, value, width) if step is None else Moves(place, step, width)


def _memory(back: State, scope: int, moved: frozenset[str]) -> Iterator[Motion]:
    words = tuple(_words(back, scope))
    yield from words
    paired = {place for word in words for place in (word.high, word.low)}
    for address, value in back.memory.items():
        if any(isinstance(i.origin, Held) and i.origin.name in moved for i in address.inputs):
            yield StoreMoves(address)
            continue
        own = _cell(address, scope)
        if value != term.atom(own) and address not in paired:
            yield _alone(address, own, value, 8)


def _words(back: State, scope: int) -> Iterator[WordMoves]:
    """Two bytes in memory that count as one word, at addresses that stay."""
    paired: set[Term] = set()
    big = back.cpu.endian == "big"
    for address in back.memory:
        beside = back.address(term.add(address, term.ONE))
        if beside not in back.memory or {address, beside} & paired:
            continue
        high, low = (address, beside) if big else (beside, address)
        before = term.atom(_cell(high, scope)), term.atom(_cell(low, scope))
        after = back.memory[high], back.memory[low]
        step = term.modulo(term.add(term.join(*after, 8), term.join(*before, 8), -1), 16).value
        if step is None:
            step = _carried(*before, *after)
        if step:
            paired |= {address, beside}
            yield WordMoves(high, low, step)


def _cell(address: Term, scope: int) -> Input:
    """What the byte held at the start of the turn."""
    return Input(Slot(address, scope) if address.value is None else Cell(address.value, scope), 0, 255)


def _carried(high: Term, low: Term, high_after: Term, low_after: Term) -> int | None:
    """The step of two bytes as a word, where the high one changes by what the low one's step carries or borrows.

    How a program finds that out, by a carry or a test for zero, does not matter: every value of the low one is tried.
    """
    step = term.modulo(term.add(low_after, low, -1), 8).value
    given = low.atom
    if not step or not isinstance(given, Input):
        return None
    change = term.modulo(term.add(high_after, high, -1), 8)
    if change.inputs != {given}:
        return None
    carries = stepper((change,), given)
    for signed in (step, step - 256):
        if carries and all(carries(value) == ((value + signed) // 256 % 256,) for value in range(256)):
            return signed % 65536
    return None
