"""Outputs that can hurt people or equipment: how long they stay as they were written, and the code that times them."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import Part
from ..timing import Gap, Query, Site
from .base import Case


def pulses(case: Case) -> Iterator[tuple[Part, Gap]]:
    """Each two writes to such an output that follow each other and may write different values."""
    for part in case.board.parts:
        if part.hurts:
            addresses = {a for first, last, _ in part.stretches() for a in range(first, last + 1)}
            for gap in case.timings.gaps(_writes(part.driven | addresses)):
                values = gap.first.access.values, gap.then.access.values
                if values[0] is None or values[0] != values[1]:
                    yield part, gap


def _writes(addresses: frozenset[int]) -> Query:
    def written(site: Site) -> bool:
        return site.access.way == "write" and site.access.address in addresses

    return Query(written, written, lambda _: False)


def timed(case: Case) -> dict[int, str]:
    """The instructions between such writes, and the entries of routines called there, with the output's name."""
    found: dict[int, str] = {}
    for part, gap in pulses(case):
        for index in gap.path:
            call = case.timings.graph.calls.get(index)
            found[index] = part.name
            if call is not None and call.target is not None:
                found[call.target] = part.name
    return found
