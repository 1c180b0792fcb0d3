"""Where a program can be gone to beside the branches, jumps and calls that stand in its text."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from ..assemble import Origin
from .graph import Graph


@lru_cache(maxsize=4)
def named(graph: Graph) -> frozenset[int]:
    """Instructions whose label is used otherwise than to go there: it stands in a table or becomes a pointer.

    Whoever reads that can go there.
    """
    going = _Going(graph)
    program = graph.program
    found: set[int] = set()
    for symbol in program.symbols.values():
        if symbol.kind == "label" and symbol.value is not None:
            instruction = program.at(symbol.value)
            if instruction is not None and any(not going.leads(u, instruction.index) for u in symbol.uses):
                found.add(instruction.index)
    return frozenset(found)


class _Going:
    """Where the lines of a program that go somewhere lead."""

    def __init__(self, graph: Graph) -> None:
        self._targets: dict[object, set[int]] = {}
        for instruction in graph.program.instructions:
            for target in _targets(graph, instruction.index):
                self._targets.setdefault(_line(instruction.origin), set()).add(target)

    def leads(self, use: Origin, index: int) -> bool:
        return index in self._targets.get(_line(use), ())


def _targets(graph: Graph, index: int) -> Iterator[int]:
    for edge in graph.edges[index]:
        if edge.way in ("taken", "jump"):
            yield edge.target
    call = graph.calls.get(index)
    if call is not None and call.target is not None:
        yield call.target


def _line(origin: Origin) -> object:
    return origin.path, origin.line, origin.uses
