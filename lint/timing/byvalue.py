"""A loop whose count depends on one byte that nobody solves: counted for each of its values, then fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Final

from ..cpu import term
from ..cpu.symbolic import State
from ..cpu.term import Cell, Held, Input, Slot, Term
from .head import Shape
from .polynomial import NONE, Cost, Polynomial, constant, residue, variable
from .ways import Arrival, Out

Read = Callable[[Arrival], tuple[list[Out], Arrival | None]]  # one turn: the ways out, and what comes back
Table = Mapping[int, tuple[int, int]]  # by value of the byte: turns and cycles

_WIDTH: Final = 8
_HIGHEST_POWER: Final = 3


def bytes_asked(shape: Shape, start: State) -> list[tuple[str, Input]]:
    """Registers read in a turn before they are written that hold a byte the caller hands over, with that byte.

    None where a turn reads memory that it has not written itself: what a turn does then hangs on more than registers.
    """
    if shape.back is None or _reads_memory(shape):
        return []
    held = ((name, start.get(name).atom) for name in sorted(shape.exposed))
    return [
        (name, atom)
        for name, atom in held
        if isinstance(atom, Input)
        and isinstance(atom.origin, Held)
        and 0 < atom.high - atom.low < 1 << _WIDTH
    ]


def _reads_memory(shape: Shape) -> bool:
    assert shape.back is not None
    terms = [value for _, value in shape.changed]
    for arrival in [out.arrival for out in shape.outs]:
        terms += arrival.guards
    origins = (each.origin for each in term.inputs(terms))
    return any(isinstance(origin, (Cell, Slot)) and origin.scope == shape.scope for origin in origins)


def tabled(read: Read, shape: Shape, start: State, name: str, given: Input, most: int) -> Table | None:
    """Turns and cycles for every value of the byte in register `name`; None where one needs more, or over `most` turns.

    What is left to do hangs on the registers read first alone: a turn that begins like one before it ends the reading.
    """
    done: dict[tuple[Term, ...], tuple[int, int]] = {}
    found: dict[int, tuple[int, int]] = {}
    left = most
    # The longest first: what is left of it answers most of the others.
    for value in sorted(range(given.low, given.high + 1), key=lambda each: -residue(each, _WIDTH)):
        state = start.copy()
        state.registers[name] = term.number(value)
        first = key = _key(shape, state)
        passed: list[tuple[tuple[Term, ...], int]] = []
        while key not in done:
            left -= 1
            outs, back = read(Arrival(state.copy(), NONE, frozenset()))
            spent = _spent(outs, back)
            if spent is None or left < 0 or any(key == before for before, _ in passed):
                return None
            if back is None:
                done[key] = (1, spent)
                break
            passed.append((key, spent))
            state = back.state
            key = _key(shape, state)
        for before, spent in reversed(passed):
            turns, cycles = done[key]
            done[before] = (turns + 1, cycles + spent)
            key = before
        found[value] = done[first]
    return found


def _key(shape: Shape, state: State) -> tuple[Term, ...]:
    return tuple(state.get(name) for name in sorted(shape.exposed))


def _spent(outs: list[Out], back: Arrival | None) -> int | None:
    """The cycles of a turn that surely goes on, or surely leaves in one way."""
    ways = [out.arrival for out in outs] + ([back] if back else [])
    if len(ways) != 1 or not ways[0].cost.exact:
        return None
    return ways[0].cost.fewest.value


def formula(points: Mapping[int, int], given: Input, reason: str) -> Cost:
    """The polynomial in the byte that gives all of these figures, else the range of them; 0 counts as 256."""
    byte = variable(term.atom(given), _WIDTH)
    by_count = {residue(value, _WIDTH): constant(figure) for value, figure in points.items()}
    least = min(by_count)
    fitted = _newton(
        [by_count[least + i] for i in range(_HIGHEST_POWER + 1) if least + i in by_count], byte, least
    )
    if all(fitted.composed(lambda _, at=at: constant(at)) == is_ for at, is_ in by_count.items()):  # type: ignore[misc]
        return Cost(fitted, fitted)
    return Cost(constant(min(points.values())), constant(max(points.values())), reason)


def _newton(figures: list[Polynomial], byte: Polynomial, least: int) -> Polynomial:
    """The polynomial through figures at `least` and the counts after it, by their differences."""
    total, product = constant(0), constant(1)
    differences = figures
    for power in range(len(figures)):
        total = total + product * differences[0]
        differences = [b + a.scaled(-1) for a, b in pairwise(differences)]
        product = (product * (byte + constant(-least - power))).scaled(Fraction(1, power + 1))
    return total
