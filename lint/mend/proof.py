"""Shows that a wait with another count does the same: symbolic readings of old and new, compared where live."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..cpu import Action, term
from ..cpu.symbolic import State
from ..cpu.term import Term
from ..flow import stack_pointers
from ..timing import Wait
from ..timing.analysis import Analysis
from ..timing.rounds import Out


def difference(analysis: Analysis, wait: Wait, replaced: Mapping[int, Action]) -> str:
    """What is different behind the wait once instructions are replaced; empty where old and new agree.

    Both are read from a state of which nothing is known, so agreement holds for all states. Compared are the ways
    out, every register and flag somebody reads behind the wait, and memory but for the stack below its pointer.
    """
    old, new = analysis.fragment(wait.part), analysis.replacing(replaced).fragment(wait.part)
    before, after = _by_way(old.ends()), _by_way(new.ends())
    if before.keys() != after.keys():
        return "control leaves it by another way"
    for way, out in before.items():
        different = next(_different(out.arrival.state, after[way].arrival.state, wait.live), "")
        if different:
            return f"{different} holds something else behind it"
    return ""


def _by_way(outs: list[Out]) -> dict[tuple[int, int | None], Out]:
    return {(out.source, out.target): out for out in outs}


def _different(old: State, new: State, live: frozenset[str]) -> Iterator[str]:
    for name in sorted(live):
        if old.get(name) != new.get(name):
            yield name
    for address in old.memory.keys() | new.memory.keys():
        if old.byte(address) != new.byte(address) and not _dead_stack(address, old):
            yield "memory"


def _dead_stack(address: Term, state: State) -> bool:
    """Below a stack pointer: what an interrupt may overwrite at any time."""
    bits = state.cpu.address_bits
    for name in stack_pointers(state.cpu):
        distance = term.modulo(term.add(address, state.get(name), -1), bits).value
        if distance is not None and distance > 1 << (bits - 1):
            return True
    return False
