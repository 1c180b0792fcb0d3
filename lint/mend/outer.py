"""An outer level around a countdown whose counter is too narrow, in registers that nobody reads there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Final

from ..cpu.notation import COUNTER
from .countdown import Countdown, countdowns, touches
from .filler import Filler
from .knob import Knob
from .padding import Padding
from .region import Line, Region, Regions

# Turns of the outer level that are tried, beyond the fewest that can last long enough.
_TURNS_TRIED: Final = 512
# A name that is no longer than this fits where a source has only such names.
_SHORT_NAME: Final = 6


@dataclass(frozen=True, slots=True)
class Outer:
    """A countdown around the instructions from `first`, which loads the inner count, to `last`.

    The outer count is loaded where the inner one was, which now stands behind it and has the label.
    """

    first: int
    last: int
    label: str
    load: Filler
    turn: tuple[Filler, ...]

    @property
    def inserted(self) -> tuple[Padding, ...]:
        """What the program has more than before, as if they were pads."""
        return Padding(self.first, (self.load,)), Padding(self.last, self.turn)


@dataclass(frozen=True, slots=True)
class Around:
    """A count for the inner loop with an outer level around it, and how long the wait then lasts."""

    outer: Outer
    count: int
    cycles: int


class Outers:
    """The outer levels that a program has room for."""

    def __init__(self, regions: Regions) -> None:
        self._regions = regions

    def fits(self, knob: Knob) -> bool:
        """Whether the loop that the count is loaded for is one that an outer level can go round."""
        return self._region(knob) is not None

    def around(self, knob: Knob, need: int, most: int) -> Iterator[Around]:
        """Outer levels that make the wait last at least `need` and at most `most` cycles."""
        region = self._region(knob)
        line = None if region is None else self._regions.line(knob, region)
        if region is None or line is None:
            return
        name = self._label(knob.wait.name)
        for way in countdowns(self._regions.cpu, self._regions.modes):
            if self._free(way, region):
                yield from self._solved(way, region, line, need, most, name)

    def _solved(
        self, way: Countdown, region: Region, line: Line, need: int, most: int, name: str
    ) -> Iterator[Around]:
        """With the inner count as it is, and with the two counts that come nearest."""
        knob = line.knob
        fixed = -way.saved
        if knob.wait.kind == "routine":
            fixed += knob.wait.cycles - line.cycles + way.load.cycles
        old = knob.count(knob.written)
        found = [(ceil((need - fixed) / (line.cycles + way.cycles)), old)]
        fewest = max(-(-(need - fixed) // (line.at(knob.most - 1) + way.cycles)), 2)
        for turns in range(fewest, min(fewest + _TURNS_TRIED, way.most)):
            found.append((turns, line.count(-(-(need - fixed) // turns) - way.cycles)))
        best: dict[bool, Around] = {}
        for turns, count in found:
            if not (1 < turns < way.most and 0 < count < knob.most):
                continue
            cycles = fixed + turns * (line.at(count) + way.cycles)
            kept = count == old
            if need <= cycles <= most and (kept not in best or cycles < best[kept].cycles):
                best[kept] = Around(self._outer(way, region, turns, name), count, cycles)
        yield from best.values()

    def _outer(self, way: Countdown, region: Region, turns: int, name: str) -> Outer:
        branch = way.branch
        operand = f"{branch.before}{name}{branch.behind}"
        back = Filler(branch.action.mnemonic, operand, branch.taken, branch.action.size, branch.spoils)
        return Outer(
            region.first, region.last, name, way.load.text(self._regions.cpu, turns), (*way.turn, back)
        )

    # -- where there is room ---------------------------------------------------------------------------------

    def _region(self, knob: Knob) -> Region | None:
        if self._regions.looped(knob):
            return None
        region = self._regions.of(knob)
        if region is None or not self._repeats(region):
            return None
        return region

    def _repeats(self, region: Region) -> bool:
        """Whether it does the same when it is run again: it touches no memory, and reads nothing that it writes."""
        actions = [self._regions.action(node) for node in range(region.first, region.last + 1)]
        writes = frozenset[str]().union(*(action.used.writes for action in actions)) - {COUNTER}
        touched = any(touches(action.meaning) for action in actions)
        return not (touched or writes & self._regions.live.before[region.first])

    def _free(self, way: Countdown, region: Region) -> bool:
        """Whether nobody reads what the outer level spoils, in the loop or behind it."""
        used = self._regions.used(range(region.first, region.last + 1))
        return not (way.parts & used or way.spoils & self._regions.kept(region))

    def _label(self, near: str) -> str:
        """A name that the program has not."""
        symbols = {name.lower() for name in self._regions.program.symbols}
        stem = near if near.isalnum() and near[0].isalpha() else "WAIT"
        if all(len(name) <= _SHORT_NAME for name in symbols):
            stem = stem[: _SHORT_NAME - 1]
        return next(f"{stem}{n}" for n in range(1, len(symbols) + 2) if f"{stem}{n}".lower() not in symbols)
