"""Runs a wait before and after a change from named start states, where reading it does not tell whether they agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from random import Random
from typing import Final

from ..cpu import Action, Machine, Stop
from ..flow import stack_pointers
from ..timing import Wait
from ..timing.analysis import Analysis
from .reach import reach

# All zeros, all ones and the two patterns between, where carries and signs change; then states drawn at random.
_BOUNDARY: Final = (0x00, 0xFF, 0x55, 0xAA)
_SEEDS: Final = range(1, 5)
STATES: Final = "from $00, $FF, $55 and $AA in every register, and from 4 states drawn at random"
_MOST_INSTRUCTIONS: Final = 50_000
_STACK: Final = 0x100


def agree(analysis: Analysis, wait: Wait, replaced: Mapping[int, Action]) -> bool:
    """Whether old and new leave the same behind from every one of STATES: way out, live registers, memory.

    False as well where a run is too long to be carried out. The stack is not compared, nor is the code itself.
    """
    trial = _Trial(analysis, wait)
    for registers in trial.states():
        old, new = trial.left(registers, {}), trial.left(registers, replaced)
        if old is None or old != new:
            return False
    return True


class _Trial:
    def __init__(self, analysis: Analysis, wait: Wait) -> None:
        self.program = analysis.graph.program
        self.modes = analysis.modes
        self.wait = wait
        instructions = self.program.instructions
        self.inside = frozenset(instructions[node].address for node in reach(analysis.graph, wait))
        code = self.program.code.keys() | self.program.data.keys()
        pages = (
            top for top in range(0x200, 0xFF00, 0x100) if not code & set(range(top - _STACK, top + _STACK))
        )
        self.top = next(pages)
        # A return from the wait finds this address on the stack; it leads out.
        self.fill = next(byte for byte in range(256) if byte * 0x101 not in self.inside)

    def states(self) -> Iterator[dict[str, int]]:
        cpu = self.program.cpu
        widths = {name: cpu.register(name).width for name in (*cpu.registers, *cpu.flags)}
        own = {**self.modes, **dict.fromkeys(stack_pointers(cpu), self.top)}
        for pattern in _BOUNDARY:
            yield {name: pattern * 0x101 % (1 << width) for name, width in widths.items()} | own
        for seed in _SEEDS:
            random = Random(seed)
            yield {name: random.randrange(1 << width) for name, width in widths.items()} | own

    def left(self, registers: Mapping[str, int], replaced: Mapping[int, Action]) -> tuple[object, ...] | None:
        """What stands behind the wait; None where it does not come to an end in time."""
        memory = bytearray([self.fill]) * 0x10000
        for address, byte in (*self.program.data.items(), *self.program.code.items()):
            memory[address] = byte
        for action in replaced.values():
            memory[action.address : action.after] = action.code
        start = self.program.instructions[self.wait.part.entry].address
        machine = Machine(self.program.cpu, memory, {**registers, "PC": start})
        if machine.run(lambda m: m.counter not in self.inside, _MOST_INSTRUCTIONS) is not Stop.REACHED:
            return None
        live = [(name, machine[name]) for name in sorted(self.wait.live)]
        for address in self.program.code:
            memory[address] = 0
        memory[self.top - _STACK : self.top + _STACK] = bytes(2 * _STACK)
        return machine.counter, live, memory
