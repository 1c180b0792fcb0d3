"""Where the registers on the processor's own chip lie in a program's address space."""

from collections.abc import Iterable, Mapping

from ..address import port
from ..cpu import Cpu, OnChip, evaluate, term
from ..cpu.symbolic import Reader, State


def on_chip(cpu: Cpu, moved: Mapping[str, int], memory: Iterable[range] = ()) -> frozenset[int]:
    """Their addresses, where reset puts them and with what the program puts into registers that move them.

    Without those where the board has `memory`. What moves them by a store to an address is not followed.
    """
    found = {
        address
        for held in (cpu.initial, moved)
        for registers in cpu.on_chip
        for address in _addresses(cpu, registers, held)
    }
    return frozenset(found.difference(*memory))


def _addresses(cpu: Cpu, registers: OnChip, held: Mapping[str, int]) -> Iterable[int]:
    state = State(cpu, 0)
    state.registers.update({name: term.number(value) for name, value in held.items()})
    first = evaluate(registers.first, Reader(state)).value
    if first is None:
        return ()
    start = port(first) if registers.port else first
    return range(start, start + registers.size)
