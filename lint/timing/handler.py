"""Handlers of interrupts: where they begin, and what the processor does before it gets there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..cpu import Cost, Cpu, Interrupt, cost, evaluate, run, term
from ..cpu.symbolic import Reader, State
from ..flow import Graph
from .mode import modes
from .waitstate import NONE, WaitStates, places, stretched


@dataclass(frozen=True, slots=True, eq=False)
class Handler:
    """An interrupt's handler and its first instruction.

    `interrupt` is None where the processor has none of that name: then neither its cycles nor its mask are known.
    `cost` is what the processor takes from accepting the interrupt to the handler's first fetch.
    """

    name: str
    entry: int
    interrupt: Interrupt | None
    cost: Cost | None

    @property
    def known(self) -> bool:
        return self.interrupt is not None

    @property
    def mask(self) -> str | None:
        """The flag that keeps the interrupt out; None if nothing does."""
        interrupt = self.interrupt
        return None if interrupt is None or interrupt.mask is None else interrupt.mask.name

    @property
    def fewest(self) -> int:
        """Fewest cycles from accepting the interrupt to the handler's first fetch."""
        return 0 if self.cost is None else self.cost.fewest

    @property
    def most(self) -> int | None:
        """Most cycles to the handler's first fetch; None where they are not known."""
        return None if self.cost is None else self.cost.most

    def enter(self, state: State) -> None:
        """Does to a state what accepting the interrupt does: the handler begins with what was stacked on top."""
        if self.interrupt is not None:
            counter = state.registers.get("PC")
            run(self.interrupt.meaning, Reader(state))
            if counter is None:
                state.registers.pop("PC", None)


def handlers(
    graph: Graph, stated: Iterable[tuple[str, int]] = (), waits: WaitStates = NONE
) -> tuple[Handler, ...]:
    """The handlers of the program: those `stated` by name and address, and what the vectors in the text hold.

    An entry that is no instruction of the program is left out, and so is a vector that holds what that of reset holds:
    it begins the program anew and never comes back to what it interrupted.
    """
    program = graph.program
    reset = program.cpu.vectors.get("reset")
    start = None if reset is None else program.pointed(reset)
    found: dict[str, int] = {}
    for name, interrupt in program.cpu.interrupts.items():
        if interrupt.vector is None:
            continue
        instruction = (program.placed if interrupt.direct else program.pointed)(interrupt.vector)
        if instruction is not None and instruction is not start:
            found[name] = instruction.index
    for name, address in stated:
        instruction = program.at(address)
        if instruction is not None:
            found[name] = instruction.index
    cpu, known = program.cpu, modes(graph)
    return tuple(
        Handler(name, entry, _interrupt(cpu, name), _entering(cpu, name, waits, known))
        for name, entry in found.items()
    )


def _interrupt(cpu: Cpu, name: str) -> Interrupt | None:
    """The interrupt of that name, else the one that the processor has for any other name."""
    return cpu.interrupts.get(name) or cpu.interrupts.get("any")


def _entering(cpu: Cpu, name: str, waits: WaitStates, known: Mapping[str, int]) -> Cost | None:
    interrupt = _interrupt(cpu, name)
    if interrupt is None:
        return None
    before = State(cpu, 0)
    before.registers.update({key: term.number(value) for key, value in known.items()})
    conditions = interrupt.conditions

    def truth(condition: str) -> bool | None:
        return (
            term.decided(evaluate(conditions[condition], Reader(before))) if condition in conditions else None
        )

    if waits.any:
        reader = Reader(before.copy())
        run(interrupt.meaning, reader)
        lies = places((), reader.touches, "interrupt", None, before, surely=False)
        interrupt = stretched(interrupt, lies, waits, truth)
    return cost(interrupt, truth)
