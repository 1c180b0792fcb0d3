"""Whether a return goes back to who called the routine, or to what the routine itself put on the stack."""

from __future__ import annotations

from functools import cache, lru_cache

from ..cpu import Cpu, run
from ..cpu.symbolic import Reader, State
from ..cpu.term import Cell, Input, Slot, Term
from ..flow import Graph, distance, frames


@lru_cache(maxsize=4)
def called(graph: Graph) -> frozenset[int]:
    """The entries of the routines that only calls in the text lead to."""
    return frozenset(entry.index for entry in graph.entries if entry.kind == "called")


def elsewhere(goes: Term | None, state: State) -> bool:
    """Whether a return that loads that into the program counter surely does not go behind the call.

    The state is that of a walk which began where the routine begins, in scope 0. What it loads is then the word that
    the call left on the stack; a number or another word is not. False where memory is not known on the way.
    """
    if goes is None or state.memory_scope != 0:
        return False
    back = called_from(state.cpu)
    return bool(back) and not _words(goes) & back


@cache
def called_from(cpu: Cpu) -> frozenset[Input]:
    """The bytes on the stack that a return loads into the program counter where the stack is as it was found."""
    found: set[Input] = set()
    for row in cpu.rows:
        for variant in row.form.variants if row.operation.flow == "return" else ():
            if not variant.holes:
                reader = Reader(State(cpu, 0), assumed=True)
                run(cpu.bind(row, variant, {}, 0).meaning, reader)
                if reader.goes is not None and _undoes_a_call(reader.state):
                    found |= _words(reader.goes)
    return frozenset(found)


def _undoes_a_call(state: State) -> bool:
    return all(
        distance(state.get(name), state.held(name), state.width(name)) == frame.size
        for name, frame in frames(state.cpu).items()
    )


def _words(value: Term) -> frozenset[Input]:
    """The bytes in memory that a value is made of."""
    return frozenset(given for given in value.inputs if isinstance(given.origin, Slot | Cell))
