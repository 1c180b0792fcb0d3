"""Solves for the counts (and pads) that give a wait the time it needs at another clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import permutations
from math import ceil
from typing import Final

from ..assemble import OperandNumber
from ..cpu import Action, Cpu, Hole, Kind, Step
from ..flow import Loop, Routine
from ..timing import Timings, Wait
from .device import read_again
from .knob import Knob, counts, counts_up, longest, measure, solved
from .nest import pair
from .outer import Outer, Outers
from .padding import MOST_PADDED, Padding, Pads
from .reach import reach
from .region import Regions
from .wider import Wider, Widers

# Pads tried beyond the shortest one that lets a counter reach the time.
_PADS_TRIED: Final = 4
_PADS_TOGETHER: Final = 8
# Pads of more bytes than these are as much code as another counter, which is then the lesser change.
_FEW_PADS: Final = 4
_NONE_SLOWER: Final[Mapping[int, Action]] = {}


@dataclass(frozen=True, slots=True)
class Count:
    """A new value for an operand."""

    index: int
    number: OperandNumber
    value: int


@dataclass(frozen=True, slots=True)
class Solution:
    """A new value for one operand (None: it stays), `also` for that of another loop of the nest, and what goes with it.

    That is pads, a wider counter or an outer level. `cycles` is how long the wait then lasts.
    """

    index: int
    number: OperandNumber | None
    value: int
    paddings: tuple[Padding, ...]
    cycles: int
    outer: Outer | None = None
    wider: Wider | None = None
    also: Count | None = None

    @property
    def counts(self) -> tuple[Count, ...]:
        """The operands that get new values."""
        own = () if self.number is None else (Count(self.index, self.number, self.value),)
        return own if self.also is None else (*own, self.also)

    @property
    def inserted(self) -> tuple[Padding, ...]:
        """The pads and the instructions of an outer level or a wider counter that the program has more."""
        made = self.outer or self.wider
        return self.paddings if made is None else (*self.paddings, *made.inserted)

    @property
    def change(self) -> tuple[int, int, int, int]:
        """How much changes: a count and few pads, another counter, an outer level, many pads; then bytes and time."""
        pads = sum(padding.size for padding in self.paddings)
        kind = 1 if self.wider is not None else 2 if self.outer is not None else 3 * (pads > _FEW_PADS)
        longer = sum(padding.size for padding in self.inserted) if self.wider is None else self.wider.longer
        return kind, longer + len(self.counts), self.cycles, len(str(self.value))


@dataclass(frozen=True, slots=True)
class NoSolution:
    """Why no count does it, in words."""

    reason: str


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place for pads: behind an instruction, or before it."""

    index: int
    before: bool


