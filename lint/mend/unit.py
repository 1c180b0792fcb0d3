"""Keeps the unit of a routine that its callers hand a count: the routine is changed, not what they hand over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Final

from ..chain import Chain
from ..cpu import Action
from ..errors import Place
from ..flow import Loop, Routine, liveness
from ..quantity import Clock
from ..rules.stated import own_clock
from ..source import Edit
from ..timing import Formula, RoutineTiming, Wait, open_waits, waits
from ..timing.analysis import Analysis
from ..timing.polynomial import NOTHING, Monomial, Polynomial
from ..timing.result import Context
from ..timing.wording import formula
from .device import read_again
from .goal import tolerance
from .knob import counts
from .maker import CannotEdit, Maker
from .model import Evidence
from .padding import MOST_PADDED, Padding, Pads
from .retime import Retimer, Solution
from .use import Use, use_of

# A routine called from more places than this gets pads, though each caller's count could be changed.
_FEW_CALLS: Final = 4

_Parts = Mapping[Monomial, Fraction]


@dataclass(frozen=True, slots=True)
class Unit:
    """A routine changed so that it lasts as long as before, whatever it is handed. `text` are its cycles afterwards."""

    entry: int
    name: str
    reason: str
    result: str
    text: str
    use: Use
    evidence: Evidence
    paddings: tuple[Padding, ...]
    places: tuple[Place, ...]
    edits: Mapping[str, list[Edit]]

    def lasts_in(self, edited: Chain) -> bool:
        """Whether the routine, counted in the edited program, takes what it was solved for."""
        found = (r.total for r in edited.timings.routines if r.entry.name == self.name)
        return any(isinstance(total, Formula) and total.text == self.text for total in found)


def units(chain: Chain, clock: Clock, written_for: Clock | None, within: Fraction | None) -> Iterator[Unit]:
    """The routines that can be changed, where callers decide their time."""
    opened = open_waits(chain.timings)
    calls = [wait for wait in waits(chain.timings) if wait.kind == "call"]
    for routine in chain.timings.routines:
        entry = routine.entry.index
        old = own_clock(chain.program, entry) or written_for
        known = [wait for wait in calls if chain.graph.calls[wait.index].target == entry]
        if old is None or old == clock or not (routine in opened or known):
            continue
        many = routine in opened or len(known) > _FEW_CALLS
        found = _Solver(chain, routine, old, clock, within).unit(known, many)
        if found is not None:
            yield found


class _Solver:
    def __init__(
        self, chain: Chain, routine: RoutineTiming, old: Clock, clock: Clock, within: Fraction | None
    ) -> None:
        self.chain = chain
        self.routine = routine
        self.old = old
        self.clock = clock
        self.within = within
        self.ratio = clock.hz / old.hz
        self.analysis: Analysis = chain.timings.analysis
        self.part: Routine = self.analysis.routine(routine.entry.index)
        self.pads = Pads(chain.timings, liveness(chain.graph))
        self.retimer = Retimer(chain.timings, self.pads)
        self.parts = self._cost({}) or {}

    def unit(self, calls: list[Wait], many: bool) -> Unit | None:
        """The routine with another count of its own, else with pads where `many` counts would have to be changed."""
        if not self.parts or any(self._stated(call) for call in calls):
            return None
        live = self.chain.graph.returns & self.part.nodes
        behind = frozenset[str]().union(*(liveness(self.chain.graph).after[n] for n in live))
        entry = self.routine.entry
        wait = Wait("routine", entry.index, entry.name, self.part, 0, behind)
        use = use_of(self.chain, wait)
        if use.hurts or use.frame is not None:
            return None
        for solution, parts in (*self._with_count(), *(self._with_pads({}, ()) if many else ())):
            if self._enough(parts) and not self._read_again(wait, solution):
                return self._made(wait, use, solution, parts)
        return None

    def _read_again(self, wait: Wait, solution: Solution) -> str:
        """What the routine would read another number of times."""
        if solution.number is None:
            return ""
        hole = next(
            h for n, h in counts(self.chain.program.instructions[solution.index]) if n == solution.number
        )
        changed = {solution.index: self.retimer.bound(solution.index, hole, solution.value)}
        return read_again(self.analysis, wait, changed)

    def _stated(self, call: Wait) -> bool:
        return use_of(self.chain, call) != Use("wait", "it does nothing but last")

    # -- what it takes ---------------------------------------------------------------------------------------

    def _cost(self, actions: Mapping[int, Action]) -> _Parts | None:
        cost = self.analysis.replacing(actions).outcome(Context(self.routine.entry.index)).cost
        return dict(cost.fewest.parts) if cost is not None and cost.exact else None

    def _missing(self, parts: _Parts) -> dict[Monomial, Fraction]:
        """What each term of the formula lacks at the new clock."""
        names = parts.keys() | self.parts.keys()
        return {m: self.parts.get(m, Fraction(0)) * self.ratio - parts.get(m, Fraction(0)) for m in names}

    def _enough(self, parts: _Parts) -> bool:
        assert isinstance(self.routine.total, Formula)
        shortest = self.routine.total.fewest * self.ratio
        for monomial, missing in self._missing(parts).items():
            need = self.parts.get(monomial, Fraction(0)) * self.ratio
            allowed = need * (self.within if self.within is not None else Fraction(1, 100))
            if monomial == NOTHING:
                allowed = Fraction(tolerance(ceil(shortest), self.within))
            if missing > 0 or -missing > abs(allowed):
                return False
        return True

    # -- changes ---------------------------------------------------------------------------------------------

    def _with_count(self) -> Iterator[tuple[Solution, _Parts]]:
        """Another value of a count in the routine itself, and pads for what is left of the constant."""
        lead = max(self.parts, key=lambda monomial: sum(power for _, power in monomial))
        for index in sorted(self.part.nodes):
            for number, hole in counts(self.chain.program.instructions[index]):
                most, written = 1 << hole.width, number.value or 0
                here, beside = (
                    self._cost({index: self.retimer.bound(index, hole, v % most)})
                    for v in (written, written + 1)
                )
                if here is None or beside is None:
                    continue
                slope = beside.get(lead, Fraction(0)) - here.get(lead, Fraction(0))
                if here != self.parts or not slope:
                    continue
                value = written + ceil(self._missing(self.parts)[lead] / slope)
                if not 0 < value < most:
                    continue
                action = self.retimer.bound(index, hole, value)
                parts = self._cost({index: action})
                if parts is not None:
                    solution = Solution(index, number, value, (), 0)
                    yield solution, parts
                    for rest, padded in self._rest({index: action}, parts):
                        yield replace(solution, paddings=(rest,)), padded

    def _with_pads(
        self, actions: Mapping[int, Action], paddings: tuple[Padding, ...]
    ) -> Iterator[tuple[Solution, _Parts]]:
        """Pads in an innermost loop, and for what is left of the constant outside of all."""
        lead = max(self.parts, key=lambda monomial: sum(power for _, power in monomial))
        for loop in self.part.loops():
            if any(isinstance(item, Loop) for item in loop.items):
                continue
            index, before = self.retimer.spot(loop)
            longer = self._cost({**actions, index: self.retimer.longer(index, 1)})
            gain = (
                Fraction(0)
                if longer is None
                else longer.get(lead, Fraction(0)) - self.parts.get(lead, Fraction(0))
            )
            cycles = ceil(self._missing(self.parts)[lead] / gain) if gain > 0 else 0
            padding = self.pads.at(index, cycles, before) if 0 < cycles <= MOST_PADDED else None
            if padding is None:
                continue
            changed = {**actions, index: self.retimer.longer(index, padding.cycles)}
            parts = self._cost(changed)
            if parts is not None:
                solution = Solution(index, None, 0, (*paddings, padding), 0)
                yield solution, parts
                for rest, padded in self._rest(changed, parts):
                    yield replace(solution, paddings=(*solution.paddings, rest)), padded

    def _rest(self, actions: Mapping[int, Action], parts: _Parts) -> Iterator[tuple[Padding, _Parts]]:
        """A pad that every way through the routine passes once."""
        missing = ceil(self._missing(parts).get(NOTHING, Fraction(0)))
        if not 0 < missing <= MOST_PADDED:
            return
        for index in sorted(self.part.nodes & self.chain.graph.returns, reverse=True):
            if index in actions:
                continue
            padding = self.pads.at(index, missing, before=True)
            if padding is not None:
                padded = self._cost({**actions, index: self.retimer.longer(index, padding.cycles)})
                if padded is not None:
                    yield padding, padded

    # -- edits -----------------------------------------------------------------------------------------------

    def _made(self, wait: Wait, use: Use, solution: Solution, parts: _Parts) -> Unit | None:
        maker = Maker(self.chain, self.clock, self.old)
        edits: dict[str, list[Edit]] = {}
        try:
            touched = [*maker.count(solution, edits), *maker.pads(solution, edits)]
            path, note = maker.noted(
                wait, f"written for {self.clock.text()}", own_clock(self.chain.program, wait.index)
            )
        except CannotEdit:
            return None
        edits.setdefault(path, []).append(note)
        instruction = self.chain.program.instructions[wait.index]
        assert isinstance(self.routine.total, Formula)
        text = formula(Polynomial(frozenset((m, k) for m, k in parts.items() if k)), self.chain.graph)
        exact = not any(self._missing(parts).values())
        error = "exactly as long" if exact else "never shorter"
        was = f"{self.routine.total.text} cycles"
        return Unit(
            entry=wait.index,
            name=wait.name,
            reason=f"{wait.name}: it takes {was}, which its callers decide; they were right at {self.old.text()}",
            result=f"{text} cycles, at {self.clock.text()} {error} whatever they hand over",
            text=text,
            use=use,
            evidence=maker.evidence(wait, solution, use, f"counted again on the edited text: {text} cycles"),
            paddings=solution.paddings,
            places=tuple(origin.text_place for origin in (*touched, instruction.origin)),
            edits=edits,
        )
