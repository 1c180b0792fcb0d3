"""Solves for a piece of code that lasts a number of cycles: loops inside loops, and what is left over in pads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations, product
from typing import Final

from ..cpu import Cpu
from .countdown import Countdown, countdowns, flags
from .filler import Filler, Modes, fillers

# Longest stretch of pads in a row, in cycles; and inside a loop that would end too soon.
_MOST_PADDED: Final = 64
# Pads tried in the turns of a nest, and counts tried of each outer loop.
_FEW: Final = 12
_COUNTS: Final = 260
_INNER_COUNTS: Final = 48
_MOST_LEVELS: Final = 3
# How many pieces one after another: what a nest leaves over is a shorter nest's.
_MOST_BLOCKS: Final = 3
# A rest of so many cycles may be one short loop.
_MOST_OVER: Final = 512

_Pads = tuple[Filler, ...]
_Weight = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Level:
    """A loop: its counter, the count, and the pads at the head of each turn."""

    countdown: Countdown
    count: int
    pads: tuple[Filler, ...]


@dataclass(frozen=True, slots=True)
class Nest:
    """Loops inside each other, the innermost first."""

    levels: tuple[Level, ...]

    @property
    def cycles(self) -> int:
        """From the first load to the last branch."""
        inner = 0
        for level in self.levels:
            way = level.countdown
            turn = inner + sum(pad.cycles for pad in level.pads) + way.cycles
            inner = way.load.cycles + level.count * turn - way.saved
        return inner

    @property
    def size(self) -> int:
        return sum(level.countdown.size + sum(pad.size for pad in level.pads) for level in self.levels)


@dataclass(frozen=True, slots=True)
class Piece:
    """What lasts so many cycles: pads, then nests one after another."""

    pads: tuple[Filler, ...]
    nests: tuple[Nest, ...]

    @property
    def cycles(self) -> int:
        return sum(pad.cycles for pad in self.pads) + sum(nest.cycles for nest in self.nests)

    @property
    def size(self) -> int:
        return sum(pad.size for pad in self.pads) + sum(nest.size for nest in self.nests)

    @property
    def weight(self) -> _Weight:
        """What is kept small: bytes, then registers and flags that are spoiled, then instructions."""
        return self.size, len(self.spoils), len(self.pads)

    @property
    def spoils(self) -> frozenset[str]:
        """Registers and flags that hold something else afterwards."""
        ways = [level for nest in self.nests for level in nest.levels]
        pads = [*self.pads, *(pad for level in ways for pad in level.pads)]
        return frozenset[str]().union(*(way.countdown.spoils for way in ways), *(pad.spoils for pad in pads))


class Composer:
    """Composes for one processor, within some of its registers (the stored ones, no views).

    With `usable` None within those that can count; pads then spoil only what the counters spoil anyway, if they can.
    """

    def __init__(self, cpu: Cpu, modes: Modes, usable: frozenset[str] | None = None) -> None:
        ways = countdowns(cpu, modes)
        self._flags = flags(cpu)
        self._asked = usable is not None
        self._usable = frozenset[str]().union(*(way.parts for way in ways)) if usable is None else usable
        self._fillers = [each for each in fillers(cpu, modes) if each.spoils <= self._usable | self._flags]
        ways = tuple(way for way in ways if way.spoils <= self._usable | self._flags)
        self._nests = [tuple(_nests(ways, depth)) for depth in range(1, _MOST_LEVELS + 1)]
        self._pads: dict[frozenset[str], list[_Pads | None]] = {}
        self._short: dict[int, Piece | None] = {}
        self._least = min((ways[0].size for ways in self._nests[0]), default=0)
        self._known: dict[tuple[int, int], Piece | None] = {}

    @cached_property
    def shortest(self) -> int:
        """Cycles of the shortest piece that is not empty; 0 where there is none."""
        return next((n for n, pads in enumerate(self._padding(self._usable)) if pads), 0)

    @cached_property
    def longest(self) -> int:
        """How many cycles the longest nest lasts."""
        lasts = [_longest(ways, self._inner(ways)[-1]) for nests in self._nests for ways in nests]
        return max(lasts, default=_MOST_PADDED)

    def exactly(self, cycles: int) -> Piece | None:
        """The piece of the fewest bytes that lasts exactly so many cycles; None where none is found."""
        return self._exactly(cycles, _MOST_BLOCKS)

    def _exactly(self, cycles: int, blocks: int) -> Piece | None:
        known = (cycles, blocks)
        if known not in self._known:
            self._known[known] = self._search(cycles, blocks)
        return self._known[known]

    def _search(self, cycles: int, blocks: int) -> Piece | None:
        alone = self._pad(cycles, frozenset())
        best = None if alone is None else Piece(alone, ())
        for nests in self._nests if blocks else ():
            for ways in nests:
                found = self._nested(ways, cycles, blocks, None if best is None else best.weight)
                if found is not None and (best is None or found.weight < best.weight):
                    best = found
        return best

    def _nested(
        self, ways: tuple[Countdown, ...], cycles: int, blocks: int, bound: _Weight | None
    ) -> Piece | None:
        """The best piece that begins with that nest, where it weighs less than `bound`."""
        best: Piece | None = None
        near: tuple[int, Nest] | None = None
        spoiled = frozenset[str]().union(*(way.spoils for way in ways))
        base = sum(way.size for way in ways)
        for pads in self._paddings(ways, cycles):
            least = base + sum(pad.size for each in pads for pad in each)
            if bound is not None and least > bound[0]:
                continue
            for nest in _solved(ways, pads, cycles):
                rest = cycles - nest.cycles
                over = self._over(rest, spoiled, blocks)
                if over is not None:
                    made = Piece(over.pads, (nest, *over.nests))
                    if bound is None or made.weight < bound:
                        best, bound = made, made.weight
                        if made.size == least:
                            break
                elif near is None or rest < near[0]:
                    near = (rest, nest)
        if bound is None and near is not None and blocks:
            rest, nest = near
            after = self._exactly(rest, blocks - 1)
            return None if after is None else Piece(after.pads, (nest, *after.nests))
        return best

    def _over(self, rest: int, spoiled: frozenset[str], blocks: int) -> Piece | None:
        """What lasts the cycles that a nest leaves over: pads, or one short loop where that is less code."""
        pads = self._pad(rest, spoiled)
        alone = None if pads is None else Piece(pads, ())
        if blocks < _MOST_BLOCKS or rest > _MOST_OVER or (alone is not None and alone.size <= self._least):
            return alone
        if rest not in self._short:
            found = [self._nested(ways, rest, 0, None) for ways in self._nests[0]]
            short = [piece for piece in found if piece is not None]
            self._short[rest] = min(short, key=lambda piece: piece.weight, default=None)
        loop = self._short[rest]
        return loop if alone is None or (loop is not None and loop.size < alone.size) else alone

    def _paddings(self, ways: tuple[Countdown, ...], cycles: int) -> Iterator[tuple[_Pads, ...]]:
        """Pads to try in each loop of a nest, the innermost first, so that it can last long enough."""
        some = self._inner(ways)
        few = some[: _FEW if len(ways) < _MOST_LEVELS else 2]
        inner = (
            few if cycles < _longest(ways) else [pads for pads in some if _longest(ways, pads) >= cycles][:3]
        )
        yield from sorted(
            product(inner, *(few for _ in ways[1:])),
            key=lambda each: sum(pad.size for pads in each for pad in pads),
        )

    def _inner(self, ways: tuple[Countdown, ...]) -> list[_Pads]:
        """Pads that fit into every loop of a nest, by their cycles."""
        spoiled = frozenset[str]().union(*(way.spoils for way in ways))
        counters = frozenset[str]().union(*(way.parts for way in ways))
        dead = (self._usable if self._asked else spoiled) - counters
        return [pads for pads in self._padding(dead) if pads is not None]

    def _pad(self, cycles: int, spoiled: frozenset[str]) -> _Pads | None:
        """Pads outside of all loops: those that spoil nothing more, if there are any."""
        if not 0 <= cycles <= _MOST_PADDED:
            return None
        own = None if self._asked else self._padding(spoiled & self._usable)[cycles]
        return self._padding(self._usable)[cycles] if own is None else own

    def _padding(self, dead: frozenset[str]) -> list[_Pads | None]:
        """For each number of cycles the pads of the fewest bytes that spoil only flags and `dead`, and little."""
        known = self._pads.get(dead)
        if known is not None:
            return known
        usable = [each for each in self._fillers if each.spoils <= dead | self._flags]
        best: list[tuple[_Weight, _Pads] | None] = [((0, 0, 0), ())]
        for total in range(1, _MOST_PADDED + 1):
            found = None
            for each in usable:
                before = best[total - each.cycles] if each.cycles <= total else None
                if before is not None:
                    (size, spoiled, number), pads = before
                    weight = (size + each.size, spoiled + len(each.spoils), number + 1)
                    if found is None or weight < found[0]:
                        found = (weight, (*pads, each))
            best.append(found)
        self._pads[dead] = [None if each is None else each[1] for each in best]
        return self._pads[dead]


def _nests(ways: tuple[Countdown, ...], depth: int) -> Iterator[tuple[Countdown, ...]]:
    """Counters that can be nested, innermost first: of those that cost the same only the first ones."""
    seen = set()
    for found in permutations(ways, depth):
        alike = tuple(
            (way.load.size, way.load.cycles, way.size, way.cycles, way.saved, way.most) for way in found
        )
        if alike not in seen and _apart(found):
            seen.add(alike)
            yield found


def _apart(ways: tuple[Countdown, ...]) -> bool:
    """Whether no loop spoils the counter of one around it."""
    return all(not inner.spoils & outer.parts for n, outer in enumerate(ways) for inner in ways[:n])


def _longest(ways: tuple[Countdown, ...], pads: tuple[Filler, ...] = ()) -> int:
    """How long the counters last at most, with pads in the innermost loop."""
    return Nest(tuple(Level(way, way.most, pads if way is ways[0] else ()) for way in ways)).cycles


def _solved(ways: tuple[Countdown, ...], pads: tuple[tuple[Filler, ...], ...], cycles: int) -> Iterator[Nest]:
    """Nests with those pads: the counts of the outer loops are tried, the innermost follows from them."""
    way = ways[-1]
    turn = way.cycles + sum(pad.cycles for pad in pads[-1])
    left = cycles - way.load.cycles + way.saved
    if len(ways) == 1:
        most = min(left // turn, way.most)
        for count in range(most, max(most - 3, 0), -1):
            yield Nest((Level(way, count, pads[-1]),))
        return
    least = max(-(-left // (_longest(ways[:-1], pads[0]) + turn)), 1)
    tried = _COUNTS if len(ways) == 2 else _INNER_COUNTS
    for count in range(least, min(least + tried, way.most + 1)):
        each = left // count - turn
        if each <= 0:
            return
        found = False
        for inner in _solved(ways[:-1], pads[:-1], each):
            found = True
            yield Nest((*inner.levels, Level(way, count, pads[-1])))
        if not found:
            return
