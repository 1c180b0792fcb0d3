"""What a wait is used for, as far as the accesses around it tell: that decides whether it may be rescaled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..chain import Chain
from ..source import Takes
from ..timing import Gap, Query, Wait

# A software serial frame has a start bit, 5 to 8 data bits, perhaps a parity bit, and stop bits.
_BITS_OF_A_FRAME = range(7, 13)


Kind = Literal["wait", "bit cell", "pulse", "time-out"]


@dataclass(frozen=True, slots=True)
class Frame:
    """The loop around a bit cell: its turns and cycles as they are, and how often the wait is in a turn."""

    name: str
    turns: int
    cycles: int
    times: int

    def cell(self, wait: Wait, ratio: Fraction) -> Fraction:
        """Cycles that the wait has to last for the frame to take `ratio` times as many as now."""
        period = Fraction(self.cycles, self.turns)
        return wait.cycles + period * (ratio - 1) / self.times


@dataclass(frozen=True, slots=True)
class Use:
    """What a wait is for, and on what that was `judged`.

    `wait`: never shorter than it was. `bit cell`: one bit of a software serial frame, as near as can be over the
    frame. `time-out`: how long a poll waits before it gives up. `pulse`: neither shorter nor longer than two bounds,
    or an output that can hurt (`hurts`).
    """

    kind: Kind
    judged: str
    hurts: bool = False
    frame: Frame | None = None


def use_of(chain: Chain, wait: Wait) -> Use:
    """What the wait is for; a timing note decides but for what can hurt."""
    sites = set(_call_sites(chain, wait))
    for gap in _gaps(chain):
        if sites & set(gap.path):
            part = _hurting(chain, gap)
            if part:
                return Use("pulse", f"it times {part}, an output that can hurt people or equipment", True)
    noted = _noted(chain, wait)
    if noted is not None:
        return noted
    for site in sites:
        frame = _frame(chain, site, wait)
        if frame is not None:
            return Use(
                "bit cell", f"it is a bit cell of the frame that {frame.name} sends or receives", frame=frame
            )
    return Use("wait", "it does nothing but last")


def _noted(chain: Chain, wait: Wait) -> Use | None:
    nodes = wait.part.nodes if wait.kind == "loop" else {wait.index}
    for bound in chain.program.notes:
        takes = bound.note.note
        if bound.index in nodes and isinstance(takes, Takes):
            if takes.tolerance is not None:
                return Use("pulse", "its note gives it two bounds")
            return Use("wait", "its note says how long it takes")
    return None


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


def _frame(chain: Chain, site: int, wait: Wait) -> Frame | None:
    """The loop around a wait that touches a port as often as a serial frame has bits."""
    for routine in chain.timings.routines:
        facts = routine.outcome.facts
        if site not in facts:
            continue
        for loop in chain.timings.analysis.routine(routine.entry.index).loops():
            if site not in loop.nodes or loop.head == wait.index:
                continue
            count = routine.outcome.loops.get(loop.key)
            if count is None or not count.trips.exact or count.trips.fewest.value not in _BITS_OF_A_FRAME:
                continue
            if any(facts[node].accesses for node in loop.nodes if node in facts):
                times = sum(each in loop.nodes for each in _call_sites(chain, wait))
                cycles = count.total.fewest.value if count.total.exact else 0
                return Frame(chain.graph.name(loop.head), count.trips.fewest.value or 1, cycles or 0, times)
    return None
