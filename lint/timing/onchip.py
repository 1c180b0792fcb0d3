"""Where the registers on the processor's own chip lie in a program's address space."""

from collections.abc import Iterable, Iterator, Mapping

from ..address import port
from ..cpu import Cpu, OnChip, evaluate, term
from ..cpu.symbolic import Reader, State
from ..flow import Graph
from .mode import Lead


def on_chip(graph: Graph, moved: Mapping[str, int], memory: Iterable[range] = ()) -> frozenset[int]:
    """Their addresses, where reset puts them and where the program does.

    `moved` is what it puts into registers that move them. A store that moves them is followed where it is one of a
    constant. Without those where the board has `memory`.
    """
    cpu = graph.program.cpu
    found = {
        address
        for registers in cpu.on_chip
        for first in {*_first(cpu, registers, cpu.initial, moved), *_stored(graph, registers)}
        for address in range(first, first + registers.size)
    }
    return frozenset(found.difference(*memory))


def _first(cpu: Cpu, registers: OnChip, *helds: Mapping[str, int]) -> Iterator[int]:
    for held in helds:
        state = State(cpu, 0)
        state.registers.update({name: term.number(value) for name, value in held.items()})
        first = evaluate(registers.first, Reader(state)).value
        if first is not None:
            yield port(first) if registers.port else first


def _stored(graph: Graph, registers: OnChip) -> Iterator[int]:
    """Where the program's stores put them."""
    moved = registers.moved
    if moved is None:
        return
    lead = Lead(graph)
    for instruction in graph.program.instructions:
        # The address or its distance from where they begin stands in the operand.
        numbers = (value for value in instruction.action.fields.values() if isinstance(value, int))
        if any((number - moved.by) % 256 == 0 for number in numbers):
            for touch in lead.stored(instruction.index):
                value = touch.value.value
                if (touch.way, touch.address.value) == ("write", moved.by) and value is not None:
                    yield value % moved.places * moved.apart
