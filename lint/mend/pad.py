"""Puts padding where accesses come too soon: one place for several pairs where one serves them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, prod

from ..chain import Chain, judge
from ..errors import Place
from ..flow import Loop, liveness
from ..quantity import Clock
from ..rules import Finding, PadGoal
from ..source import Edit
from ..timing import Exact
from .cure import cures
from .ground import not_understood, rests
from .keep import Kept, named, shortest
from .model import Evidence, Left
from .padding import MOST_PADDED, Padding, Pads, several


@dataclass(frozen=True, slots=True)
class Need:
    """A pair of accesses that needs `cycles` more between them, and why.

    `stated`: the remark is a timing note, and has to be in the text or a second run would pad again. `cures` are other
    ways, in words.
    """

    path: tuple[int, ...]
    cycles: int
    subject: str
    place: Place
    reason: str
    remark: str
    hurts: bool
    stated: bool = False
    cures: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pad:
    """Padding behind one instruction."""

    subject: str
    place: Place
    places: tuple[Place, ...]
    reason: str
    result: str
    instead: tuple[str, ...]
    evidence: Evidence
    padding: Padding
    path: str
    edit: Edit


@dataclass(frozen=True, slots=True)
class PadStep:
    """Pads to make together, before looking again; `shown` are those not to be made, `left` pairs pads can't mend."""

    made: tuple[Pad, ...]
    shown: tuple[Pad, ...]
    left: tuple[Left, ...]


def pad_step(chain: Chain, clock: Clock, written_for: Clock | None, keep: Kept | None) -> PadStep:
    """The next pads for the pairs that come too soon at the clock, or sooner than `keep` says they did."""
    needs = list(_kept(chain, clock, keep)) if keep else []
    needs += _broken(chain, clock, written_for)
    return _Padder(chain, clock).step(needs)


def _broken(chain: Chain, clock: Clock, written_for: Clock | None) -> Iterator[Need]:
    board = replace(chain.board, clocks=(clock,), written_for=written_for)
    for verdict in judge(replace(chain, board=board)).verdicts:
        if isinstance(verdict, Finding) and isinstance(verdict.goal, PadGoal):
            goal = verdict.goal
            limit = verdict.limit.text(6, "up") if verdict.limit else ""
            yield Need(
                path=goal.path,
                cycles=goal.cycles,
                subject=verdict.subject,
                place=verdict.place,
                reason=verdict.message,
                remark=f"{limit} between accesses at {clock.text()}",
                hurts=verdict.hurts,
                cures=tuple(cures(board, goal, verdict.measured)) if verdict.measured is not None else (),
            )


def _kept(chain: Chain, clock: Clock, keep: Kept) -> Iterator[Need]:
    for pair, gap in shortest(chain).items():
        lasted = keep.lasted.get(pair)
        if lasted is None:
            continue
        missing = ceil(lasted.cycles(clock)) - gap.fewest
        if missing > 0:
            name, now = named(chain, gap), clock.duration(gap.fewest).text()
            part = chain.board.part_at(gap.first.access.address)
            yield Need(
                path=gap.path,
                cycles=missing,
                subject=name,
                place=chain.program.instructions[pair[1]].origin.place,
                reason=f"{name} accessed {gap.fewest} cycles apart, {now} at {clock.text()}; it was {lasted.text()}",
                remark=f"timing: leave because accesses were {lasted.text()} apart",
                hurts=part is not None and part[0].hurts,
                stated=True,
            )


