"""Finds the waits of a program: code whose only purpose is the time it takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

from ..address import is_port
from ..cpu import Action, Assign, Load, Statement, Temp, term
from ..cpu.meaning import operands, walk
from ..cpu.notation import COUNTER
from ..cpu.symbolic import State
from ..cpu.term import Held, Term
from ..flow import Loop, LoopKey, Routine, fragment, is_free, liveness, sources, stack_pointers
from ..source import Takes
from .deciding import DATA, deciding, deciding_registers
from .pointing import reads_by_pointer, writes_by_pointer
from .result import Context, Exact, Fact, Formula, Range
from .timings import CallTiming, LoopTiming, RoutineTiming, Timings

# How many instructions before a loop or a call may belong to it: those that load its counters.
_MOST_BEFORE = 8


@dataclass(frozen=True, slots=True)
class Wait:
    """A routine, a loop, or a call that hands a count to a routine, that does nothing but last.

    `index` is the routine's entry, the loop's head or the call. `part` is the code whose time and effect is
    compared when a count changes; it takes in the instructions that load the counters. `live` are the registers and
    flags somebody reads behind it.
    """

    kind: Literal["routine", "loop", "call"]
    index: int
    name: str
    part: Routine
    cycles: int
    live: frozenset[str]


@lru_cache(maxsize=4)
def waits(timings: Timings) -> tuple[Wait, ...]:
    """Every wait with a known duration, in the order of the source; a loop inside a wait is not one by itself."""
    finder = _Finder(timings)
    found = [*finder.routines(), *finder.calls(), *finder.loops()]
    return tuple(sorted(found, key=lambda wait: wait.index))


def open_waits(timings: Timings) -> tuple[RoutineTiming, ...]:
    """Routines that only pass a time their caller decides, where some call hands over what is not known."""
    finder = _Finder(timings)
    known = {call.call for call in timings.calls if isinstance(call.total, Exact)}
    called = {c.target for c in timings.graph.calls.values() if c.source not in known}
    return tuple(
        routine
        for routine in timings.routines
        if isinstance(routine.total, Formula)
        and routine.entry.index in called
        and finder.only_passes_time(routine.entry.index)
        and not finder.works_out(routine)
    )


def ranged_waits(timings: Timings) -> tuple[RoutineTiming, ...]:
    """Called routines that only pass time, gone round known times, whose cycles no text fixes: refreshes, or a page."""
    finder = _Finder(timings)
    trips: dict[str, list[bool]] = {}
    for loop in timings.loops:
        trips.setdefault(loop.routine, []).append(isinstance(loop.trips, Exact))
    return tuple(
        routine
        for routine in timings.routines
        if isinstance(routine.total, Range)
        and routine.entry.kind == "called"
        and all(trips.get(routine.entry.name, [False]))
        and finder.only_passes_time(routine.entry.index)
        and not finder.works_out(routine)
    )


def timed_loops(timings: Timings) -> tuple[LoopTiming, ...]:
    """Loops whose time is their purpose, or that access a part in time with their turns; none inside another.

    How often they run is known, be it by what a caller hands over.
    """
    finder = _Finder(timings)
    found: list[LoopTiming] = []
    inside: set[int] = set()
    for timing in sorted(timings.loops, key=lambda timing: -len(timing.key.nodes)):
        if not isinstance(timing.trips, Exact | Formula) or timing.key.nodes <= inside:
            continue
        loop = finder.loop(timing)
        if loop is not None and (finder.only_time(timing, loop) or finder.accesses(timing)):
            inside |= loop.nodes
            found.append(timing)
    return tuple(sorted(found, key=lambda timing: timing.head))


class _Finder:
    def __init__(self, timings: Timings) -> None:
        self.timings = timings
        self.graph = timings.graph
        self.analysis = timings.analysis
        self.live = liveness(self.graph)
        self.covered: set[int] = set()
        self.sources = sources(self.graph)
        self.by_key: dict[int, Mapping[LoopKey, Loop]] = {}
        self.pure: dict[int, bool] = {}
        notes = self.graph.program.notes
        self.stated = frozenset(bound.index for bound in notes if isinstance(bound.note.note, Takes))

    def only_passes_time(self, entry: int) -> bool:
        """Whether a routine does nothing but last."""
        return self._pure_routine(entry)

    def routines(self) -> Iterator[Wait]:
        for timing in self.timings.routines:
            entry = timing.entry.index
            if timing.entry.kind in ("reset", "vector", "start") or not self._pure_routine(entry):
                continue
            part = self.analysis.routine(entry)
            if self.works_out(timing):
                continue
            if isinstance(timing.total, Exact | Formula):
                self.covered |= part.nodes
            if isinstance(timing.total, Exact) and self._lasts(timing, part):
                yield Wait("routine", entry, timing.entry.name, part, timing.total.cycles, self._behind(part))

    def _lasts(self, timing: RoutineTiming, part: Routine) -> bool:
        """A routine of no loop is a wait where something calls it and nobody reads what it changes.

        One that only returns is an empty place for code, not a wait.
        """
        if any(True for _ in part.loops()):
            return True
        end = timing.outcome.end
        if end is None or timing.entry.kind != "called" or part.nodes <= self.graph.returns:
            return False
        behind = self._behind(part)
        moved = {name for name, value in end.registers.items() if value != end.held(name)}
        writes = any(fact.writes for fact in timing.outcome.facts.values())
        return not writes and not moved & behind - stack_pointers(self.graph.program.cpu)

    def _behind(self, part: Routine) -> frozenset[str]:
        """What is read behind a routine."""
        return frozenset[str]().union(*(self.live.after[n] for n in part.nodes & self.graph.returns))

    def works_out(self, timing: RoutineTiming) -> bool:
        """Whether a routine leaves a result in a register, and no note says that its time is what it is for."""
        end, part = timing.outcome.end, self.analysis.routine(timing.entry.index)
        return (
            end is not None
            and timing.entry.index not in self.stated
            and (self._results(end, self._behind(part)) or self._left(end, part.nodes))
        )

    def _results(self, end: State, live: frozenset[str]) -> bool:
        """Whether a register somebody reads behind it holds a result: neither what it held before nor one number."""
        cpu = self.graph.program.cpu
        read = (live & cpu.registers.keys()) - stack_pointers(cpu) - {COUNTER}
        return any(end.get(name).value is None and end.get(name) != end.held(name) for name in read)

    def _moved(self, timing: LoopTiming, loop: Loop, end: State, live: frozenset[str]) -> bool:
        """Whether the turns move a register that is read behind, and that does not end them: a pointer."""
        graph, cpu = self.graph, self.graph.program.cpu
        written = frozenset[str]().union(
            *(graph.program.instructions[n].action.used.writes for n in loop.nodes)
        )
        moved = written & live & cpu.registers.keys() - stack_pointers(cpu) - {COUNTER}
        moved = frozenset(name for name in moved if end.get(name) != end.held(name))
        if not moved:
            return False
        facts = next(iter(self.timings.routines_at(timing.head))).outcome.facts
        return not moved <= deciding_registers(graph, facts, loop.nodes, (loop, *loop.inner()))

    def _left(self, end: State, nodes: frozenset[int]) -> bool:
        """Whether a byte of memory that is read outside the code, or that is still on the stack, holds a result."""
        return any(
            value.value is None and value != end.cell(address) and self._wanted(address, value, end, nodes)
            for address, value in end.memory.items()
        )

    def _wanted(self, address: Term, value: Term, end: State, nodes: frozenset[int]) -> bool:
        if address.value is not None:
            # What a register held is kept for it; all else may be looked at by whoever runs the program.
            is_kept = all(isinstance(given.origin, Held) for given in term.inputs([value]))
            return not is_kept or not self._readers.get(address.value, frozenset()) <= nodes
        cpu = self.graph.program.cpu
        stacks = stack_pointers(cpu)
        pushed = (is_free(address, end.get(name), name, cpu) for name in stacks if _is_on(address, name))
        return any(not free for free in pushed)

    @cached_property
    def _readers(self) -> Mapping[int, frozenset[int]]:
        """The instructions that read each byte of memory and do not write it at once, as those that count do."""
        found: dict[int, set[int]] = {}
        for routine in self.timings.routines:
            for index, fact in routine.outcome.facts.items():
                for address in fact.reads - fact.writes:
                    if address.value is not None:
                        found.setdefault(address.value, set()).add(index)
        return {address: frozenset(indexes) for address, indexes in found.items()}

    def calls(self) -> Iterator[Wait]:
        formulas = {t.entry.index for t in self.timings.routines if isinstance(t.total, Formula)}
        for call in self.timings.calls:
            entry = call.context.entry
            if isinstance(call.total, Exact) and entry in formulas and self._pure_routine(entry):
                end = self.analysis.outcome(call.context).end
                results = end is not None and (
                    self._results(end, self.live.after[call.call])
                    or self._left(end, self.analysis.routine(entry).nodes)
                )
                if results and call.call not in self.stated:
                    continue
                yield self._call(call, call.total.cycles)

    def _call(self, call: CallTiming, cycles: int) -> Wait:
        nodes = frozenset({call.call, *self._before(call.call)})
        part = fragment(self.graph, min(nodes), nodes)
        return Wait("call", call.call, call.name, part, cycles, self.live.after[call.call])

    def loops(self) -> Iterator[Wait]:
        inside: set[int] = set()
        for timing in self.timings.loops:
            if timing.head in self.covered or timing.head in inside:
                continue
            loop = self.loop(timing)
            if loop is None or not isinstance(timing.total, Exact) or not self.only_time(timing, loop):
                continue
            inside |= loop.nodes
            nodes = loop.nodes | frozenset(self._before(loop.head, loop.nodes))
            targets = [
                e.target for n in loop.nodes for e in self.graph.edges[n] if e.target not in loop.nodes
            ]
            live = frozenset[str]().union(*(self.live.before[target] for target in targets))
            part = fragment(self.graph, min(nodes - loop.nodes, default=loop.head), nodes)
            ends = self.analysis.ends(part)
            results = any(
                self._results(state, live)
                or self._left(state, nodes)
                or self._moved(timing, loop, state, live)
                for state in (out.arrival.state for out in ends)
            )
            if results and not nodes & self.stated:
                continue
            yield Wait("loop", timing.head, timing.name, part, timing.total.cycles, live)

    def loop(self, timing: LoopTiming) -> Loop | None:
        """The loop that was timed."""
        for routine in self.timings.routines_at(timing.head):
            found = self._loops_of(routine.entry.index).get(timing.key)
            if found is not None:
                return found
        return None

    def _loops_of(self, entry: int) -> Mapping[LoopKey, Loop]:
        found = self.by_key.get(entry)
        if found is None:
            # Of several loops of one key the outermost, as they come.
            loops = [*self.analysis.routine(entry).loops()]
            found = self.by_key[entry] = {loop.key: loop for loop in reversed(loops)}
        return found

    def _before(self, index: int, inside: frozenset[int] = frozenset()) -> Iterator[int]:
        """The instructions in a straight line before one that touch nothing but registers."""
        for _ in range(_MOST_BEFORE):
            before = [source for source in self.sources.get(index, ()) if source not in inside]
            if len(before) != 1 or before[0] != index - 1:
                return
            (index,) = before
            edges = self.graph.edges[index]
            if len(edges) != 1 or index in self.graph.calls or self._touches(index):
                return
            yield index

    def _touches(self, index: int) -> bool:
        facts = (r.outcome.facts[index] for r in self.timings.routines_at(index))
        return any(fact.reads or fact.writes for fact in facts)

    def accesses(self, timing: LoopTiming) -> bool:
        """Whether a loop accesses a part."""
        facts = [r.outcome.facts for r in self.timings.routines_at(timing.head)]
        return any(each[node].accesses for each in facts for node in timing.key.nodes if node in each)

    # -- nothing but time ------------------------------------------------------------------------------------

    def _pure_routine(self, entry: int) -> bool:
        known = self.pure.get(entry)
        if known is None:
            self.pure[entry] = False
            outcome = self.analysis.outcome(Context(entry))
            loops = (*self.analysis.routine(entry).loops(),)
            end = outcome.end
            known = end is not None and self._only_time(
                outcome.facts, frozenset(outcome.facts), loops, _restored(end)
            )
            self.pure[entry] = known
        return known

    def only_time(self, timing: LoopTiming, loop: Loop) -> bool:
        """Whether a loop does nothing but last."""
        for routine in self.timings.routines_at(timing.head):
            return self._only_time(routine.outcome.facts, loop.nodes, (loop, *loop.inner()), frozenset())
        return False

    def _only_time(
        self,
        facts: Mapping[int, Fact],
        nodes: frozenset[int],
        loops: Sequence[Loop],
        restored: frozenset[str],
    ) -> bool:
        reads = frozenset[Term]().union(
            *(facts[node].reads for node in nodes if node in facts and not self._reads_for_nothing(node))
        )
        counters = reads - {address for address in reads if self._device(address)}
        if not all(self._harmless(node, facts.get(node), counters) for node in nodes):
            return False
        if DATA in deciding_registers(self.graph, facts, nodes, loops) or self._goes_through(facts, loops):
            return False
        written = frozenset[Term]().union(*(facts[node].writes for node in nodes if node in facts))
        foreign = {a.value for a in written & counters if a.value is not None and self._foreign(a.value)}
        return not foreign or foreign <= deciding(self.graph, facts, nodes, loops, restored)

    def _goes_through(self, facts: Mapping[int, Fact], loops: Sequence[Loop]) -> bool:
        """Whether turns of a loop read memory at one place after the other."""
        stacks = stack_pointers(self.graph.program.cpu)
        nodes = {node for loop in loops for node in loop.nodes if node in facts}
        moving = (
            node
            for node in nodes
            if any(read.value is None for read in facts[node].reads - facts[node].writes)
        )
        return any(reads_by_pointer(self.graph.program.instructions[node].action, stacks) for node in moving)

    def _device(self, address: Term) -> bool:
        """Whether what is written there is known not to be kept."""
        place = address.value
        return place is not None and (is_port(place) or place in self.analysis.changing)

    def _foreign(self, address: int) -> bool:
        """Whether the source does not show that the address is memory: then only a counter is taken for one."""
        return address >= 0x100 and not self.graph.program.owns(address)

    def _reads_for_nothing(self, node: int) -> bool:
        """Whether the processor throws away all it reads, as some do before they clear a byte."""
        return _wastes(self.graph.program.instructions[node].action)

    def _harmless(self, node: int, fact: Fact | None, reads: frozenset[Term]) -> bool:
        graph = self.graph
        if fact is None:
            return True
        flow = graph.program.instructions[node].action.flow
        if fact.accesses or node in graph.lost or flow in ("interrupt", "wait"):
            return False
        call = graph.calls.get(node)
        if call is not None and (fact.callee is None or not self._pure_routine(fact.callee.entry)):
            return False
        stacks = stack_pointers(graph.program.cpu)
        if fact.writes - fact.reads and writes_by_pointer(graph.program.instructions[node].action, stacks):
            return False  # data is moved; what counts is read and written at once
        return all(_own(address, reads, stacks) for address in fact.writes)


def _restored(end: State) -> frozenset[str]:
    """The registers that hold at the end what they held before."""
    return frozenset(name for name in end.cpu.registers if end.get(name) == end.held(name)) - {COUNTER}


@lru_cache(maxsize=65536)
def _wastes(action: Action) -> bool:
    wasted = [isinstance(s, Assign) and s.target == Temp("_") for s in action.meaning if _loads(s)]
    return bool(wasted) and all(wasted)


def _loads(statement: Statement) -> bool:
    return any(isinstance(part, Load) for expr in operands(statement) for part in walk(expr))


def _is_on(address: Term, stack: str) -> bool:
    """Whether an address is worked out from a stack pointer."""
    return any(
        isinstance(given.origin, Held) and given.origin.name == stack for given in term.inputs([address])
    )


def _own(address: Term, reads: frozenset[Term], stacks: frozenset[str]) -> bool:
    """A stack byte, or a named cell that is read again here: a counter."""
    if address.value is not None:
        return address in reads
    return any(
        isinstance(given.origin, Held)
        and given.origin.name in stacks
        and term.modulo(term.add(address, term.atom(given), -1), given.high.bit_length()).value is not None
        for given in term.inputs([address])
    )
