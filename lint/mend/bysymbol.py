"""Counts as expressions of a clock symbol: one source for every clock, with the same bytes at the old one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..assemble import Origin, Program
from ..chain import Chain
from ..flow import liveness
from ..quantity import Clock, Duration
from ..rules.words import counted as many
from ..source import Edit
from ..timing import Wait, waits
from .clocksymbol import ClockSymbol
from .formula import Aim, Formula, sought
from .goal import Untouched, Wanted, key, wanted
from .knob import Knob, solved
from .maker import CannotEdit, Maker, Retimed
from .model import Evidence, Left
from .number import respell
from .padding import Padding, Pads
from .retime import Retimer, Solution
from .text import replaced
from .use import Use, use_of


@dataclass(frozen=True, slots=True)
class At:
    """The program with one clock in the symbol: its waits, and what solves them."""

    clock: Clock
    chain: Chain
    retimer: Retimer
    waits: Mapping[tuple[str, int], Wait]

    @staticmethod
    def of(chain: Chain, clock: Clock) -> At:
        retimer = Retimer(chain.timings, Pads(chain.timings, liveness(chain.graph)))
        return At(clock, chain, retimer, {key(wait): wait for wait in waits(chain.timings)})


@dataclass(frozen=True, slots=True)
class Scaled:
    """A wait whose count is written as `formula` of the symbol, and how long it then lasts at each clock."""

    retimed: Retimed
    formula: Formula
    cycles: Mapping[Clock, int]


@dataclass(frozen=True, slots=True)
class _Found:
    knob: Knob
    count: int
    formula: Formula
    cycles: Mapping[Clock, int]
    paddings: tuple[Padding, ...]


class Scaler:
    """Writes the waits of a program by a symbol, for several clocks; the first of `places` is the old one."""

    def __init__(self, symbol: ClockSymbol, old: Clock, within: Fraction | None) -> None:
        self._symbol = symbol
        self._old = old
        self._within = within

    def scalings(self, places: Sequence[At]) -> Iterator[tuple[Wait, Scaled | Left]]:
        """Every wait that would not last what it has to at one of the clocks: its expression, or why it is left."""
        base = places[0]
        maker = Maker(base.chain, max(at.clock for at in places), self._old)
        for name, wait in base.waits.items():
            there = {at.clock: (at, at.waits.get(name)) for at in places}
            goals = {
                c: wanted(at.chain.program, wait, c, self._old, self._within) for c, (at, _) in there.items()
            }
            place = base.chain.program.instructions[wait.index].origin.place
            goal = goals[self._old]
            if isinstance(goal, Untouched):
                yield wait, Left(wait.name, place, goal.reason)
            elif isinstance(goal, Wanted) and not _all_met(goals, there):
                yield (
                    wait,
                    self._scaling(maker, base, wait, goals, places)
                    or Left(wait.name, place, self._why_not(base, wait)),
                )

    def _scaling(
        self, maker: Maker, base: At, wait: Wait, goals: Mapping[Clock, object], places: Sequence[At]
    ) -> Scaled | Left | None:
        use = use_of(base.chain, wait)
        found = [each for knob in base.retimer.knobs(wait) for each in self._found(knob, goals, places)]
        if not found:
            return None
        best = min(found, key=lambda each: (sum(p.size for p in each.paddings), len(each.formula.text(""))))
        return self._made(maker, wait, goals, best, use)

    def _found(self, knob: Knob, goals: Mapping[Clock, object], places: Sequence[At]) -> Iterator[_Found]:
        """Without pads, else with the first ones that let the count fit at every clock."""
        fastest = max(places, key=lambda at: at.clock)
        plain = self._formula(knob, goals, places, ())
        if plain is not None:
            yield plain
            return
        there, goal = fastest.waits.get(key(knob.wait)), goals[fastest.clock]
        if there is None or not isinstance(goal, Wanted):
            return
        same = fastest.retimer.knob(there, knob.index, knob.number, knob.hole)
        for padding in fastest.retimer.pads_inside(same, goal.least):
            padded = self._formula(knob, goals, places, (padding,))
            if padded is not None:
                yield padded
                return

    def _formula(
        self, knob: Knob, goals: Mapping[Clock, object], places: Sequence[At], paddings: tuple[Padding, ...]
    ) -> _Found | None:
        knobs: dict[Clock, Knob] = {}
        aims: dict[int, Aim] = {}
        for at in places:
            wait, goal = at.waits.get(key(knob.wait)), goals[at.clock]
            if wait is None or not isinstance(goal, Wanted):
                return None
            here = at.retimer.knob(wait, knob.index, knob.number, knob.hole)
            for padding in paddings:
                here = at.retimer.slowed(here, padding.behind, padding.cycles)
            knobs[at.clock] = here
            aims[self._symbol.value(at.clock)] = Aim(
                self._symbol.value(at.clock), goal.aim[0], goal.aim[1], here.cycles
            )
        old = knobs[self._old]
        count = old.count(old.written) if not paddings else _least(old, goals[self._old])
        overhead = None if count is None else _overhead(old, count)
        if count is None or overhead is None:
            return None
        formula = sought(aims, self._symbol.value(self._old), count, overhead, old.most, old.up)
        if formula is None:
            return None
        cycles = {
            clock: each.cycles(each.count(formula.value(self._symbol.value(clock)))) or 0
            for clock, each in knobs.items()
        }
        return _Found(old, count, formula, cycles, paddings)

    def _why_not(self, base: At, wait: Wait) -> str:
        if not any(True for _ in base.retimer.knobs(wait)):
            return base.retimer.why_no_knob(wait)
        return f"no expression of {self._symbol.name} gives its count the range it needs at every clock"

    # -- edits -----------------------------------------------------------------------------------------------

    def _made(
        self, maker: Maker, wait: Wait, goals: Mapping[Clock, object], found: _Found, use: Use
    ) -> Scaled | Left:
        program, goal = maker.program, goals[self._old]
        assert isinstance(goal, Wanted)
        place = program.instructions[wait.index].origin.place
        value = found.knob.value(found.count)
        solution = Solution(
            found.knob.index, found.knob.number, value, found.paddings, found.cycles[self._old]
        )
        edits: dict[str, list[Edit]] = {}
        try:
            touched = [self._expression(maker, found, edits), *maker.pads(solution, edits)]
            note = None if goal.stated else maker.note(wait, goal.lasts)
        except CannotEdit as fault:
            return Left(wait.name, place, str(fault))
        if note is not None:
            edits.setdefault(note[0], []).append(note[1])
            touched.append(program.instructions[wait.index].origin)
        retimed = Retimed(
            wait=wait,
            solution=solution,
            subject=wait.name,
            place=place,
            places=tuple(dict.fromkeys(origin.text_place for origin in touched)),
            reason=f"{wait.name}: {self._short(wait, goal)}",
            result=self._result(goal, found),
            evidence=self._evidence(maker, wait, found, use),
            use=use,
            edits=edits,
            note=note,
        )
        return Scaled(retimed, found.formula, found.cycles)

    def _expression(self, maker: Maker, found: _Found, edits: dict[str, list[Edit]]) -> Origin:
        number, text = found.knob.number, found.formula.text(self._symbol.name)
        span, origin = number.span, maker.program.instructions[found.knob.index].origin
        written = number.text
        if number.symbol is not None:
            symbol = maker.constant(number)
            assert symbol.origin is not None
            span, origin = symbol.span, symbol.origin
            written = "" if span is None else origin.source.of(span).strip()
        else:
            maker.once(maker.program.instructions[found.knob.index])
        if span is None or respell(written, number.value or 0, 0) is None:
            raise CannotEdit(f"its count is written as {written}, which is not a plain number")
        edits.setdefault(origin.source.name, []).extend(replaced(origin.source, span, text))
        return origin

    def _short(self, wait: Wait, goal: Wanted) -> str:
        lasts = self._old.duration(wait.cycles).text()
        whose = "as its note states" if goal.stated else "to be kept at every clock"
        return f"{wait.cycles} cycles are {lasts} at {self._old.text()}, {whose}"

    def _result(self, goal: Wanted, found: _Found) -> str:
        parts = [found.formula.text(self._symbol.name)]
        for clock, cycles in sorted(found.cycles.items()):
            lasts = clock.duration(cycles)
            over = Duration(lasts.seconds - goal.lasts.seconds)
            error = "exact" if not over.seconds else f"{over.text(3, 'up')} longer"
            if over.seconds < 0:
                error = f"{Duration(-over.seconds).text(3, 'up')} shorter"
            parts.append(f"{cycles} cycles at {clock.text()}, {lasts.text()}: {error}")
        return "; ".join(parts)

    def _evidence(self, maker: Maker, wait: Wait, found: _Found, use: Use) -> Evidence:
        """The weakest of what each clock's count is shown to be; at the old clock nothing changes without pads."""
        grades = []
        for clock, cycles in found.cycles.items():
            value = found.knob.value(found.knob.count(found.formula.value(self._symbol.value(clock))))
            solution = Solution(found.knob.index, found.knob.number, value, found.paddings, cycles)
            grades.append(maker.evidence(wait, solution, use, "counted again with each clock in the symbol"))
        worst = max(grades, key=lambda each: ("proved", "checked", "shown").index(each.grade))
        if worst.grade == "shown":
            return worst
        size = sum(padding.size for padding in found.paddings)
        same = f"at {self._old.text()} every byte is the same"
        if size:
            fastest = max(found.cycles).text()
            same = f"at {self._old.text()} its pads are {many(size, 'byte')} more, which {fastest} needs"
        bits = max(found.formula.largest(self._symbol.value(clock)) for clock in found.cycles).bit_length()
        return Evidence(
            worst.grade, (same, *worst.lines, f"the expression needs numbers of {bits} bits on the way")
        )


def _all_met(goals: Mapping[Clock, object], there: Mapping[Clock, tuple[At, Wait | None]]) -> bool:
    for clock, (_, wait) in there.items():
        goal = goals[clock]
        if isinstance(goal, Wanted) and (wait is None or not goal.met(wait.cycles)):
            return False
    return True


def _least(knob: Knob, goal: object) -> int | None:
    found = solved(knob, goal.aim[0]) if isinstance(goal, Wanted) else None
    return None if found is None else found[0]


def _overhead(knob: Knob, count: int) -> Fraction | None:
    """What the wait lasts beside its turns, in turns."""
    here, beside = knob.cycles(count), knob.cycles(count - 1 if count > 1 else count + 1)
    if here is None or beside is None or here == beside:
        return None
    turn = abs(here - beside)
    return Fraction(here - count * turn, turn)


def same_bytes(old: Program, new: Program) -> bool:
    """Whether two programs are the same bytes at the same addresses."""
    return old.code == new.code and old.data == new.data
