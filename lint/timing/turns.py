"""When a loop's exit test first holds: the equation in the number of turns, solved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from ..cpu import term
from ..cpu.stepper import Stepper, stepper
from ..cpu.term import Input, Op, Seen, Term
from .polynomial import Polynomial, constant, variable


@dataclass(frozen=True, slots=True)
class At:
    """After `full` whole turns. `turn` is that number modulo 2^width, for putting it into other terms."""

    full: Polynomial
    turn: Term
    width: int


@dataclass(frozen=True, slots=True)
class Never:
    """In no turn at all."""


@dataclass(frozen=True, slots=True)
class Sometime:
    """In a turn that depends on these inputs: the first in which the guards hold."""

    inputs: frozenset[Input]
    guards: tuple[Term, ...]


First = At | Never | Sometime

# Counters of this many bits are stepped through where no equation fits; after 2^16 turns they repeat.
_STEPPED_BITS: Final = 16
EXACT_WIDTH: Final = 64
# So few turns are stepped through sooner than an equation is solved.
_QUICKLY_STEPPED: Final = 256
_UNCUT: Final = 1 << 16  # bits, more than there are


def first(guards: frozenset[Term], turn: Input) -> First:
    """The first turn (from 0) in which all guards are true."""
    solved = _solved(guards, turn)
    if solved is not None:
        return solved
    return _stepped(tuple(guard for guard in guards if term.decided(guard) is None), turn)


def _solved(guards: frozenset[Term], turn: Input) -> First | None:
    """The same without a step; None where no equation fits."""
    decided = {guard: term.decided(guard) for guard in guards}
    if False in decided.values():
        return Never()
    open_guards = [guard for guard, is_true in decided.items() if is_true is None]
    if not open_guards:
        return _after(0)
    return _equation(open_guards[0], turn) if len(open_guards) == 1 else None


def _after(turns: int) -> At:
    return At(constant(turns), term.number(turns), EXACT_WIDTH)


def _stepped(guards: tuple[Term, ...], turn: Input) -> First:
    holds = stepper(guards, turn)
    if holds is None:
        return Sometime(term.inputs(guards) - {turn}, guards)
    if any(_wider(guard, turn) for guard in guards):
        return Sometime(term.inputs(guards), guards)
    turns = _first_true(holds, _repeats_after(guards, turn))
    return Never() if turns is None else _after(turns)


# The same loop is met with many values from its callers, and tried in more than one way with each.
@lru_cache(maxsize=4096)
def _first_true(holds: Stepper, turns: int, *values: int) -> int | None:
    return next((turn for turn in range(turns) if all(holds(turn, *values))), None)


def longest(when: Sometime, turn: Input) -> int | None:
    """The most whole turns over every value of one byte that is not known; None where it may go on for ever."""
    if len(when.inputs) != 1 or turn in when.inputs or turn not in term.inputs(when.guards):
        return None
    (given,) = when.inputs
    if given.high - given.low > 255 or isinstance(given.origin, Seen):
        return None
    holds = stepper(when.guards, turn, given)
    if holds is not None and any(_wider(guard, turn) for guard in when.guards):
        holds = None
    turns = _repeats_after(when.guards, turn)
    if holds is not None and turns <= _QUICKLY_STEPPED:
        return _most_of_first(holds, turns, given.low, given.high)
    return _most_solved(when.guards, given, turn, holds, turns)


@lru_cache(maxsize=4096)
def _most_of_first(holds: Stepper, turns: int, low: int, high: int) -> int | None:
    most = 0
    for value in range(low, high + 1):
        found = _first_true(holds, turns, value)
        if found is None:
            return None
        most = max(most, found)
    return most


def _most_solved(
    guards: tuple[Term, ...], given: Input, turn: Input, holds: Stepper | None, turns: int
) -> int | None:
    """The most of the first turns over all values of `given`, each solved where an equation fits it."""
    most = 0
    for value in range(given.low, given.high + 1):
        fixed = frozenset(term.put(guard, given, term.number(value)) for guard in guards)
        match _solved(fixed, turn):
            case At(full=full) if full.value is not None:
                found: int | None = full.value
            case None if holds is not None:
                found = _first_true(holds, turns, value)
            case _:
                found = None
        if found is None:
            return None
        most = max(most, found)
    return most


def _wider(guard: Term, turn: Input) -> bool:
    wraps = (a for a in term.atoms(guard) if isinstance(a, Op) and a.name == "wrap")
    return any(a.numbers[0] > _STEPPED_BITS and turn in a.args[0].inputs for a in wraps)


def _repeats_after(guards: tuple[Term, ...], turn: Input) -> int:
    """The turns after which the guards hold again as from the first, as far as is tried."""
    width = max(_width(guard, turn) for guard in guards)
    return 1 << width if width <= _STEPPED_BITS else (1 << _STEPPED_BITS) + 1


def _width(a: Term, turn: Input, cut: int = _UNCUT) -> int:
    """The low bits of the turn that decide on the low `cut` bits of the term."""
    widths = (
        _width_of(part, turn) if isinstance(part, Op) else cut if part == turn else 0 for part, _ in a.parts
    )
    return max(widths, default=0)


def _width_of(part: Op, turn: Input) -> int:
    match part.name:
        case "wrap":
            return _width(part.args[0], turn, part.numbers[0])
        case "bits":
            return _width(part.args[0], turn, part.numbers[0] + 1)
    return max(_width(arg, turn) for arg in part.args)


def _equation(guard: Term, turn: Input) -> First | None:
    """Solves `counter == target`, the counter moving by an odd step; None for tests of another form."""
    test = guard.atom
    if not isinstance(test, Op) or test.name != "zero":
        return None
    (difference,) = test.args
    for part, factor in difference.parts:
        if isinstance(part, Op) and part.name == "wrap" and abs(factor) == 1:
            rest = term.add(difference, term.atom(part), -factor)
            if turn not in term.inputs([rest]):
                return _congruence(part, term.scale(rest, -factor), turn)
    return None


def _congruence(counter: Op, target: Term, turn: Input) -> First | None:
    """Solves start + step * turn = target (mod 2^width)."""
    (width,) = counter.numbers
    size = 1 << width
    (line,) = counter.args
    step = dict(line.parts).get(turn, 0)
    start = term.add(line, term.atom(turn), -step)
    if step == 0 or turn in term.inputs([start]):
        return None
    if target.bounds[1] < 0 or target.bounds[0] >= size:
        return Never()
    distance = term.add(target, start, -1)
    if step % 2 == 0:
        return _even(distance, step % size, width)
    inverse = pow(step, -1, size)
    turns = term.modulo(term.scale(distance, inverse), width)
    if turns.value is not None:
        return _after(turns.value)
    if target.bounds[0] < 0 or target.bounds[1] >= size:
        return None
    counted = variable(term.modulo(term.add(turns, term.ONE), width), width)
    return At(counted + constant(-1), turns, width)


def _even(distance: Term, step: int, width: int) -> First | None:
    if distance.value is None:
        return None
    twos = (step & -step).bit_length() - 1
    apart = distance.value % (1 << width)
    if apart % (1 << twos):
        return Never()
    size = 1 << (width - twos)
    return _after((apart >> twos) * pow(step >> twos, -1, size) % size if size > 1 else 0)
