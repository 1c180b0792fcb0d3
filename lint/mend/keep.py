"""Gaps between accesses that have to stay as long in time as they were at the old clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..chain import Chain
from ..quantity import Clock, Duration
from ..source import Leave, Takes
from ..timing import Gap, Query, Site
from .model import Left
from .padding import Padding, moved

Pair = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Kept:
    """How long each pair (first instruction, second, address) lasted in the text as it was given.

    `left` are the pairs whose way passes a timing note: the note says how long it has to be, not the old clock.
    """

    lasted: Mapping[Pair, Duration]
    left: tuple[Left, ...]

    def moved(self, paddings: Sequence[Padding]) -> Kept:
        """The same pairs once pads are in."""
        renamed = {
            (moved(first, paddings), moved(then, paddings), address): lasted
            for (first, then, address), lasted in self.lasted.items()
        }
        return replace(self, lasted=renamed)


def kept(chain: Chain, written_for: Clock) -> Kept:
    """The gaps between accesses of one address, at the clock the text was written for."""
    spoken = {
        bound.index: bound.note.note
        for bound in chain.program.notes
        if isinstance(bound.note.note, Takes | Leave)
    }
    lasted: dict[Pair, Duration] = {}
    left: list[Left] = []
    for pair, gap in shortest(chain).items():
        if spoken.keys() & set(gap.path):
            place = chain.program.instructions[pair[1]].origin.place
            left.append(Left(named(chain, gap), place, "a timing note on the way says how long it is"))
        else:
            lasted[pair] = written_for.duration(gap.fewest)
    return Kept(lasted, tuple(left))


def shortest(chain: Chain) -> Mapping[Pair, Gap]:
    """The shortest gap of each pair of accesses to one address."""
    found: dict[Pair, Gap] = {}
    for gap in _all(chain):
        first, then = gap.first.access, gap.then.access
        pair = (first.instruction, then.instruction, first.address)
        if pair not in found or gap.fewest < found[pair].fewest:
            found[pair] = gap
    return found


def named(chain: Chain, gap: Gap) -> str:
    """What the author calls the address."""
    address = gap.first.access.address
    return chain.program.shown(address)


def _all(chain: Chain) -> Iterator[Gap]:
    for address in sorted(chain.timings.analysis.watched):

        def at(site: Site, address: int = address) -> bool:
            return site.access.address == address

        yield from chain.timings.gaps(Query(at, at, lambda _: False))
