"""What the registers that decide on cycles hold: start values, unless the program puts something else there."""

from collections.abc import Iterator, Mapping
from typing import Final

from ..cpu import run, term
from ..cpu.symbolic import Reader, State, Touch
from ..cpu.term import Term
from ..flow import Graph

_LEAD: Final = 8  # instructions straight before one from which its operands may come


def modes(graph: Graph) -> dict[str, int]:
    """What they hold everywhere but in the reset routine: the start value, or the one constant the program puts there.

    Where it puts several there, or one that nobody knows, nothing is known of them, unless the project file states it.
    A flag may be set only on the way through some routine: what it starts with is one of its values, too, and one that
    comes back from a stack is taken for one of them.
    """
    cpu = graph.program.cpu
    start = {name: cpu.initial[name] for name in cpu.mode_registers}
    found, given = start, {name: set[int | None]() for name in start}
    writes = [
        (instruction.index, name)
        for instruction in graph.program.instructions
        for name in instruction.action.used.surely & start.keys()
    ]
    lead = Lead(graph) if writes else None
    # Twice: one of them can decide whether a write reaches another.
    for _ in range(2 if lead else 0):
        for index, name in writes:
            assert lead is not None
            given[name] |= lead.put(index, name, found)
        found = {name: value for name in start for value in _held(graph, name, start[name], given[name])}
    return found


def _held(graph: Graph, name: str, start: int, given: set[int | None]) -> Iterator[int]:
    """The one value, if there is one."""
    first, *others = given | {start} if name in graph.program.cpu.flags else given or {start}
    if first is not None and not others:
        yield first
    elif name in dict(graph.program.cpu.stated):
        yield start


class Lead:
    """What instructions put into registers, read with those that are always run straight before them."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.instructions = graph.program.instructions
        self.entered = {entry.index for entry in graph.entries}
        self.entered |= {edge.target for edges in graph.edges for edge in edges if edge.way != "next"}
        self.entered |= {call.target for call in graph.calls.values() if call.target is not None}

    def put(self, index: int, name: str, known: Mapping[str, int]) -> set[int | None]:
        """What the instruction puts there: None for what is not known; empty where it leaves what was there."""
        others = {key: value for key, value in known.items() if key != name}
        before, after = self._around(index, name, others)
        if after == before:
            return set()
        if after.value is not None:
            return {after.value}
        if name in self.graph.program.cpu.flags:
            return set()
        _, kept = self._around(index, name, known)
        return set() if kept.value is not None and kept.value == known.get(name) else {kept.value}

    def stored(self, index: int) -> list[Touch]:
        """What the instruction reads and writes of memory, with the addresses and values known so far."""
        reader = Reader(State(self.graph.program.cpu, 0))
        for each in self._straight(index):
            run(self.instructions[each].action.meaning, reader)
        before = len(reader.touches)
        run(self.instructions[index].action.meaning, reader)
        return reader.touches[before:]

    def _around(self, index: int, name: str, known: Mapping[str, int]) -> tuple[Term, Term]:
        """The register before the instruction and behind it."""
        reader = Reader(State(self.graph.program.cpu, 0))
        reader.state.registers.update({key: term.number(value) for key, value in known.items()})
        for each in self._straight(index):
            run(self.instructions[each].action.meaning, reader)
        before = reader.state.get(name)
        run(self.instructions[index].action.meaning, reader)
        return before, reader.state.get(name)

    def _straight(self, index: int) -> range:
        first = index
        while index - first < _LEAD and first not in self.entered and self._goes_on(first - 1):
            first -= 1
        return range(first, index)

    def _goes_on(self, index: int) -> bool:
        edges = self.graph.edges[index] if index >= 0 else ()
        return [(edge.target, edge.way) for edge in edges] == [
            (index + 1, "next")
        ] and index not in self.graph.calls
