"""Operands that decide how long a wait lasts, and the count among their values that gives it a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from ..assemble import Instruction, OperandNumber
from ..cpu import Hole
from ..timing import Wait
from ..timing.analysis import Analysis
from ..timing.ways import Out

_SECANTS: Final = 12


@dataclass(frozen=True, slots=True)
class Knob:
    """An operand whose value changes how long the wait lasts.

    Counts run from 1 to 2^width and last the longer the higher they are: of a loop that counts `up` to zero they are
    what the value lacks to it. `lasts` gives the cycles of a value, None where they are not exact.
    """

    wait: Wait
    index: int
    number: OperandNumber
    hole: Hole
    written: int
    up: bool
    lasts: Callable[[int], int | None]

    def value(self, count: int) -> int:
        return (-count if self.up else count) % self.most

    def count(self, value: int) -> int:
        return (-value if self.up else value) % self.most or self.most

    def cycles(self, count: int) -> int | None:
        return self.lasts(self.value(count))

    @property
    def most(self) -> int:
        return 1 << self.hole.width


def counts_up(written: int, most: int, lasts: Callable[[int], int | None]) -> bool:
    """Whether a higher value gives a shorter wait; beside the longest wait there may be the shortest."""
    slopes = []
    here = lasts(written % most)
    for step in (1, -1):
        beside = lasts((written + step) % most)
        if here is not None and beside is not None and beside != here:
            slopes.append((beside - here) * step)
    return min(slopes, key=abs, default=1) < 0


def measure(analysis: Analysis, wait: Wait) -> int | None:
    """Exact cycles of the wait, None where they are not exact."""
    walk = analysis.fragment(wait.part)
    outs = walk.ends()
    if wait.kind == "routine":
        return _exact(outs)
    if wait.kind == "loop":
        keys = [key for key in walk.loops if key.head == wait.index]
        if not keys:
            return None
        total = walk.loops[max(keys, key=lambda key: len(key.nodes))].total
        return total.fewest.value if total.exact else None
    fact = walk.facts.get(wait.index)
    if fact is None or fact.callee is None:
        return None
    cost = analysis.outcome(fact.callee).cost
    return cost.fewest.value if cost is not None and cost.exact else None


def longest(knob: Knob) -> int | None:
    """The most cycles that any count gives: those of the largest, or of the one before where that counts past zero."""
    ends = [knob.cycles(count) for count in (knob.most - 1, knob.most)]
    return max((cycles for cycles in ends if cycles is not None), default=None)


def _exact(outs: list[Out]) -> int | None:
    costs = {out.arrival.cost for out in outs}
    if len(costs) != 1:
        return None
    (cost,) = costs
    return cost.fewest.value if cost.exact else None


def counts(instruction: Instruction) -> Iterator[tuple[OperandNumber, Hole]]:
    """The plain numbers of an instruction's operand, with what they fill."""
    holes = {hole.name: hole for hole in instruction.action.variant.holes if hole.kind == "number"}
    for number in instruction.operands:
        if number.hole in holes and number.value is not None:
            yield number, holes[number.hole]


def solved(knob: Knob, need: int) -> tuple[int, int] | None:
    """The least count that lasts at least `need`, sought from the one written, with its cycles."""
    count = knob.count(knob.written)
    cycles = knob.cycles(count)
    for _ in range(_SECANTS):
        slope = 0 if cycles is None else _slope(knob, count, cycles)
        if cycles is None or slope <= 0:
            return None
        before = knob.cycles(count - 1) if count > 1 else None
        if cycles >= need and (before is None or before < need):
            return count, cycles
        following = min(max(count + (-(-(need - cycles) // slope) or -1), 1), knob.most)
        if following == count:
            return None
        count = following
        cycles = knob.cycles(count)
    return None


def _slope(knob: Knob, count: int, cycles: int) -> int:
    """Cycles more for one count more; beside the largest it may leap to the least."""
    slopes = []
    for step in (1, -1):
        if 1 <= count + step <= knob.most:
            beside = knob.cycles(count + step)
            if beside is not None and beside != cycles:
                slopes.append((beside - cycles) * step)
    return min(slopes, key=abs, default=0)
