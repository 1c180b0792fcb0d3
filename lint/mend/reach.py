"""The instructions of a wait, with those of the routines it calls."""

from __future__ import annotations

from ..flow import Graph
from ..timing import Wait


def reach(graph: Graph, wait: Wait) -> frozenset[int]:
    """By index; what an unknown call leads to is not among them."""
    found, waiting = set[int](), list(wait.part.nodes)
    while waiting:
        node = waiting.pop()
        if node not in found:
            found.add(node)
            call = graph.calls.get(node)
            if call is not None and call.target is not None:
                waiting += graph.reachable(call.target)
    return frozenset(found)
