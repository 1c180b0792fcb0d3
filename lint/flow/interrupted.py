"""What handlers of interrupts read of what they interrupt: a register that stays theirs from one time to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from ..cpu import run
from ..cpu.symbolic import Reader, State
from ..cpu.term import Held, Term, inputs
from .graph import Graph
from .loop import sources
from .stack import stack_pointers


def read_by_handlers(graph: Graph, live: Callable[[], Sequence[frozenset[str]]]) -> frozenset[str]:
    """Registers and flags that a handler reads of what it interrupts, and not only to put them on the stack.

    `live` gives what may be read from each instruction on, if nobody read anything behind a return.
    """
    entered = sources(graph)
    # What control comes to in another way, too, only stands at the address of a vector.
    entries = [index for index in graph.handlers if index not in entered]
    if not entries:
        return frozenset()
    before = live()
    kept = stack_pointers(graph.program.cpu)
    return frozenset[str]().union(*(_Prologue(graph, entry).read(before) for entry in entries)) - kept


class _Prologue:
    """The straight run of instructions that a handler begins with, in which it saves what it is going to use."""

    def __init__(self, graph: Graph, entry: int) -> None:
        self._graph = graph
        self._entry = entry
        self._names = stack_pointers(graph.program.cpu)

    def read(self, before: Sequence[frozenset[str]]) -> frozenset[str]:
        """What is read there otherwise than to be saved, and what of it is used behind."""
        graph, index = self._graph, self._entry
        state = State(graph.program.cpu, 0)
        used: set[str] = set()
        while graph.program.instructions[index].action.flow == "next" and len(graph.edges[index]) == 1:
            reader = Reader(state)
            run(graph.program.instructions[index].action.meaning, reader)
            for touch in reader.touches:
                used |= _held([touch.address])
                if touch.way == "write" and not self._on_stack(touch.address):
                    used |= _held([touch.value])
            state = reader.state
            index = graph.edges[index][0].target
            if index == self._entry:
                break
        return frozenset(used | _held(state.get(name) for name in before[index]))

    def _on_stack(self, address: Term) -> bool:
        return bool(self._names & _held([address]))


def _held(values: Iterable[Term]) -> set[str]:
    """The registers and flags that values are made of."""
    return {given.origin.name for given in inputs(values) if isinstance(given.origin, Held)}
