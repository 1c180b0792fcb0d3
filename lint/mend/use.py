"""What a wait is used for, as far as the accesses around it tell: that decides whether it may be rescaled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ..chain import Chain
from ..flow import Loop
from ..timing import Gap, Query, Wait

# A software serial frame has a start bit, 5 to 8 data bits, perhaps a parity bit, and stop bits.
_BITS_OF_A_FRAME = range(7, 13)


@dataclass(frozen=True, slots=True)
class Use:
    """`plain`: nothing special. `hurts`: it times an output that can hurt. `bit cell`: it is one bit of a software
    serial frame."""

    kind: Literal["plain", "hurts", "bit cell"]
    reason: str = ""


def use_of(chain: Chain, wait: Wait) -> Use:
    """What the wait is for."""
    sites = set(_call_sites(chain, wait))
    for gap in _gaps(chain):
        if sites & set(gap.path):
            part = _hurting(chain, gap)
            if part:
                return Use("hurts", f"it times {part}, an output that can hurt people or equipment")
    for site in sites:
        loop = _bit_loop(chain, site, wait)
        if loop is not None:
            name = chain.graph.name(loop.head)
            return Use("bit cell", f"it is a bit cell of the frame that {name} sends or receives")
    return Use("plain")


def _call_sites(chain: Chain, wait: Wait) -> Iterator[int]:
    yield wait.index
    if wait.kind == "routine":
        for call in chain.graph.calls.values():
            if call.target == wait.index:
                yield call.source


def _gaps(chain: Chain) -> list[Gap]:
    hurting = {
        address
        for part in chain.board.parts
        if part.hurts
        for first, last, _ in part.stretches()
        for address in range(first, last + 1)
    }
    if not hurting:
        return []
    ends = Query(
        lambda site: site.access.address in hurting,
        lambda site: site.access.address in hurting,
        lambda _: False,
    )
    return chain.timings.gaps(ends)


def _hurting(chain: Chain, gap: Gap) -> str:
    found = chain.board.part_at(gap.first.access.address)
    return found[0].name if found is not None and found[0].hurts else ""


def _bit_loop(chain: Chain, site: int, wait: Wait) -> Loop | None:
    """The loop around a wait that touches a port as often as a serial frame has bits."""
    for routine in chain.timings.routines:
        if site not in routine.outcome.facts:
            continue
        for loop in chain.timings.analysis.routine(routine.entry.index).loops():
            if site not in loop.nodes or loop.head == wait.index:
                continue
            count = routine.outcome.loops.get(loop.key)
            turns = count.trips.fewest.value if count is not None and count.trips.exact else None
            touches = any(routine.outcome.facts[n].accesses for n in loop.nodes if n in routine.outcome.facts)
            if turns in _BITS_OF_A_FRAME and touches:
                return loop
    return None
