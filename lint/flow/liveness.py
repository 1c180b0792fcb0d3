"""Which registers and flags somebody may still read behind each instruction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from ..cpu.notation import COUNTER
from .graph import Call, Graph
from .interrupted import read_by_handlers
from .level import astray
from .named import named


@dataclass(frozen=True, slots=True)
class Liveness:
    """`before` and `after` each instruction, by index: registers and flags that may be read before they are written.

    Behind a return it is what any caller may still read. Everything is live where control goes on unknown or over a
    line that was not understood, and behind the return of what others than the calls in the text can call: the
    program's start, and what the text names otherwise than to go there, as in a table of jumps. A routine that nothing
    in the text calls is called from outside it, one that is called there is taken to be called nowhere else. What
    handlers of interrupts read of what they interrupt is live everywhere; what handlers outside the text use, they are
    taken to put back.
    """

    before: tuple[frozenset[str], ...]
    after: tuple[frozenset[str], ...]


def names_of(graph: Graph) -> frozenset[str]:
    """Every stored register and flag, but for the program counter."""
    cpu = graph.program.cpu
    return (frozenset(cpu.registers) | frozenset(cpu.flags)) - {COUNTER}


@lru_cache(maxsize=2)  # a graph is asked for by several who judge it one after the other
def liveness(graph: Graph) -> Liveness:
    """Solved over the whole program, calls followed into the routine and back."""
    found = _Solver(graph).solve()
    asked = read_by_handlers(graph, lambda: _Solver(graph, everything=False).solve().before)
    if not asked:
        return found
    return Liveness(tuple(each | asked for each in found.before), tuple(each | asked for each in found.after))


class _Solver:
    def __init__(self, graph: Graph, everything: bool = True) -> None:
        self.graph = graph
        self.astray = astray(graph)
        self.unknown = graph.lost.keys() | graph.blurred.keys()
        self.names = sorted(names_of(graph))
        self.bit = {name: 1 << i for i, name in enumerate(self.names)}
        self.everything = (1 << len(self.names)) - 1 if everything else 0
        actions = [instruction.action for instruction in graph.program.instructions]
        found = [action.used for action in actions]
        mask = cache(self._mask)
        self.reads = [mask(each.reads) for each in found]
        self.kills = [mask(each.surely) for each in found]
        self.before = [0] * len(actions)
        self.after = [0] * len(actions)

    def _mask(self, names: frozenset[str]) -> int:
        return sum(self.bit[name] for name in names if name in self.bit)

    def solve(self) -> Liveness:
        follow = self._followers()
        # From the end on, since what is live flows backwards.
        waiting = list(range(len(self.before)))
        queued = [True] * len(waiting)
        sources: dict[int, set[int]] = {}
        for index, (targets, _) in follow.items():
            for target in targets:
                sources.setdefault(target, set()).add(index)
        while waiting:
            index = waiting.pop()
            queued[index] = False
            targets, rest = follow[index]
            after = rest
            for target in targets:
                after |= self.before[target]
            before = self.reads[index] | (after & ~self.kills[index])
            self.after[index] = after
            if before != self.before[index]:
                self.before[index] = before
                for source in sources.get(index, ()):
                    if not queued[source]:
                        queued[source] = True
                        waiting.append(source)
        named = cache(self._set)
        return Liveness(tuple(map(named, self.before)), tuple(map(named, self.after)))

    def _followers(self) -> Mapping[int, tuple[list[int], int]]:
        """For each instruction, those that can run next (into and out of calls), and what is live beside them."""
        graph = self.graph
        callers = self._return_points()
        found: dict[int, tuple[list[int], int]] = {}
        for index in range(len(self.before)):
            call = graph.calls.get(index)
            targets = [edge.target for edge in graph.edges[index]]
            rest = self.everything if index in self.unknown else 0
            if call is not None and call.target is not None:
                # What a routine writes is not followed here: its own reads and what its return leaves live are.
                targets = [call.target, *(e.target for e in graph.edges[index] if e.way == "passed")]
            elif call is not None:
                rest = self.everything
            elif index in graph.returns:
                points = callers(index)
                known = points is not None and index not in self.astray
                beside, rest = (points or [], rest) if known else ([], self.everything)
                targets = [*beside, *targets]
            found[index] = (targets, rest)
        return found

    def _return_points(self) -> Callable[[int], list[int] | None]:
        """For a return instruction, the instructions behind the calls it can belong to; None for any."""
        graph = self.graph
        behind: dict[int, list[int]] = {}
        tails: dict[int, list[int]] = {}
        for call in graph.calls.values():
            if call.target is not None:
                if call.tail:
                    tails.setdefault(call.target, []).append(call.source)
                else:
                    points = [edge.target for edge in graph.edges[call.source]]
                    behind.setdefault(call.target, []).extend(points)
        belongs: dict[int, set[int]] = {}
        for entry in graph.entries:
            for node in graph.reachable(entry.index):
                belongs.setdefault(node, set()).add(entry.index)
        # A routine returns to what is not known where its call is lost, or a jump to it leaves more on the stack.
        open_entries = {call.target for call in graph.calls.values() if self._unknown_behind(call)}
        open_entries |= {entry.index for entry in graph.entries if entry.kind != "called"}
        for node in named(graph):
            for reached in graph.reachable(node):
                belongs.setdefault(reached, set()).add(node)
            open_entries.add(node)

        @cache
        def points_of(entry: int) -> tuple[frozenset[int], bool]:
            seen, work = set[int](), [entry]
            points: set[int] = set()
            anyone = False
            while work:
                at = work.pop()
                if at in seen:
                    continue
                seen.add(at)
                points.update(behind.get(at, ()))
                anyone |= at in open_entries
                for source in tails.get(at, ()):
                    work.extend(belongs.get(source, ()))
            return frozenset(points), anyone

        def callers(index: int) -> list[int] | None:
            points: set[int] = set()
            for entry in belongs.get(index, ()):
                found, anyone = points_of(entry)
                if anyone:
                    return None
                points |= found
            return sorted(points)

        return callers

    def _unknown_behind(self, call: Call) -> bool:
        return call.source in (self.astray if call.tail else self.unknown)

    def _set(self, mask: int) -> frozenset[str]:
        return frozenset(name for name, bit in self.bit.items() if mask & bit)


class FirstReads:
    """Which registers and flags a part of a program reads before it writes them; each routine is read once."""

    def __init__(self, graph: Graph) -> None:
        self._graph = graph
        self._effects = [i.action.used for i in graph.program.instructions]
        self._routines: dict[int, frozenset[str]] = {}

    def exposed(self, entry: int, nodes: frozenset[int]) -> frozenset[str]:
        """What may be read in `nodes`, entered at `entry`, before it is written there.

        A routine called on the way counts with all it may read first.
        """
        before: dict[int, frozenset[str]] = dict.fromkeys(nodes, frozenset())
        own = {node: self._own(node) for node in nodes}
        order = sorted(nodes, reverse=True)
        changed = True
        while changed:
            changed = False
            for node in order:
                targets = (before[e.target] for e in self._graph.edges[node] if e.target in before)
                after = frozenset[str]().union(*targets)
                now = own[node] | (after - self._effects[node].surely)
                if now != before[node]:
                    before[node] = now
                    changed = True
        return before[entry]

    def untouched(self, nodes: frozenset[int]) -> frozenset[str]:
        """What nothing in `nodes` writes; nothing is sure where a routine is called from there."""
        if any(node in self._graph.calls for node in nodes):
            return frozenset()
        written = frozenset[str]().union(*(self._effects[node].writes for node in nodes))
        return names_of(self._graph) - written

    def _own(self, node: int) -> frozenset[str]:
        call = self._graph.calls.get(node)
        reads = self._effects[node].reads
        if call is None or call.target is None:
            return reads
        if call.target not in self._routines:
            # A routine that calls itself reads nothing new by that.
            self._routines[call.target] = frozenset()
            nodes = self._graph.reachable(call.target)
            self._routines[call.target] = self.exposed(call.target, nodes)
        return reads | self._routines[call.target]
