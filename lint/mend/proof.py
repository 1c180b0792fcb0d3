"""Shows that a wait with another count does the same: symbolic readings of old and new, compared where live."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from ..cpu import Action
from ..cpu.symbolic import State
from ..cpu.term import Term
from ..flow import Graph, Liveness, Routine, is_free, liveness, stack_pointers
from ..timing import Wait
from ..timing.analysis import Analysis
from ..timing.ways import Out

Way = tuple[
    int, int | None
]  # out of a wait: its last instruction, and what follows; None for whoever called it


@dataclass(frozen=True, slots=True)
class Comparison:
    """What is `different` behind the wait, by name; `decided` where the readings show that it surely is.

    `no_result` are flags that hold one constant after every old run and the other after every new one, and that
    nothing in the text reads: they tell a caller outside the text nothing.
    """

    different: str
    decided: bool
    no_result: frozenset[str]


def within(graph: Graph) -> Liveness:
    """What the text itself may still read, as if nobody outside it called its routines."""
    return liveness(replace(graph, entries=tuple(replace(e, kind="called") for e in graph.entries)))


def compared(analysis: Analysis, wait: Wait, replaced: Mapping[int, Action], text: Liveness) -> Comparison:
    """Old and new of the wait, once instructions are replaced.

    Both are read from a state of which nothing is known, so agreement holds for all states. Compared are the ways
    out, every register and flag somebody reads behind the wait, and memory but for the stack below its pointer.
    """
    old, new = analysis.fragment(wait.part), analysis.replacing(replaced).fragment(wait.part)
    return _compared(wait, old.ends(), new.ends(), text, lambda way: way)


def compared_with(
    analysis: Analysis,
    wait: Wait,
    edited: Analysis,
    part: Routine,
    text: Liveness,
    there: Callable[[Way], Way],
) -> Comparison:
    """The same where the wait is a `part` of an edited program; `there` gives each way out of it in that."""
    return _compared(wait, analysis.fragment(wait.part).ends(), edited.fragment(part).ends(), text, there)


def _compared(
    wait: Wait, old: Iterable[Out], new: Iterable[Out], text: Liveness, there: Callable[[Way], Way]
) -> Comparison:
    before, after = _by_way(old), _by_way(new)
    if {there(way) for way in before} != after.keys():
        return Comparison("the way control leaves it", True, frozenset())
    no_result: set[str] = set()
    for way, out in before.items():
        source, target = way
        state = out.arrival.state
        read = text.after[source] if target is None else text.before[target]
        for name, decided in _different(state, after[there(way)].arrival.state, wait.live):
            if not decided or name not in state.cpu.flags or name in read:
                return Comparison(name, decided, frozenset())
            no_result.add(name)
    return Comparison("", False, frozenset(no_result))


def _by_way(outs: Iterable[Out]) -> dict[Way, Out]:
    return {(out.source, out.target): out for out in outs}


def _different(old: State, new: State, live: frozenset[str]) -> Iterator[tuple[str, bool]]:
    """Names with another value, and whether old and new are two constants."""
    for name in sorted(live):
        was, will = old.get(name), new.get(name)
        if was != will:
            yield name, was.value is not None and will.value is not None
    for address in old.memory.keys() | new.memory.keys():
        was, will = old.byte(address), new.byte(address)
        if was != will and not _dead_stack(address, old):
            yield "memory", was.value is not None and will.value is not None


def _dead_stack(address: Term, state: State) -> bool:
    """Below a stack pointer: what an interrupt may overwrite at any time."""
    return any(is_free(address, state.get(name), name, state.cpu) for name in stack_pointers(state.cpu))
