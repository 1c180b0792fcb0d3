"""Waits that a part's own limit explains: one that is long enough for it at the new clock as well is left alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from ..board import LeastGap
from ..chain import Chain
from ..quantity import Clock
from ..rules import Case
from ..rules.pair import pairs
from ..rules.use import uses
from ..timing import Wait

# A wait of more than this many times the limit is there for something else as well.
_MOST_TIMES = 4


@dataclass(frozen=True, slots=True)
class _Served:
    """A limit that lies on the shortest way between two accesses: its instructions, cycles there are and needed."""

    path: frozenset[int]
    fewest: int
    least: int
    limit: LeastGap


class Served:
    """What the waits of a program serve, judged at one clock."""

    def __init__(self, chain: Chain, clock: Clock, written_for: Clock | None) -> None:
        self._chain = chain
        self._clock = clock
        self._case = Case(chain.timings, chain.board, (clock,), written_for)
        self._limits = tuple(self._found())

    def reason(self, wait: Wait) -> str:
        """Why the wait may be left alone, or an empty text.

        Every limit on whose way it lies has to hold, one of them only because of it, and every call of a routine has
        to lie on such a way.
        """
        sites = self._sites(wait)
        ways = [[limit for limit in self._limits if site in limit.path] for site in sites]
        through = [limit for way in ways for limit in way]
        if not all(ways) or any(limit.fewest < limit.least for limit in through):
            return ""
        needed = [limit for limit in through if limit.fewest - wait.cycles < limit.least]
        longest = max(needed, key=lambda limit: limit.least, default=None)
        if longest is None or wait.cycles > _MOST_TIMES * longest.least:
            return ""
        least, there = longest.limit.least, self._clock.duration(longest.fewest)
        return (
            f"{longest.limit.whose} needs {least.text(4, 'up')} there, "
            f"and {there.text(4, 'down')} are left at {self._clock.text()}"
        )

    def _sites(self, wait: Wait) -> list[int]:
        if wait.kind != "routine":
            return [wait.index]
        return [call.source for call in self._chain.graph.calls.values() if call.target == wait.index]

    def _found(self) -> Iterator[_Served]:
        told = uses(self._chain.timings, self._chain.board, self._chain.timings.handlers)
        for part in self._chain.board.parts:
            for pair in pairs(self._case, part, told[part.name], most=False):
                for requirement in pair.requirements(self._case, self._clock):
                    limit = requirement.limit
                    if isinstance(limit, LeastGap) and pair.certain(requirement):
                        least = ceil(limit.least.cycles(self._clock))
                        yield _Served(frozenset(pair.path), pair.fewest, least, limit)