class _Padder:
    def __init__(self, chain: Chain, clock: Clock) -> None:
        self.chain = chain
        self.clock = clock
        self.program = chain.program
        self.pads = Pads(chain.timings, liveness(chain.graph))
        self.loops: list[Loop] = [
            loop
            for routine in chain.timings.routines
            for loop in chain.timings.analysis.routine(routine.entry.index).loops()
        ]

    def step(self, needs: list[Need]) -> PadStep:
        pads: list[Pad] = []
        left = [_too_long(need) for need in needs if need.cycles > MOST_PADDED]
        waiting = sorted((n for n in needs if n.cycles <= MOST_PADDED), key=lambda need: -need.cycles)
        while waiting:
            points: dict[int, list[Need]] = {}
            for need in waiting:
                for point in self._points(need):
                    points.setdefault(point, []).append(need)
            if not points:
                left += [
                    Left(need.subject, need.place, f"{need.reason}; no place for a pad") for need in waiting
                ]
                break
            point = min(points, key=lambda p: (-len(points[p]), self._depth(p), -p))
            served = points[point]
            made = self._pad(point, served)
            if isinstance(made, Pad):
                pads.append(made)
            else:
                left += made
            waiting = [need for need in waiting if need not in served]
        shown = [pad for pad in pads if pad.evidence.grade == "shown"]
        return PadStep(tuple(pad for pad in pads if pad not in shown), tuple(shown), tuple(left))

    def _points(self, need: Need) -> Iterator[int]:
        """Instructions of the path behind which a pad is run once for the pair, and may be put."""
        first, last = need.path[0], need.path[-1]
        for index, following in zip(need.path, need.path[1:], strict=False):
            edges = self.chain.graph.edges[index]
            straight = [(e.way, e.target) for e in edges] == [("next", following)]
            plain = index not in self.chain.graph.calls and not self.pads.shields(index)
            if straight and plain and self._once(index, first, last):
                yield index

    def _once(self, index: int, first: int, last: int) -> bool:
        return all(first in loop.nodes or last in loop.nodes for loop in self.loops if index in loop.nodes)

    def _depth(self, index: int) -> int:
        return sum(index in loop.nodes for loop in self.loops)

    def _pad(self, point: int, served: list[Need]) -> Pad | list[Left]:
        cycles = max(need.cycles for need in served)
        instruction = self.program.instructions[point]
        padding = self.pads.at(point, cycles)
        alike = [i for i in self.program.instructions if i.origin.statement is instruction.origin.statement]
        if padding is None or len(alike) > 1 or several(instruction):
            why = (
                "no instruction can pad it" if padding is None else "its line stands for several instructions"
            )
            return [Left(need.subject, need.place, f"{need.reason}; {why}") for need in served]
        need = served[0]
        remark = next((each.remark for each in served if each.stated), need.remark)
        return Pad(
            subject=need.subject,
            place=need.place,
            places=(instruction.origin.text_place,),
            reason="; ".join(dict.fromkeys(each.reason for each in served)),
            result="; ".join((_result(padding, cycles, self.clock), *self._in_all(padding, point))),
            instead=_cures(served),
            evidence=self._evidence(padding, served, point),
            padding=padding,
            path=instruction.origin.source.name,
            edit=padding.edit(instruction, remark),
        )

    def _in_all(self, padding: Padding, point: int) -> Iterator[str]:
        """What the pad costs over all turns of the loops it stands in."""
        around = [loop for loop in self.chain.timings.loops if point in loop.key.nodes]
        turns = prod(loop.trips.cycles for loop in around if isinstance(loop.trips, Exact))
        if around and all(isinstance(loop.trips, Exact) for loop in around) and turns > 1:
            cycles = turns * padding.cycles
            yield f"over {turns} turns {cycles} cycles, {self.clock.duration(cycles).text(4)}"

    def _evidence(self, padding: Padding, served: list[Need], point: int) -> Evidence:
        if any(need.hurts for need in served):
            return Evidence("shown", ("it drives an output that can hurt people or equipment",))
        unread = not_understood(self.chain, {point, *(node for need in served for node in need.path)})
        if unread:
            return Evidence("shown", (unread,))
        spoils = sorted({name for filler in padding.fillers for name in filler.spoils})
        touched = f"spoil only {', '.join(spoils)}, which nobody reads there" if spoils else "change nothing"
        return Evidence("proved", (f"the pads {touched}, for all states", rests(self.chain)))


def _result(padding: Padding, cycles: int, clock: Clock) -> str:
    total, size = padding.cycles, padding.size
    time = clock.duration(total).text(4)
    return f"{total} cycles more ({time} at {clock.text()}), {cycles} needed; {size} byte{'' if size == 1 else 's'}"


def _cures(needs: list[Need]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(cure for need in needs for cure in need.cures))


def _too_long(need: Need) -> Left:
    why = f"{need.cycles} cycles are more than a pad is good for; put a wait between them"
    return Left(need.subject, need.place, "; ".join((need.reason, why, *need.cures)))
