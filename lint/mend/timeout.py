"""Gives polls that give up the time they had at the old clock: their count is set for the new one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from ..assemble import OperandNumber
from ..chain import Chain
from ..cpu import Action, Hole
from ..cpu.notation import COUNTER
from ..errors import Place
from ..flow import FirstReads, Liveness, Loop, Routine, fragment, liveness, sources
from ..quantity import Clock, Duration
from ..rules import Case
from ..rules.time_out_changes import TimeOut, longest, time_outs
from ..source import Edit
from ..timing import LoopTiming, Wait
from .goal import written
from .ground import not_understood, rests
from .knob import Knob, counts, counts_up, solved
from .knob import longest as most_of
from .maker import CannotEdit, Maker
from .model import Evidence, Left
from .padding import MOST_PADDED, Padding, Pads, moved
from .retime import Retimer, Solution
from .use import Use

# How many instructions before a loop may belong to it: those that load its count.
_MOST_BEFORE: Final = 8
# Pads tried beyond the shortest one that lets a counter reach the time.
_PADS_TRIED: Final = 4
_PLAIN: Final[Mapping[int, Action]] = {}

# By the head of the loop: how long it has to wait before it gives up, and its cycles in the text as it was given.
Waited = Mapping[int, tuple[Duration, int]]


@dataclass(frozen=True, slots=True)
class TimedOut:
    """A time-out with its new count and the edits by file; `head` is its loop before the edits."""

    head: int
    subject: str
    place: Place
    places: tuple[Place, ...]
    reason: str
    result: str
    evidence: Evidence
    use: Use
    cycles: int
    inserted: tuple[Padding, ...]
    edits: Mapping[str, list[Edit]]

    def lasts_in(self, edited: Chain, together: Sequence[Padding]) -> bool:
        """Whether it gives up after what it was solved for when the edited text is counted."""
        head = moved(self.head, together)
        return any(out.loop.head == head and out.cycles == self.cycles for out in time_outs(_case(edited)))


def waited(chain: Chain, written_for: Clock | None) -> Waited:
    """How long each poll that gives up has to wait: what its note states, else as long as at the old clock."""
    found: dict[int, tuple[Duration, int]] = {}
    for out in time_outs(_case(chain)):
        lasts = out.stated or (written_for.duration(out.cycles) if written_for is not None else None)
        if lasts is not None:
            found[out.loop.head] = lasts, out.cycles
    return found


def timed_out(
    chain: Chain, clock: Clock, written_for: Clock | None, needed: Waited
) -> Iterator[TimedOut | Left]:
    """Every time-out that has to change at the new clock: how, or why it is left."""
    maker = _Maker(chain, clock, written_for)
    for out in time_outs(_case(chain)):
        if out.loop.head in needed:
            lasts, before = needed[out.loop.head]
            there = clock.duration(out.cycles)
            if not lasts.seconds <= there.seconds <= longest(lasts, out, clock).seconds:
                yield maker.solved(out, lasts)
            elif out.cycles != before and out.stated is None:
                yield maker.as_it_is(out, lasts)


def _case(chain: Chain) -> Case:
    return Case(chain.timings, chain.board, chain.board.clocks, None)


class _Maker:
    def __init__(self, chain: Chain, clock: Clock, written_for: Clock | None) -> None:
        self.chain = chain
        self.program = chain.program
        self.analysis = chain.timings.analysis
        self.clock = clock
        self.written_for = written_for
        self.live: Liveness = liveness(chain.graph)
        self.pads = Pads(chain.timings, self.live)
        self.retimer = Retimer(chain.timings, self.pads)
        self.maker = Maker(chain, clock, written_for)

    def solved(self, out: TimeOut, lasts: Duration) -> TimedOut | Left:
        """With another count, and where that does not fit with pads in the loop."""
        loop = out.loop
        need = ceil(lasts.cycles(self.clock))
        wait = self._wait(loop, out.cycles)
        found = [s for knob in self._knobs(wait, loop) for s in self._solutions(knob, loop, need)]
        most = ceil(longest(lasts, out, self.clock).cycles(self.clock))
        near = [each for each in found if each.cycles <= most] or found
        if near:
            best = min(near, key=lambda each: each.change)
            return self._made(out, lasts, wait, best)
        known = any(True for _ in self._knobs(wait, loop))
        why = (
            "its counter is too narrow; put another loop around it"
            if known
            else "no number in the text is its count"
        )
        return Left(loop.name, self._place(loop), f"{self._short(out, lasts)}; {why}")

    def as_it_is(self, out: TimeOut, lasts: Duration) -> TimedOut | Left:
        """Only its note: what it calls has been changed already."""
        wait = self._wait(out.loop, out.cycles)
        return self._made(out, lasts, wait, Solution(out.loop.head, None, 0, (), out.cycles))

    def _made(self, out: TimeOut, lasts: Duration, wait: Wait, solution: Solution) -> TimedOut | Left:
        loop = out.loop
        edits: dict[str, list[Edit]] = {}
        try:
            touched = [*self.maker.count(solution, edits), *self.maker.pads(solution, edits)]
            if out.stated is None:
                path, note = self.maker.noted(wait, f"gives up after {written(lasts)}", None)
                edits.setdefault(path, []).append(note)
                touched.append(self.program.instructions[loop.head].origin)
        except CannotEdit as fault:
            return Left(loop.name, self._place(loop), f"{self._short(out, lasts)}; {fault}")
        evidence = self._evidence(out, wait, solution)
        if isinstance(evidence, str):
            return Left(loop.name, self._place(loop), f"{self._short(out, lasts)}; {evidence}")
        there = self.clock.duration(solution.cycles)
        over = Duration(there.seconds - lasts.seconds)
        error = f"{over.text(3, 'up')} longer" if over.seconds else "exactly as long"
        return TimedOut(
            head=loop.head,
            subject=loop.name,
            place=self._place(loop),
            places=tuple(dict.fromkeys(origin.text_place for origin in touched)),
            reason=self._short(out, lasts),
            result=f"{solution.cycles} cycles at most, {there.text()} at {self.clock.text()}: {error}",
            evidence=evidence,
            use=Use(
                "time-out",
                f"it gives up on {self.program.shown(out.poll.address)} when its count has run out",
            ),
            cycles=solution.cycles,
            inserted=solution.inserted,
            edits=edits,
        )

    def _short(self, out: TimeOut, lasts: Duration) -> str:
        port, now = self.program.shown(out.poll.address), self.clock.duration(out.cycles)
        old = self.written_for.text() if self.written_for is not None else "the old clock"
        whose = "its note states" if out.stated is not None else f"at {old} after"
        name = out.loop.name
        return (
            f"{name} gives up on {port} after {out.cycles} cycles, {now.text()} at {self.clock.text()}; "
            f"{whose} {lasts.text(6, 'down')}"
        )

    def _place(self, loop: LoopTiming) -> Place:
        return self.program.instructions[loop.head].origin.place

    # -- its count -------------------------------------------------------------------------------------------

    def _wait(self, loop: LoopTiming, cycles: int) -> Wait:
        """The loop with what comes right before it."""
        graph, nodes = self.chain.graph, loop.key.nodes
        first = loop.head
        outside = [s for s in sources(graph).get(loop.head, ()) if s not in nodes]
        if outside == [loop.head - 1]:
            for index in range(loop.head - 1, max(loop.head - 1 - _MOST_BEFORE, -1), -1):
                straight = [(e.way, e.target) for e in graph.edges[index]] == [("next", index + 1)]
                if not straight or index in graph.calls:
                    break
                first = index
                if sources(graph).get(index, ()) != (index - 1,):
                    break
        part = fragment(graph, first, nodes | set(range(first, loop.head)))
        return Wait("loop", loop.head, loop.name, part, cycles, frozenset())

    def _knobs(self, wait: Wait, loop: LoopTiming) -> Iterator[Knob]:
        """The numbers on which it depends when it gives up."""
        for index in sorted(wait.part.nodes):
            for number, hole in counts(self.program.instructions[index]):
                lasts = self._lasting(wait, loop, index, hole)
                value = number.value or 0
                knob = Knob(wait, index, number, hole, value, counts_up(value, 1 << hole.width, lasts), lasts)
                count = knob.count(value)
                other = count + 1 if count < knob.most else count - 1
                if knob.cycles(count) == wait.cycles and knob.cycles(other) not in (None, wait.cycles):
                    yield knob

    def _lasting(
        self, wait: Wait, loop: LoopTiming, index: int, hole: Hole, slower: Mapping[int, Action] = _PLAIN
    ) -> Callable[[int], int | None]:
        known: dict[int, int | None] = {}

        def lasts(value: int) -> int | None:
            if value not in known:
                analysis = self.analysis.replacing({**slower, index: self.retimer.bound(index, hole, value)})
                walk = analysis.fragment(wait.part)
                walk.ends()
                counted = walk.loops.get(loop.key)
                most = None if counted is None else counted.total.most
                known[value] = None if most is None else most.value
            return known[value]

        return lasts

    def _solutions(self, knob: Knob, loop: LoopTiming, need: int) -> Iterator[Solution]:
        found = solved(knob, need)
        if found is not None:
            yield self._solution(knob, found, ())
            return
        for inner in knob.wait.part.loops():
            if knob.index in inner.nodes or any(isinstance(item, Loop) for item in inner.items):
                continue
            spot, before = self.retimer.spot(inner)
            for cycles in self._pads_to_try(knob, loop, spot, need):
                padding = self.pads.at(spot, cycles, before)
                if padding is not None and padding.cycles == cycles:
                    found = solved(self._slowed(knob, loop, spot, cycles), need)
                    if found is not None:
                        yield self._solution(knob, found, (padding,))

    def _solution(self, knob: Knob, found: tuple[int, int], paddings: tuple[Padding, ...]) -> Solution:
        value = knob.value(found[0])
        number: OperandNumber | None = None if value == knob.written else knob.number
        return Solution(knob.index, number, value, paddings, found[1])

    def _slowed(self, knob: Knob, loop: LoopTiming, spot: int, cycles: int) -> Knob:
        slower = {spot: self.retimer.longer(spot, cycles)}
        lasts = self._lasting(knob.wait, loop, knob.index, knob.hole, slower)
        return Knob(knob.wait, knob.index, knob.number, knob.hole, knob.written, knob.up, lasts)

    def _pads_to_try(self, knob: Knob, loop: LoopTiming, spot: int, need: int) -> range:
        plain, slowed = most_of(knob), most_of(self._slowed(knob, loop, spot, 1))
        if plain is None or slowed is None or slowed <= plain or need <= plain:
            return range(0)
        least = -(-(need - plain) // (slowed - plain))
        return range(least, min(least + _PADS_TRIED, MOST_PADDED + 1))

    # -- evidence --------------------------------------------------------------------------------------------

    def _evidence(self, out: TimeOut, wait: Wait, solution: Solution) -> Evidence | str:
        """How far it is shown that nothing but the time-out changes; words where the count is read elsewhere."""
        found = self.chain.board.part_at(out.poll.address)
        ground = rests(self.chain)
        counted = f"counted again on the edited text: {solution.cycles} cycles at most"
        if found is not None and found[0].hurts:
            return Evidence(
                "shown", (f"it waits for {found[0].name}, an output that can hurt people or equipment",)
            )
        unread = not_understood(self.chain, wait.part.nodes)
        if unread:
            return Evidence("shown", (unread,))
        if solution.number is None:
            return Evidence("proved", ("only its time is written beside it", counted, ground))
        # What comes before the load of its count is no part of it.
        nodes = out.loop.key.nodes | {
            node for node in wait.part.nodes if solution.index <= node <= out.loop.head
        }
        if any(node in self.chain.graph.calls for node in nodes):
            return Evidence("shown", ("it calls a routine while it waits",))
        if self._stores(nodes, out.loop):
            return Evidence("shown", ("it writes memory while it waits",))
        read = self._read_behind(out.loop, wait.part, solution)
        if read:
            return f"its count is read behind it, in {', '.join(sorted(read))}"
        same = "what hangs on how often it turned is read by nobody behind it, for all states; a turn does what it did"
        return Evidence("proved", (same, counted, ground))

    def _stores(self, nodes: frozenset[int], loop: LoopTiming) -> bool:
        facts = [routine.outcome.facts for routine in self.chain.timings.routines_at(loop.head)]
        return any(each[node].writes for each in facts for node in nodes if node in each)

    def _read_behind(self, loop: LoopTiming, part: Routine, solution: Solution) -> frozenset[str]:
        """Registers and flags that hang on the count and that somebody reads behind the loop."""
        nodes, graph = loop.key.nodes, self.chain.graph
        used = {node: self.program.instructions[node].action.used for node in part.nodes}
        written = frozenset[str]().union(*(used[node].writes for node in nodes)) - {COUNTER}
        carried = written & FirstReads(graph).exposed(loop.head, nodes)
        after: dict[int, frozenset[str]] = dict.fromkeys(part.nodes, frozenset())
        changed = True
        while changed:
            changed = False
            for node in sorted(part.nodes):
                before = frozenset[str]().union(
                    *(after[s] for s in sources(graph).get(node, ()) if s in after)
                )
                before |= carried if node == loop.head else frozenset()
                hangs = node == solution.index or bool(used[node].reads & before)
                now = before | used[node].writes if hangs else before - used[node].surely
                if now != after[node]:
                    after[node], changed = now, True
        found: set[str] = set()
        for node in nodes:
            for edge in graph.edges[node]:
                if edge.target not in nodes:
                    found |= after[node] & self._told_apart(part, solution, node, edge.target, after[node])
            if node in graph.returns:
                found |= after[node] & self.live.after[node]
        return frozenset(found - {COUNTER})

    def _told_apart(
        self, part: Routine, solution: Solution, node: int, target: int, hangs: frozenset[str]
    ) -> frozenset[str]:
        """What is read behind one way out, but for what holds one number there with every count."""
        read = self.live.before[target] & hangs
        if not read or solution.number is None:
            return read
        action = self.program.instructions[solution.index].action
        fields = {**action.fields, solution.number.hole: solution.value}
        new = self.program.cpu.bind(action.row, action.variant, fields, action.address)
        states = [
            out.arrival.state
            for analysis in (self.analysis, self.analysis.replacing({solution.index: new}))
            for out in analysis.fragment(part).ends()
            if (out.source, out.target) == (node, target)
        ]
        values = {name: {state.get(name).value for state in states} for name in read}
        return frozenset(name for name in read if len(values[name]) != 1 or None in values[name])
