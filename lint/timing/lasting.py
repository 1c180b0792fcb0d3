"""Registers that the main program loads once and keeps: what an interrupt handler finds in them."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

from ..cpu import effects
from ..cpu.notation import COUNTER
from ..flow import Graph, stack_pointers
from .handler import Handler
from .memory import run_by
from .mode import Lead

# How entries of a main program are known.
_STARTS: Final = ("reset", "start", "stated")


def lasting(graph: Graph, handlers: Iterable[Handler]) -> Mapping[str, int]:
    """The registers that hold one constant at every point where any of the handlers can come, with that constant.

    Every write to such a register gives that constant, one of them stands before the program first lets the
    interrupts in, and nothing that the text does not show can have written it. A handler's own writes count too,
    unless the processor keeps the register for what was interrupted.
    """
    handlers = tuple(handlers)
    masks, entered = {handler.mask for handler in handlers}, {handler.entry for handler in handlers}
    starts = [e.index for e in graph.entries if e.kind in _STARTS and e.index not in entered]
    if not handlers or None in masks or not starts or _unseen(graph):
        return {}
    cpu, lead = graph.program.cpu, Lead(graph)
    early = [frozenset(_before_interrupts(lead, start, masks)) for start in starts]
    first = frozenset.intersection(*early) & cpu.registers.keys()
    wanted = first - stack_pointers(cpu) - cpu.mode_registers - {COUNTER}
    own = _only_handlers(graph, handlers)
    kept = frozenset.intersection(*(_stacked(handler) for handler in handlers))
    given: dict[str, set[int | None]] = {name: set() for name in wanted}
    for instruction in graph.program.instructions:
        for name in instruction.action.used.writes & wanted:
            if not (instruction.index in own and name in kept):
                given[name] |= lead.put(instruction.index, name, {})
    return {
        name: value
        for name, values in given.items()
        if len(values) == 1 and (value := next(iter(values))) is not None
    }


def _unseen(graph: Graph) -> bool:
    """Whether code that the text does not show may run."""
    return bool(graph.lost or graph.blurred or any(call.target is None for call in graph.calls.values()))


def _only_handlers(graph: Graph, handlers: Iterable[Handler]) -> frozenset[int]:
    """The instructions that nothing but the handlers runs, and jumps to them from where a processor enters."""
    entered = {handler.entry for handler in handlers}
    others = [e.index for e in graph.entries if e.kind != "called" and e.index not in entered]
    main = (index for index in others if {edge.target for edge in graph.edges[index]} - entered)
    return run_by(graph, entered) - run_by(graph, main)


def _before_interrupts(lead: Lead, start: int, masks: Collection[str | None]) -> Iterator[str]:
    """The registers surely written on the way from a start on which nothing branches, calls or clears a mask."""
    graph = lead.graph
    index, seen = start, set[int]()
    while index not in seen and index not in graph.calls:
        seen.add(index)
        used = graph.program.instructions[index].action.used
        if any(lead.put(index, name, {}) != {1} for name in used.writes if name in masks):
            return
        yield from used.surely
        edges = graph.edges[index]
        if len(edges) != 1:
            return
        index = edges[0].target


def _stacked(handler: Handler) -> frozenset[str]:
    """The registers that the processor puts away when it accepts the interrupt."""
    return effects(handler.interrupt.meaning).reads if handler.interrupt else frozenset()
