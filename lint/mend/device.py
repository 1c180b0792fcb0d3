"""Reads that may do something: of what no memory is known to be. With another count a loop would do them more often."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ..cpu import Action
from ..flow import LoopKey
from ..timing import Wait
from ..timing.analysis import Analysis
from ..timing.polynomial import Cost
from ..timing.result import Fact, Outcome


def read_again(analysis: Analysis, wait: Wait, replaced: Mapping[int, Action]) -> str:
    """What a wait would read another number of times with instructions replaced; an empty text where it is nothing.

    Counted are ports and addresses that neither the source nor the board makes memory of, and that the program does not
    store to by that name.
    """
    was = dict(_loops(analysis, wait))
    devices = {key: found for key, (_, found) in was.items() if found is not None}
    if not devices:
        return ""
    will = dict(_loops(analysis.replacing(replaced), wait))
    for key, address in devices.items():
        if key not in will or will[key][0] != was[key][0]:
            return analysis.graph.program.shown(address)
    return ""


# A loop's turns, and the first device that is read in one of them.
_Loop = tuple[Cost, int | None]


def _loops(analysis: Analysis, wait: Wait) -> Iterator[tuple[LoopKey, _Loop]]:
    """Every loop that the wait goes round, in what it calls too."""
    walk = analysis.fragment(wait.part)
    walk.ends()
    stretches = [(walk.loops, walk.facts)]
    for loops, facts in stretches:
        for key, count in loops.items():
            yield key, (count.trips, _device(analysis, [facts[node] for node in key.nodes if node in facts]))
        stretches += [(each.loops, each.facts) for each in _called(analysis, facts.values())]


def _called(analysis: Analysis, facts: Iterable[Fact]) -> Iterator[Outcome]:
    for callee in dict.fromkeys(fact.callee for fact in facts):
        if callee is not None:
            yield analysis.outcome(callee)


def _device(analysis: Analysis, facts: Iterable[Fact]) -> int | None:
    """The lowest address of a device that is read in these instructions, and in what they call."""
    inside = tuple(facts)
    read = (term.value for fact in inside for term in fact.reads)
    found = [address for address in read if address is not None and not analysis.is_memory(address)]
    deeper = (_device(analysis, each.facts.values()) for each in _called(analysis, inside))
    return min([*found, *(address for address in deeper if address is not None)], default=None)
