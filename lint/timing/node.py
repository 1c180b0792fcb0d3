"""What each instruction is to a walk: all that is its own, to be compared with what it was in an earlier count."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..flow import Graph
from ..source import Runs, With


def nodes(graph: Graph, idle: Callable[[int], frozenset[str]]) -> Sequence[object]:
    """By index: two instructions are alike to a walk where these are equal.

    `idle` are the flags that need not be followed behind an instruction.
    """
    program = graph.program
    notes: dict[int, list[object]] = {}
    for bound in program.notes:
        if isinstance(bound.note.note, Runs | With):
            notes.setdefault(bound.index, []).append(bound.note.note)
    return tuple(
        (
            each.address,
            # Which of its numbers are addresses of the program matters only where it may lie elsewhere.
            (each.certain, each.placed)
            if each.certain and each.placed
            else (each.certain, each.placed, program.moving(each)),
            # An action is made of these.
            (each.action.row, each.action.variant, each.action.code, each.fields),
            each.origin.line,
            graph.edges[index],
            graph.calls.get(index),
            index in graph.returns,
            graph.lost.get(index),
            graph.blurred.get(index),
            idle(index),
            graph.missing.get(index),
            notes.get(index),
        )
        for index, each in enumerate(program.instructions)
    )