class Retimer:
    """Solves the waits of one program."""

    def __init__(self, timings: Timings, pads: Pads, regions: Regions | None = None) -> None:
        self._analysis = timings.analysis
        self._graph = timings.graph
        self._program = timings.graph.program
        self._cpu: Cpu = timings.graph.program.cpu
        self._pads = pads
        self._outers = Outers(regions) if regions is not None else None
        self._widers = Widers(regions) if regions is not None else None

    def solve(
        self, wait: Wait, need: int, most: int, nearest: Fraction | None = None
    ) -> list[Solution] | NoSolution:
        """What makes the wait last at least `need` and at most `most` cycles, of each kind the least change.

        The least of all comes first. With `nearest` the count that comes nearest to so many, be it above or below.
        """
        knobs = list(self.knobs(wait))
        if not knobs and not any(True for _ in wait.part.loops()):
            return self._padded(wait, need)
        if not knobs:
            return NoSolution(self.why_no_knob(wait))
        if nearest is not None:
            close = [s for knob in knobs for s in self._nearest(knob, nearest)]
            if close:
                return [min(close, key=lambda s: (abs(s.cycles - nearest), len(str(s.value))))]
        solutions = [s for knob in knobs for s in self._solutions(knob, need, most)]
        narrow = [knob for knob in knobs if solved(knob, need) is None] if self._outers else []
        near = [s for s in solutions if s.cycles <= most]
        if not any(not s.inserted for s in near):
            near += [
                s for outer, inner in permutations(knobs, 2) for s in self._both(outer, inner, need, most)
            ]
        if len(narrow) == len(knobs):
            near += [
                s
                for knob in narrow
                for s in (*self._wider(knob, need, most), *self._around(knob, need, most))
            ]
        if near:
            near.sort(key=lambda s: s.change)
            least: dict[int, Solution] = {}
            for each in near:
                least.setdefault(each.change[0], each)
            return list(least.values())
        if not solutions:
            return NoSolution(self._too_narrow(narrow))
        best = min(solutions, key=lambda s: s.cycles)
        return NoSolution(f"the nearest count lasts {best.cycles} cycles where {need} are needed")

    def solve_together(self, calls: Sequence[tuple[Wait, int, int]]) -> list[Solution]:
        """One count in the routine that all these calls lead to, which gives each its fewest to most cycles.

        Empty where there is none.
        """
        first = calls[0][0]
        for index in sorted(reach(self._graph, first) - first.part.nodes):
            for number, hole in counts(self._program.instructions[index]):
                knobs = [self.knob(wait, index, number, hole) for wait, _, _ in calls]
                if all(self._turns_it(knob) and not self._read_again(knob) for knob in knobs):
                    found = next(self._together(knobs, calls), None)
                    if found is not None:
                        return found
        return []

    def _together(
        self, knobs: list[Knob], calls: Sequence[tuple[Wait, int, int]]
    ) -> Iterator[list[Solution]]:
        for padding in (None, *self._pads_together(knobs[0])):
            slower = [self.slowed(k, padding.behind, padding.cycles) if padding else k for k in knobs]
            found = [solved(knob, need) for knob, (_, need, _) in zip(slower, calls, strict=True)]
            for count in dict.fromkeys(each[0] for each in found if each is not None):
                value = knobs[0].value(count)
                lasts = [knob.lasts(value) for knob in slower]
                if all(
                    c is not None and need <= c <= most
                    for c, (_, need, most) in zip(lasts, calls, strict=True)
                ):
                    paddings = (padding,) if padding else ()
                    yield [Solution(knobs[0].index, knobs[0].number, value, paddings, c or 0) for c in lasts]

    def solve_apart(self, calls: Sequence[tuple[Wait, int, int]]) -> list[Solution]:
        """A count of its own for each call, with one pad before the return of the routine they all lead to.

        Empty where that does not give each its fewest to most cycles.
        """
        for before, back in self._way_back(calls[0][0]):
            for cycles in range(1, _PADS_TOGETHER + 1):
                padding = self._pads.at(before, cycles)
                if padding is not None and padding.cycles == cycles:
                    slower = {back: self.longer(back, cycles)}
                    found = [s for call in calls if (s := self._apart(call, padding, slower)) is not None]
                    if len(found) == len(calls):
                        return found
        return []

    def _apart(
        self, call: tuple[Wait, int, int], padding: Padding, slower: Mapping[int, Action]
    ) -> Solution | None:
        wait, need, most = call
        for knob in self.knobs(wait):
            padded = replace(knob, lasts=self._lasting(wait, knob.index, knob.hole, slower))
            found = solved(padded, need)
            if found is not None and found[1] <= most:
                return Solution(knob.index, knob.number, knob.value(found[0]), (padding,), found[1])
        return None

    def _way_back(self, call: Wait) -> Iterator[tuple[int, int]]:
        """The return of the routine that a call leads to, and the instruction before it that alone leads there."""
        inside = reach(self._graph, call) - call.part.nodes
        returns = sorted(inside & self._graph.returns)
        sources = [e.source for n in inside for e in self._graph.edges[n] if e.target in returns]
        if len(returns) == 1 and sources == [returns[0] - 1]:
            yield sources[0], returns[0]

    def _pads_together(self, knob: Knob) -> Iterator[Padding]:
        (call,) = (c for n in knob.wait.part.nodes if (c := self._graph.calls.get(n)) is not None)
        if call.target is None:
            return
        for spot in self._inside(self._analysis.routine(call.target), knob):
            for cycles in range(1, _PADS_TOGETHER + 1):
                padding = self._pads.at(spot.index, cycles, spot.before)
                if padding is not None and padding.cycles == cycles:
                    yield padding

    def _padded(self, wait: Wait, need: int) -> list[Solution] | NoSolution:
        """A straight run that only passes time gets the rest as pads."""
        behind = next((n for n in sorted(wait.part.nodes) if self._straight(n)), None)
        missing = need - wait.cycles
        if behind is None or missing > MOST_PADDED:
            return NoSolution("it has no count to change")
        padding = self._pads.at(behind, missing)
        if padding is None:
            return NoSolution("no instruction of the processor can pad it")
        return [Solution(behind, None, 0, (padding,), wait.cycles + padding.cycles)]

    def knobs(self, wait: Wait) -> Iterator[Knob]:
        """The operands on which the wait's time depends."""
        for index in sorted(wait.part.nodes):
            for number, hole in counts(self._program.instructions[index]):
                knob = self.knob(wait, index, number, hole)
                if self._turns_it(knob) and not self._read_again(knob):
                    yield knob

    def why_no_knob(self, wait: Wait) -> str:
        """Why none of the operands may be changed, in words."""
        for index in sorted(wait.part.nodes):
            for number, hole in counts(self._program.instructions[index]):
                knob = self.knob(wait, index, number, hole)
                read = self._read_again(knob) if self._turns_it(knob) else ""
                if read:
                    return f"another count would read {read}, which may be a device, another number of times"
        return "its count is not an immediate operand written as a number or a constant"

    def _read_again(self, knob: Knob) -> str:
        """What another count would read more or less often."""
        count = knob.count(knob.written)
        value = knob.value(count + 1 if count < knob.most else count - 1)
        return read_again(self._analysis, knob.wait, {knob.index: self.bound(knob.index, knob.hole, value)})

    def knob(self, wait: Wait, index: int, number: OperandNumber, hole: Hole) -> Knob:
        """An operand taken for one on which the wait's time depends."""
        lasts = self._lasting(wait, index, hole)
        written = number.value or 0
        return Knob(wait, index, number, hole, written, counts_up(written, 1 << hole.width, lasts), lasts)

    def _lasting(
        self, wait: Wait, index: int, hole: Hole, slower: Mapping[int, Action] = _NONE_SLOWER
    ) -> Callable[[int], int | None]:
        known: dict[int, int | None] = {}

        def lasts(value: int) -> int | None:
            if value not in known:
                actions = {**slower, index: self.bound(index, hole, value)}
                known[value] = measure(self._analysis.replacing(actions), wait)
            return known[value]

        return lasts

    def bound(self, index: int, hole: Hole, value: int) -> Action:
        """An instruction with another number in it."""
        action = self._program.instructions[index].action
        fields = {**action.fields, hole.name: value}
        return self._cpu.bind(action.row, action.variant, fields, action.address)

    def _turns_it(self, knob: Knob) -> bool:
        count = knob.count(knob.written)
        other = count + 1 if count < knob.most else count - 1
        return knob.cycles(count) == knob.wait.cycles != knob.cycles(other)

    def _solutions(self, knob: Knob, need: int, most: int) -> Iterator[Solution]:
        above = solved(knob, need)
        if above is not None:
            yield from self._near(knob, above, need, most, ())
            return
        for padding in self.pads_inside(knob, need):
            slowed = self.slowed(knob, padding.behind, padding.cycles)
            above = solved(slowed, need)
            if above is not None:
                yield from self._near(slowed, above, need, most, (padding,))

    def _both(self, first: Knob, then: Knob, need: int, most: int) -> Iterator[Solution]:
        """Two counts of a nest chosen together: the second is loaded inside the loop that the first one counts."""
        if not any(
            then.index in loop.nodes and first.index not in loop.nodes for loop in first.wait.part.loops()
        ):
            return
        index, number, hole = then.index, then.number, then.hole

        def lasts(outer: int, inner: int) -> int | None:
            actions = {first.index: self.bound(first.index, first.hole, first.value(outer) % first.most)}
            actions[index] = self.bound(index, hole, then.value(inner) % then.most)
            return measure(self._analysis.replacing(actions), first.wait)

        found = pair(first, then, lasts, need)
        if found is not None and found[2] <= most:
            outer, inner, cycles = found
            yield Solution(
                first.index,
                first.number,
                first.value(outer) % first.most,
                (),
                cycles,
                also=Count(index, number, then.value(inner) % then.most),
            )

    def _around(self, knob: Knob, need: int, most: int) -> Iterator[Solution]:
        """With an outer level around the loop."""
        for each in self._outers.around(knob, need, most) if self._outers else ():
            value = knob.value(each.count)
            yield Solution(knob.index, self._changed(knob, value), value, (), each.cycles, each.outer)

    def _wider(self, knob: Knob, need: int, most: int) -> Iterator[Solution]:
        """With a counter that counts further."""
        for each in self._widers.wider(knob, need, most) if self._widers else ():
            yield Solution(knob.index, knob.number, each.count, (), each.cycles, wider=each.wider)

    def _too_narrow(self, knobs: list[Knob]) -> str:
        reason = "its counter is too narrow for the new count, and pads in the loop do not reach it"
        if self._outers is None or not any(self._outers.fits(knob) for knob in knobs):
            return reason
        return (
            f"{reason}; a wider counter or an outer level finds no register that nobody reads there: "
            "save one on the stack around the wait, or run the wait more often"
        )

    def _nearest(self, knob: Knob, target: Fraction) -> Iterator[Solution]:
        above = solved(knob, ceil(target))
        if above is not None:
            for count in (above[0], above[0] - 1):
                lasts = knob.cycles(count) if count else None
                if lasts is not None:
                    value = knob.value(count)
                    yield Solution(knob.index, self._changed(knob, value), value, (), lasts)

    def _near(
        self, knob: Knob, above: tuple[int, int], need: int, most: int, pads: tuple[Padding, ...]
    ) -> Iterator[Solution]:
        """The count that lasts long enough, and where that is too long the next lower ones with the rest as pads."""
        count, cycles = above
        value, lower = knob.value(count), count - 1
        yield Solution(knob.index, self._changed(knob, value), value, pads, cycles)
        lasts = knob.cycles(lower) if lower and cycles > most else None
        if lasts is not None and lasts < need:
            rests = [*self._padded_before(knob, lower, need - lasts)]
            if not pads:
                rests += self._padded_turns(knob, lower, need - lasts)
            yield from (replace(rest, paddings=(*pads, *rest.paddings)) for rest in rests)

    def _changed(self, knob: Knob, value: int) -> OperandNumber | None:
        return None if value == knob.written else knob.number

    def _padded_before(self, knob: Knob, count: int, missing: int) -> Iterator[Solution]:
        """The rest as a pad behind the instruction that loads the count."""
        looped = any(knob.index in loop.nodes for loop in knob.wait.part.loops())
        # Of a loop or a call only its own cycles count, not those of what loads its counter.
        if looped or knob.wait.kind != "routine" or missing > MOST_PADDED:
            return
        padding = self._pads.at(knob.index, missing)
        if padding is not None:
            yield self._with_pad(knob, count, padding, 1)

    def _padded_turns(self, knob: Knob, count: int, missing: int) -> Iterator[Solution]:
        """The rest spread over the turns of the innermost loop."""
        for spot in self._inside(knob.wait.part, knob):
            slowed = self.slowed(knob, spot.index, 1)
            plain, longer = (each.cycles(count) for each in (knob, slowed))
            turns = 0 if plain is None or longer is None else longer - plain
            if turns > 0 and missing <= turns * MOST_PADDED:
                padding = self._pads.at(spot.index, -(-missing // turns), spot.before)
                if padding is not None:
                    yield self._with_pad(knob, count, padding, turns)

    def _with_pad(self, knob: Knob, count: int, padding: Padding, times: int) -> Solution:
        value = knob.value(count)
        cycles = (knob.lasts(value) or 0) + padding.cycles * times
        return Solution(knob.index, self._changed(knob, value), value, (padding,), cycles)

    def pads_inside(self, knob: Knob, need: int) -> Iterator[Padding]:
        """For a counter that is too narrow: pads in the innermost loop, so that each turn takes longer."""
        for spot in self._inside(knob.wait.part, knob):
            for cycles in self._pads_to_try(knob, spot, need):
                padding = self._pads.at(spot.index, cycles, spot.before)
                if padding is not None and padding.cycles == cycles:
                    yield padding

    def _inside(self, part: Routine, knob: Knob) -> Iterator[_Spot]:
        """Where a pad can stand in each innermost loop that does not load the count itself."""
        for loop in part.loops():
            innermost = not any(isinstance(item, Loop) for item in loop.items)
            if innermost and knob.index not in loop.nodes:
                yield _Spot(*self.spot(loop))

    def spot(self, loop: Loop) -> tuple[int, bool]:
        """The instruction of a loop that a pad can stand behind; of one that has room before it alone, and True."""
        behind = next((node for node in sorted(loop.nodes) if self._straight(node)), None)
        return (loop.head, True) if behind is None else (behind, False)

    def _pads_to_try(self, knob: Knob, spot: _Spot, need: int) -> range:
        """From the shortest pad with which the largest count lasts long enough."""
        plain, slowed = longest(knob), longest(self.slowed(knob, spot.index, 1))
        if plain is None or slowed is None or slowed <= plain or need <= plain:
            return range(0)
        least = -(-(need - plain) // (slowed - plain))
        return range(least, min(least + _PADS_TRIED, MOST_PADDED + 1))

    def slowed(self, knob: Knob, behind: int, cycles: int) -> Knob:
        """The same count with an instruction that takes so many cycles longer, as it does with a pad behind it."""
        slower = {behind: self.longer(behind, cycles)}
        return replace(knob, lasts=self._lasting(knob.wait, knob.index, knob.hole, slower))

    def longer(self, index: int, cycles: int) -> Action:
        """An instruction that takes so many cycles more."""
        action = self._program.instructions[index].action
        return replace(action, steps=(*action.steps, *[Step(Kind.IDLE)] * cycles))

    def _straight(self, index: int) -> bool:
        return [edge.way for edge in self._graph.edges[index]] == ["next"] and index not in self._graph.calls
