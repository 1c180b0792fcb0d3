"""A serial line made by the program: where each bit of a frame begins or is looked at, from the first on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from ..board import Part
from ..quantity import Clock, Duration
from ..timing import Exact, Gap, Query, Site
from .base import Case, Open
from .margin import Line
from .rate_off import TOLERANCE

LOST: Final = Fraction(1, 2)  # of a bit: then the next or the last one is read
_CELL: Final = (Fraction(1, 2), Fraction(3, 2))  # of a bit: what lasts so long between two accesses is one
_FEWEST_CELLS: Final = 6


@dataclass(frozen=True, slots=True)
class Edge:
    """A place in the frame, in bits from its start, and the fewest and most cycles at which the program comes to it."""

    bits: Fraction
    fewest: int
    most: int

    def off(self, clock: Clock, bit: Duration) -> tuple[Fraction, Fraction]:
        """How early and how late it can be, in bits."""
        early = self.bits - self.fewest / clock.hz / bit.seconds
        late = self.most / clock.hz / bit.seconds - self.bits
        return early, late


@dataclass(frozen=True, slots=True)
class Sent:
    """One way through a frame; `index` is the instruction that begins a bit or looks at one, `cell` its cycles."""

    part: Part
    way: Literal["sent", "received"]
    index: int
    cell: tuple[int, int]
    edges: tuple[Edge, ...]
    bit: Duration

    @property
    def share(self) -> Fraction:
        """What one side may be off, in bits: its share of the rate, over the frame to the middle of its last bit."""
        frame = self.part.family.frame
        assert frame is not None
        return TOLERANCE * (frame.bits - LOST)

    def worst(self, clock: Clock) -> tuple[Edge, Fraction]:
        """The place that is furthest off, and by how many bits: below zero early."""
        signed = [(edge, -early, late) for edge in self.edges for early, late in (edge.off(clock, self.bit),)]
        found = [(edge, off) for edge, early, late in signed for off in (early, late)]
        return max(found, key=lambda each: abs(each[1]))

    def lines(self) -> tuple[Line, Line]:
        """What has to hold for the share: not too early, and not too late; of each the place that gives first."""
        bit, share = self.bit.seconds, self.share
        early = min(self.edges, key=lambda edge: edge.fewest / (edge.bits - share))
        late = max(self.edges, key=lambda edge: edge.most / (edge.bits + share))
        return (
            Line(Fraction(early.fewest), Duration(-(early.bits - share) * bit)),
            Line(Fraction(-late.most), Duration((late.bits + share) * bit)),
        )


def frames(case: Case) -> Iterator[Sent | Open]:
    """Every frame that the program sends or receives by lines of its own, and where none is found, that."""
    clock = case.written_for or next(iter(case.clocks), None)
    for part in case.board.parts if clock is not None else ():
        frame = part.family.frame
        if frame is None or clock is None:
            continue
        if part.baud is None:
            yield Open(part.name, "state baud: to judge the bits of a frame")
            continue
        bit = Duration(Fraction(1, part.baud))
        if frame.sends in part.wires:
            yield _sent(case, part, bit, clock)
        if frame.receives in part.wires:
            yield _received(case, part, bit, clock)


_Cells = Mapping[Site, list[Gap]]


def _gaps(case: Case, part: Part, line: str, way: str) -> list[Gap]:
    address = part.wires[line].address

    def asked(site: Site) -> bool:
        return site.access.address == address and site.access.way == way

    return case.timings.gaps(Query(asked, asked, lambda _: False))


def _cells(gaps: list[Gap], unit: Fraction) -> _Cells:
    """The gaps that last about a bit, by where they begin; `unit` are the cycles of a bit."""
    low, high = _CELL
    found: dict[Site, list[Gap]] = {}
    for gap in gaps:
        if gap.fewest >= low * unit and gap.most is not None and gap.most <= high * unit:
            found.setdefault(gap.first, []).append(gap)
    return found


_Spans = dict[Site, tuple[int, int]]


def _walk(case: Case, starts: _Spans, cells: _Cells, number: int) -> Iterator[_Spans]:
    """Fewest and most cycles to each access, after none, one, two ... cells.

    A loop of a known number of turns is gone round as often as it is, and left after its last turn.
    """
    turns = {site: _turns(case, site) for site in cells}
    spans = {(site, 0): span for site, span in starts.items()}
    for _ in range(number + 1):
        if not spans:
            return
        found: _Spans = {}
        for (site, _), (fewest, most) in spans.items():
            low, high = found.get(site, (fewest, most))
            found[site] = min(low, fewest), max(high, most)
        yield found
        further: dict[tuple[Site, int], tuple[int, int]] = {}
        for (site, turn), (fewest, most) in spans.items():
            for gap in cells.get(site, ()):
                round_ = gap.then == site
                last = turns[site]
                if last is not None and (turn >= last if round_ else turn < last):
                    continue
                assert gap.most is not None
                key = gap.then, turn + 1 if round_ else 0
                low, high = further.get(key, (fewest + gap.fewest, most + gap.most))
                further[key] = min(low, fewest + gap.fewest), max(high, most + gap.most)
        spans = further


def _turns(case: Case, site: Site) -> int | None:
    """How often the loop around an access comes back to it; None where that is not known, or there is none."""
    around = [loop for loop in case.timings.loops if site.access.instruction in loop.key.nodes]
    inner = min(around, key=lambda loop: len(loop.key.nodes), default=None)
    return inner.trips.cycles - 1 if inner is not None and isinstance(inner.trips, Exact) else None


def _sent(case: Case, part: Part, bit: Duration, clock: Clock) -> Sent | Open:
    frame = part.family.frame
    assert frame is not None
    gaps = _gaps(case, part, frame.sends, "write")
    cells = _cells(gaps, bit.cycles(clock))
    # A frame begins where a write comes behind no cell, or behind another one than itself.
    entered = {gap.then for each in cells.values() for gap in each if gap.first != gap.then}
    starts: _Spans = {site: (0, 0) for site in cells if site not in entered} or dict.fromkeys(cells, (0, 0))
    # The last edge is that of the stop bit.
    found = list(_walk(case, starts, cells, frame.bits - 1))
    return _made(part, "sent", bit, cells, [(Fraction(k), spans) for k, spans in enumerate(found) if k])


def _received(case: Case, part: Part, bit: Duration, clock: Clock) -> Sent | Open:
    frame = part.family.frame
    assert frame is not None
    unit = bit.cycles(clock)
    gaps = _gaps(case, part, frame.receives, "read")
    cells = _cells(gaps, unit)
    # Where it waits for the start bit it looks again at once: the edge may be as old as one turn of that.
    turns = {gap.first: gap for gap in gaps if gap.first == gap.then and gap.fewest < unit / 2 and gap.most}
    first = Fraction(0)
    starts: _Spans = {}
    for gap in gaps:
        turn = turns.get(gap.first)
        if turn is None or gap.then in turns or gap.most is None or turn.most is None:
            continue
        if unit / 4 <= gap.fewest and gap.most <= 2 * unit:
            first = Fraction(round(Fraction(gap.fewest) / unit - LOST)) + LOST
            starts[gap.then] = gap.fewest, gap.most + turn.most
    bits = frame.bits - int(first)
    inner = {site: [gap for gap in each if gap.first not in turns] for site, each in cells.items()}
    found = list(_walk(case, starts, inner, bits - 1))
    return _made(part, "received", bit, inner, [(first + k, spans) for k, spans in enumerate(found)])


def _made(
    part: Part,
    way: Literal["sent", "received"],
    bit: Duration,
    cells: _Cells,
    found: list[tuple[Fraction, _Spans]],
) -> Sent | Open:
    if len(found) < _FEWEST_CELLS:
        return Open(
            f"{part.name} {way}", "no frame is found: accesses to its line that lie about a bit apart"
        )
    edges = [
        Edge(bits, min(low for low, _ in spans.values()), max(high for _, high in spans.values()))
        for bits, spans in found
    ]
    middle = max(
        cells, key=lambda site: (any(gap.then == site for gap in cells[site]), -site.access.instruction)
    )
    around = cells[middle]
    cell = min(gap.fewest for gap in around), max(gap.most or 0 for gap in around)
    return Sent(part, way, middle.access.instruction, cell, tuple(edges), bit)
