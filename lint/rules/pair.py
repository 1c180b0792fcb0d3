"""Pairs of accesses between which a part's limits lie: the ways from one to the other, and what each is rested on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..board import LeastGap, Limit, Mode, Operation, Part, Requirement, strictest
from ..board import Poll as PartPoll
from ..quantity import Clock, Duration
from ..timing import Context, Formula, Gap, Handler, Poll, Query, Total, Unknown, crossings
from ..timing.wording import total
from .base import Case
from .part_mode import Modes, may_be_in
from .use import Use
from .words import line, needed


@dataclass(frozen=True, slots=True)
class Pair:
    """Two accesses of one part that can follow each other.

    `first` is None where power-on takes its place. `through` is the interrupt that comes between them. `doubt` says
    why the fewest cycles may not happen, empty where they can.
    """

    part: Part
    first: Use | None
    then: Use
    fewest: int
    most: int | None
    path: tuple[int, ...]
    through: Handler | None
    doubt: str
    poll: PartPoll | None

    @property
    def lines(self) -> tuple[int, int]:
        """The two instructions; -1 for power-on."""
        first = -1 if self.first is None else self.first.site.access.instruction
        return first, self.then.site.access.instruction

    def requirements(self, case: Case, clock: Clock) -> Sequence[Requirement]:
        """What may have to lie between the two that this pair was looked for, in the strictest mode that may be."""
        return strictest(self.by_mode(case, clock).values())

    def by_mode(self, case: Case, clock: Clock) -> Mapping[Mode, tuple[Requirement, ...]]:
        """What may have to lie between the two, for each mode the part may be in behind the first."""
        firsts = _power_on(case, self.part) if self.first is None else self.first.operations
        found: dict[Mode, tuple[Requirement, ...]] = {}
        for mode in self.modes.possible:
            part = replace(self.part, mode=mode)
            needs = case.board.requirements(part, firsts, self.then.operations, clock)
            found[mode] = tuple(each for each in needs if _poll(each.limit) == self.poll)
        return found

    @property
    def modes(self) -> Modes:
        """The modes that decide: those behind the first access, where it begins to work."""
        return self.then.modes if self.first is None else self.first.modes

    def in_mode(self, limit: Limit) -> str:
        """The mode a limit is taken in, where the project file does not state it: " in mode text", else empty."""
        stated = self.part.mode_stated and not self.modes.told
        return f" in mode {limit.mode}" if limit.mode and not stated else ""

    def mode_notes(self, case: Case, limit: Limit, clock: Clock) -> Iterator[str]:
        """What the mode rests on that is taken; of a mode set by writes nothing where all modes need the same."""
        part, modes = self.part, self.modes
        if part.mode_stated and not modes.told:
            return
        if not part.family.set_by_writes:
            if len(part.family.modes) > 1:
                yield f"no mode is stated for {part.name}: {part.mode.name}, the strictest, is taken"
            return
        if not limit.mode:
            return
        if modes.told:
            at = ", ".join(dict.fromkeys(line(case.program, index) for index in modes.writers))
            yield f"{part.name} is in mode {' or '.join(mode.name for mode in modes.possible)}: set at {at}"
        if not modes.told or len(modes.possible) > 1:
            known = "which of them is not known" if modes.told else f"no mode is stated for {part.name}"
            others = [limits[0].limit for limits in self.by_mode(case, clock).values() if limits]
            mildest = min(others, key=_amount) if isinstance(limit, LeastGap) else max(others, key=_amount)
            other = f"; in another mode {needed(_amount(mildest))}" if mildest.mode != limit.mode else ""
            yield f"{known}: {limit.mode}, the strictest, is taken{other}"

    def certain(self, requirement: Requirement) -> bool:
        """Whether the requirement lies between the two whatever is not known."""
        told = self.then.certain and (self.first is None or self.first.certain)
        return requirement.certain and told and not self.doubt

    def why(self, requirement: Requirement) -> str:
        """What is not known, where the requirement is not certain."""
        if self.doubt:
            return self.doubt
        if requirement.limit.provided:
            return f"whether {requirement.limit.provided} is not known"
        for use, operation in ((self.first, requirement.first), (self.then, requirement.then)):
            if use is not None and use.open:
                return f"{use.open}; it may be {operation.name}" if use.certain else use.open
        return "what is not known"


def _amount(limit: Limit) -> Duration:
    return limit.least if isinstance(limit, LeastGap) else limit.most


def _poll(limit: Limit) -> PartPoll | None:
    return getattr(limit, "poll", None)


def _power_on(case: Case, part: Part) -> tuple[Operation, ...]:
    found = case.board.power_on(part)
    return () if found is None else (found,)


def pairs(case: Case, part: Part, own: Sequence[Use], most: bool) -> Iterator[Pair]:
    """The pairs of a part between which its limits lie; `most` asks for those with a longest time instead.

    A pair may come several times: for each way its routines are called, and each poll that would end the need.
    """
    groups: dict[tuple[frozenset[str], str], set[str]] = {}
    for row in part.family.limits:
        applies = row.modes & may_be_in(part) and part.grade.name in row.amounts
        if applies and (row.kind == "max_gap") == most:
            groups.setdefault((row.then, row.poll), set()).update(row.first)
    for (thens, poll), firsts in groups.items():
        yield from _Group(case, part, own, firsts, thens, part.family.poll(poll)).pairs()


class _Group:
    """The limits of a part that end with the same operations and are satisfied by the same poll."""

    def __init__(
        self,
        case: Case,
        part: Part,
        own: Sequence[Use],
        firsts: set[str],
        thens: frozenset[str],
        poll: PartPoll | None,
    ) -> None:
        self.case = case
        self.part = part
        self.poll = poll
        self.by_site = {use.site: use for use in own}
        self.firsts = {use.site for use in own if any(o.name in firsts for o in use.operations)}
        self.query = Query(
            self.firsts.__contains__,
            {use.site for use in own if any(o.name in thens for o in use.operations)}.__contains__,
            _ready(part, poll),
        )
        self.from_reset = any(o.name in firsts for o in _power_on(case, part))

    def pairs(self) -> Iterator[Pair]:
        if self.firsts:
            for gap in self.case.timings.gaps(self.query):
                yield self._pair(gap, gap.most, None, doubt(self.case, gap))
            for crossing in crossings(self.case.timings, self.query, self.case.handlers):
                unsure = f"whether {crossing.handler.name} is masked there is not known"
                yield self._pair(crossing.gap, None, crossing.handler, "" if crossing.certain else unsure)
        if self.from_reset:
            for site, fewest in self.case.timings.since_reset(self.query):
                then = self.by_site[site]
                yield Pair(self.part, None, then, fewest, None, (), None, "", self.poll)

    def _pair(self, gap: Gap, most: int | None, through: Handler | None, unsure: str) -> Pair:
        first, then = self.by_site[gap.first], self.by_site[gap.then]
        return Pair(self.part, first, then, gap.fewest, most, gap.path, through, unsure, self.poll)


def _ready(part: Part, poll: PartPoll | None) -> Callable[[Poll], bool]:
    """Whether leaving a loop on what was read means that the part is ready."""
    if poll is None:
        return lambda _: False
    if part.behind is not None:
        address, width = part.behind.data, part.behind.width
        scale = (1 << part.behind.shift, 1 << (8 - width))
    elif poll.port in part.ports:
        address, scale = part.ports[poll.port], (1, 1)
    else:
        return lambda _: False
    family_port = part.family.port(poll.port)
    addresses = range(address, address + (family_port.size if family_port and part.behind is None else 1))
    mask = poll.mask // scale[1] * scale[0]
    ready = None if poll.ready is None else poll.ready // scale[1] * scale[0]

    def satisfied(seen: Poll) -> bool:
        if seen.address not in addresses or seen.mask & mask != mask:
            return False
        # Ready when it equals the byte written: which way round the bit is depends on that byte.
        return ready is None or seen.result & mask == ready

    return satisfied


# -- whether the fewest cycles can happen --------------------------------------------------------------------


def doubt(case: Case, gap: Gap) -> str:
    """Why the shortest way may not be as short as counted: a call or a count on it that is not known."""
    graph = case.timings.graph
    for index in gap.path[:-1]:
        call = graph.calls.get(index)
        if call is not None and call.target is None and not _system(case, index):
            return f"line {case.program.instructions[index].origin.line} {call.reason}"
        found = [_open_count(case, context, index, gap) for context in _contexts(case, index, gap)]
        if found and all(found):
            return found[0]
    return ""


def _system(case: Case, index: int) -> bool:
    return case.program.instructions[index].action.flow == "interrupt"


def _contexts(case: Case, index: int, gap: Gap) -> list[Context]:
    outcome = case.timings.analysis.outcome
    own = [c for c in (gap.first.context, gap.then.context) if index in outcome(c).facts]
    return own or list(case.timings.contexts_at(index))


def _open_count(case: Case, context: Context, index: int, gap: Gap) -> str:
    """What the time of a loop or a call on the way depends on, where nothing tells it."""
    analysis, graph = case.timings.analysis, case.timings.graph
    outcome = analysis.outcome(context)
    callee = outcome.facts[index].callee
    if callee is not None and index != gap.path[0] and callee.entry not in gap.path:
        inner = analysis.outcome(callee)
        if inner.cost is not None and not inner.polls:
            reason = _said(graph.name(callee.entry), total(inner.cost, graph))
            if reason:
                return reason
    loop = next((x for x in analysis.routine(context.entry).loops() if x.head == index), None)
    if loop is not None and loop.key in outcome.loops and index not in (gap.path[0], gap.path[-1]):
        polled = any(source in loop.nodes for source, _ in outcome.polls)
        if len(loop.nodes & set(gap.path)) == 1 and not polled:
            return _said(graph.head_name(index, loop.nodes), total(outcome.loops[loop.key].total, graph))
    return ""


def _said(name: str, spent: Total) -> str:
    match spent:
        case Formula(text=text, inputs=inputs):
            return f"{name} takes {text} cycles, and {', '.join(inputs)} is not known here"
        case Unknown(reason=reason):
            return f"{name}: {reason}"
        case _:
            return ""
