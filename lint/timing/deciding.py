"""Which memory decides how often loops go round: the code is followed back from the tests that end them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ..cpu.notation import COUNTER
from ..flow import Graph, Loop, stack_pointers
from .pointing import reads_by_pointer
from .result import Fact

# A register or flag by its name, a byte of memory by its address.
_Names = frozenset[str | int]
_NONE: _Names = frozenset()
# Data that is read through a pointer; what is written back there at once is a counter.
DATA = "data"


def deciding(
    graph: Graph, facts: Mapping[int, Fact], nodes: Iterable[int], loops: Iterable[Loop], restored: _Names
) -> frozenset[int]:
    """The addresses whose bytes decide how often the loops turn, or come back into registers `restored` at the end.

    What only decides which way a turn goes is none of them.
    """
    wanted = _wanted(graph, facts, nodes, loops, restored)
    return frozenset(each for each in wanted if isinstance(each, int))


def deciding_registers(
    graph: Graph, facts: Mapping[int, Fact], nodes: Iterable[int], loops: Iterable[Loop]
) -> frozenset[str]:
    """The registers and flags that decide how often the loops turn, and DATA where what a pointer reads does."""
    return frozenset(each for each in _wanted(graph, facts, nodes, loops, _NONE) if isinstance(each, str))


def _wanted(
    graph: Graph, facts: Mapping[int, Fact], nodes: Iterable[int], loops: Iterable[Loop], restored: _Names
) -> _Names:
    code = _Code(graph, {node: facts[node] for node in nodes if node in facts})
    tests = {node for loop in loops for node in loop.nodes if code.leads_out(node, loop.nodes)}
    return _NONE.union(*code.wanted(tests, restored).values())


class _Code:
    def __init__(self, graph: Graph, facts: Mapping[int, Fact]) -> None:
        self.graph = graph
        self.facts = facts
        actions = {node: graph.program.instructions[node].action for node in facts}
        used = {node: action.used for node, action in actions.items()}
        stacks = stack_pointers(graph.program.cpu)
        self.reads: dict[int, _Names] = {}
        self.writes: dict[int, _Names] = {}
        self.surely: dict[int, _Names] = {}
        for node, fact in facts.items():
            stored = {term.value for term in fact.writes if term.value is not None}
            self.reads[node] = used[node].reads - {COUNTER} | _values(fact)
            if fact.reads - fact.writes and reads_by_pointer(actions[node], stacks):
                self.reads[node] |= {DATA}
            self.writes[node] = used[node].writes - {COUNTER} | stored
            self.surely[node] = used[node].surely | stored

    def leads_out(self, node: int, inside: frozenset[int]) -> bool:
        return any(edge.target not in inside for edge in self.graph.edges[node])

    def following(self, node: int) -> Iterator[int]:
        return (edge.target for edge in self.graph.edges[node] if edge.target in self.facts)

    def wanted(self, tests: set[int], restored: _Names) -> Mapping[int, _Names]:
        """What of the state before each instruction decides."""
        before: dict[int, _Names] = dict.fromkeys(self.facts, _NONE)
        changed = True
        while changed:
            changed = False
            for node in sorted(before, reverse=True):
                following = [before[target] for target in self.following(node)]
                after = _NONE.union(*following) if following else restored
                found = self._before(node, after, node in tests)
                if found != before[node]:
                    before[node], changed = found, True
        return before

    def _before(self, node: int, after: _Names, is_test: bool) -> _Names:
        makes = bool(self.writes[node] & after)
        return after - self.surely[node] | (self.reads[node] if makes or is_test else _NONE)


def _values(fact: Fact) -> frozenset[int]:
    return frozenset(term.value for term in fact.reads if term.value is not None)
