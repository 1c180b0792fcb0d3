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
    """An operand whose value changes how long the wait lasts; counts run from 1 to 2^width, 0 standing for 2^width."""

    wait: Wait
    index: int
    number: OperandNumber
    hole: Hole
    written: int
    lasts: Callable[[int], int | None]

    def value(self, count: int) -> int:
        return count % (1 << self.hole.width)

    @property
    def most(self) -> int:
        return 1 << self.hole.width


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
    ends = [knob.lasts(knob.value(count)) for count in (1, knob.most)]
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
    """The value nearest to the one written that lasts at least `need`, one step less not; with its cycles."""
    count = knob.written % knob.most or knob.most
    cycles = knob.lasts(knob.value(count))
    for _ in range(_SECANTS):
        if cycles is None:
            return None
        step = 1 if count < knob.most else -1
        beside = knob.lasts(knob.value(count + step))
        slope = 0 if beside is None else (beside - cycles) * step
        if slope == 0:
            return None
        # Counters that run up to an overflow last longer the lower they start.
        longer = 1 if slope > 0 else -1
        before = knob.lasts(knob.value(count - longer)) if 1 <= count - longer <= knob.most else None
        if cycles >= need and (before is None or before < need):
            return knob.value(count), cycles
        moved = -(-(need - cycles) // abs(slope)) * longer or -longer
        following = min(max(count + moved, 1), knob.most)
        if following == count:
            return None
        count = following
        cycles = knob.lasts(knob.value(count))
    return None
