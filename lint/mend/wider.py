"""A counting loop in a register that counts further, where one is free there, in place of one that is too narrow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ..assemble import Instruction
from ..cpu.notation import COUNTER
from .countdown import Countdown, countdowns, counted, flags, with_branch
from .filler import Filler
from .knob import Knob
from .number import respell
from .padding import Padding
from .region import Line, Region, Regions

# Stands in an operand for the author's own words: his number, his constant, his label.
OWN: Final = "\0"


@dataclass(frozen=True, slots=True)
class Wider:
    """A countdown in place of another: the load at `first`, the step at `step`, the branch back at `last`.

    The first instruction of `turn` stands for the old step, the others behind it. `back` is None where the old branch
    stays, and where the old step was a branch, too: then the new one is the last of `turn`. `longer` is in bytes.
    """

    first: int
    step: int
    last: int
    load: Filler
    number: str
    turn: tuple[Filler, ...]
    back: Filler | None
    label: str
    longer: int

    @property
    def inserted(self) -> tuple[Padding, ...]:
        """What the program has more than before, as if they were pads."""
        return (Padding(self.step, self.turn[1:]),)

    def written(self) -> Iterator[tuple[int, tuple[Filler, ...], str]]:
        """Instructions to be replaced, what stands for each, and what is written there for OWN."""
        yield self.first, (self.load,), self.number
        yield self.step, self.turn, self.label
        if self.back is not None:
            yield self.last, (self.back,), self.label


@dataclass(frozen=True, slots=True)
class Widened:
    """A wider counter with its count, and how long the wait then lasts."""

    wider: Wider
    count: int
    cycles: int


@dataclass(frozen=True, slots=True)
class _Old:
    """The loop whose register is too narrow, and where its step stands."""

    region: Region
    line: Line
    countdown: Countdown
    step: int

    @property
    def others(self) -> list[int]:
        """What else stands there."""
        region = self.region
        own = (region.first, self.step, region.last)
        return [node for node in range(region.first, region.last) if node not in own]


class Widers:
    """The wider counters that a program has room for."""

    def __init__(self, regions: Regions) -> None:
        self._regions = regions

    def wider(self, knob: Knob, need: int, most: int) -> Iterator[Widened]:
        """Wider counters that make the wait last at least `need` and at most `most` cycles."""
        old = self._old(knob)
        if old is None:
            return
        cpu, modes = self._regions.cpu, self._regions.modes
        branch = self._regions.action(old.region.last)
        for way in countdowns(cpu, modes):
            if way.most <= knob.most or not way.turn:
                continue
            same = with_branch(cpu, modes, way, branch) if old.step != old.region.last else None
            way = same or way
            if self._free(way, old):
                found = self._solved(way, old, need, most, keeps=same is not None)
                if found is not None:
                    yield found

    def _old(self, knob: Knob) -> _Old | None:
        """The countdown of the register that the count is loaded into, where nothing else has to do with that."""
        region = self._regions.of(knob)
        line = None if region is None else self._regions.line(knob, region)
        if region is None or line is None:
            return None
        cpu, modes = self._regions.cpu, self._regions.modes
        load, branch = self._regions.action(region.first), self._regions.action(region.last)
        counter = load.used.writes - flags(cpu)
        steps = [n for n in range(region.first + 1, region.last + 1) if counter & self._regions.used((n,))]
        if len(steps) != 1 or steps[0] not in region.loop.nodes or counter & self._regions.kept(region):
            return None
        step = None if steps[0] == region.last else self._regions.action(steps[0])
        countdown = counted(cpu, modes, load, knob.hole.name, step, branch)
        return None if countdown is None else _Old(region, line, countdown, steps[0])

    def _free(self, way: Countdown, old: _Old) -> bool:
        """Whether nobody reads what the wider counter spoils, in the loop or behind it."""
        registers = way.spoils - flags(self._regions.cpu)
        touched = registers & self._regions.used(old.others)
        reads = frozenset[str]().union(*(self._regions.action(node).used.reads for node in old.others))
        asked = way.branch.action.used.reads - {COUNTER}
        between = self._regions.used(node for node in old.others if node > old.step)
        return not (
            touched
            or reads & (way.spoils | old.countdown.spoils)
            or asked & between
            or registers & self._regions.kept(old.region)
        )

    def _solved(self, way: Countdown, old: _Old, need: int, most: int, *, keeps: bool) -> Widened | None:
        """With the least count that lasts long enough."""
        knob, line = old.line.knob, old.line
        count = knob.count(knob.written)
        beside = count + (1 if count < knob.most else -1)
        here, other = knob.cycles(count), knob.cycles(beside)
        if here is None or other is None:
            return None
        times = (other - here) // (beside - count) // line.more
        turn = line.more - old.countdown.cycles + way.cycles
        # Of a loop only its own cycles count, not those of what loads its counter.
        loaded = knob.wait.kind == "routine" or self._regions.looped(knob)
        load = way.load.cycles - old.countdown.load.cycles if loaded else 0
        fixed = here + times * (load + old.countdown.saved - way.saved - count * line.more)
        turns = -(-(need - fixed) // (times * turn))
        cycles = fixed + times * turn * turns
        wider = self._written(way, old, turns, keeps=keeps)
        if not 0 < turns < way.most or cycles > most or wider is None:
            return None
        return Widened(wider, turns, cycles)

    def _written(self, way: Countdown, old: _Old, count: int, *, keeps: bool) -> Wider | None:
        """The text of it; None where the old count or the way back are written so that they can't be taken over."""
        region, knob = old.region, old.line.knob
        number, label = self._number(knob, count), self._label(region)
        if number is None or (label is None and not keeps):
            return None
        branch = way.branch
        back = Filler(
            branch.action.mnemonic,
            f"{branch.before}{OWN}{branch.behind}",
            branch.taken,
            branch.action.size,
            branch.spoils,
        )
        alone = old.step == region.last
        turn = (*way.turn, back) if alone else way.turn
        longer = way.size - old.countdown.size
        load = way.load.text(self._regions.cpu, OWN)
        kept = None if keeps or alone else back
        return Wider(region.first, old.step, region.last, load, number, turn, kept, label or "", longer)

    def _number(self, knob: Knob, count: int) -> str | None:
        """What is written for the count: a number in the author's manner, or the constant that gets it."""
        number = knob.number
        if number.symbol is None:
            return respell(number.text, knob.written, count) if number.span is not None else None
        return number.symbol

    def _label(self, region: Region) -> str | None:
        """The label at the head of the loop, as its branch has it."""
        program = self._regions.program
        branch: Instruction = program.instructions[region.last]
        head = program.instructions[region.loop.head].address
        names = [each.symbol for each in branch.operands if each.value == head and each.symbol is not None]
        return names[0] if names else None
