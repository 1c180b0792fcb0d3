"""The way between two accesses in cycles: what runs from the one to the other, and what the bus does meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from ...chain import Chain
from ...cpu import TAKEN, Kind, Repeated
from ...quantity import Clock, Duration
from ...rules import Finding, PadGoal
from ...timing import Exact, LoopTiming, Total, called, ways

# One letter a cycle, as the processor tables have them; what is no access is a dot.
_LETTERS: Final = {Kind.FETCH: "F", Kind.READ: "R", Kind.WRITE: "W", Kind.DUMMY: "D"}


@dataclass(frozen=True, slots=True)
class Stretch:
    """Cycles of an instruction, or of what is passed over; `bus` has a letter for each, or is empty where not known."""

    text: str
    cycles: int
    bus: str
    whole: bool = True


@dataclass(frozen=True, slots=True)
class Way:
    """What runs between two accesses: `measured` cycles, from cycle `before` of the first instruction on.

    `behind` are the cycles of the last instruction that come after its access. `limit` is what is needed in cycles of
    the clock, `least` whether it is needed at least. `words` say what is done to the part at either end.
    """

    stretches: tuple[Stretch, ...]
    before: int
    measured: int
    behind: int
    limit: Fraction
    clock: Clock
    needed: Duration
    words: tuple[str, str]

    @property
    def spare(self) -> Duration:
        """What there is more than is needed; below zero what is missing."""
        return Duration(self.clock.duration(self.measured).seconds - self.needed.seconds)


class Finder:
    """Finds the ways of one build."""

    def __init__(self, chain: Chain) -> None:
        self._chain = chain
        self._ways = ways(chain.timings)
        self._called = called(chain.timings)
        self._loops: dict[int, list[LoopTiming]] = {}
        for loop in chain.timings.loops:
            self._loops.setdefault(loop.head, []).append(loop)

    def way(self, finding: Finding) -> Way | None:
        """The way a finding speaks of; None where it is of no two accesses with a way that is known."""
        goal, clock, limit, measured = finding.goal, finding.clock, finding.limit, finding.measured_cycles
        if not isinstance(goal, PadGoal) or limit is None or measured is None or clock is None:
            return None
        if len(goal.path) < 2:
            return None
        first, then = goal.first.access, goal.then.access
        stretches = tuple(self._stretches(goal.path, measured, first.last, then.first))
        return Way(
            stretches,
            first.last,
            measured,
            stretches[-1].cycles - then.first,
            limit.cycles(clock),
            clock,
            limit,
            (first.way, then.way),
        )

    def _stretches(self, path: Sequence[int], measured: int, start: int, end: int) -> Iterator[Stretch]:
        """The instructions of the way; between the first and the last one stretch where they do not add up."""
        own = [self._instruction(index, following) for index, following in pairwise(path)]
        last = self._instruction(path[-1], None)
        over = {number: self._over(path, number, own[number].cycles) for number in range(len(own))}
        left = measured - (own[0].cycles - start) - end - sum(each.cycles for each in own[1:])
        unknown = [number for number, cycles in over.items() if cycles is None]
        left -= sum(cycles for cycles in over.values() if cycles is not None)
        if left >= 0 and len(unknown) == 1:
            over[unknown[0]], left, unknown = left, 0, []
        if left or unknown:
            cycles = measured - (own[0].cycles - start) - end
            yield own[0]
            yield Stretch(f"{len(own) - 1} instructions", cycles, "", whole=False)
        else:
            for number, each in enumerate(own):
                yield each
                if over[number]:
                    yield Stretch(self._name(path[number]), over[number] or 0, "", whole=False)
        yield last

    def _instruction(self, index: int, following: int | None) -> Stretch:
        instruction = self._chain.program.instructions[index]
        found = self._ways.get(index, {})
        edge = next((e.way for e in self._chain.graph.edges[index] if e.target == following), None)
        lows = [low for way, (low, _) in found.items() if edge is None or way == edge]
        cycles = min(lows or [low for low, _ in found.values()], default=len(instruction.action.steps))
        origin = instruction.origin
        spans = (origin.statement.operation, origin.statement.operand)
        text = " ".join(origin.source.of(span) for span in spans if span is not None)
        return Stretch(text, cycles, self._bus(index, edge, cycles))

    def _bus(self, index: int, edge: str | None, cycles: int) -> str:
        letters = ""
        for step in self._chain.program.instructions[index].action.steps:
            guards = [] if isinstance(step, Repeated) else step.guards
            if isinstance(step, Repeated) or any(guard.name != TAKEN for guard in guards):
                return ""
            if all(guard.wanted == (edge == "taken") for guard in guards):
                letters += _LETTERS.get(step.kind, ".")
        return letters if len(letters) == cycles else ""

    def _over(self, path: Sequence[int], number: int, own: int) -> int | None:
        """Cycles beside its own: of a routine called, of further turns of a loop; None where they are not known."""
        index = path[number]
        call = self._chain.graph.calls.get(index)
        if call is not None and call.target is not None and not call.tail and path[number + 1] != call.target:
            return self._exact(self._called.get(index))
        for loop in self._loops.get(index, ()):
            if len(loop.key.nodes & set(path)) == 1:
                total = self._exact(loop.total)
                return None if total is None else total - own
        return 0

    def _exact(self, total: Total | None) -> int | None:
        return total.cycles if isinstance(total, Exact) else None

    def _name(self, index: int) -> str:
        call = self._chain.graph.calls.get(index)
        return self._chain.graph.name(index if call is None or call.target is None else call.target)
