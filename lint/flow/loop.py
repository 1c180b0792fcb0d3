"""The loops of a routine, outermost first, each with its body in an order in which control can only go forward."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from .graph import Graph


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """Instructions that can come round again to `head`.

    `items` is the body without the back edges to `head`: single instructions and inner loops, each before
    whatever control reaches after it. `entries` are the instructions control can come in by; where that is
    more than the head, the others are parts of a first turn. Two loops can share a head, one inside the other.
    """

    head: int
    entries: frozenset[int]
    nodes: frozenset[int]
    items: tuple[Item, ...]

    @property
    def key(self) -> LoopKey:
        """Tells loops of one routine apart, and is the same in every routine that shares the loop."""
        return LoopKey(self.head, self.nodes)

    def inner(self) -> Iterator[Loop]:
        """Every loop inside it, an outer one before those inside that."""
        yield from _loops(self.items)


Item = int | Loop


@dataclass(frozen=True, slots=True)
class LoopKey:
    """A loop by what it goes round over."""

    head: int
    nodes: frozenset[int]


@dataclass(frozen=True, slots=True, eq=False)
class Routine:
    """A routine's instructions from its entry, in forward order, its loops folded into items."""

    entry: int
    nodes: frozenset[int]
    items: tuple[Item, ...]

    def loops(self) -> Iterator[Loop]:
        """Every loop, an outer one before those inside it."""
        yield from _loops(self.items)


def _loops(items: Iterable[Item]) -> Iterator[Loop]:
    for item in items:
        if isinstance(item, Loop):
            yield item
            yield from _loops(item.items)


def routine(graph: Graph, entry: int) -> Routine:
    """The routine that starts at that instruction."""
    nodes = graph.reachable(entry)
    return Routine(entry, nodes, _order(graph, nodes, frozenset({entry}), None))


@lru_cache(maxsize=4)
def sources(graph: Graph) -> Mapping[int, tuple[int, ...]]:
    """For each instruction that an edge leads to, those it comes from."""
    found: dict[int, list[int]] = {}
    for edges in graph.edges:
        for edge in edges:
            found.setdefault(edge.target, []).append(edge.source)
    return {target: tuple(each) for target, each in found.items()}


def fragment(graph: Graph, entry: int, nodes: frozenset[int]) -> Routine:
    """A part of a routine as a routine of its own: control leaves it at whatever lies outside `nodes`."""
    return Routine(entry, nodes, _order(graph, nodes, frozenset({entry}), None))


def _order(graph: Graph, nodes: frozenset[int], entries: frozenset[int], cut: int | None) -> tuple[Item, ...]:
    def following(node: int) -> list[int]:
        return [e.target for e in graph.edges[node] if e.target in nodes and e.target != cut]

    items: list[Item] = []
    for component in reversed(components(sorted(nodes), following)):
        (first, *others) = component
        if not others and first not in following(first):
            items.append(first)
        else:
            items.append(_loop(graph, frozenset(component), entries, nodes, cut))
    return tuple(items)


def _loop(
    graph: Graph, inside: frozenset[int], entries: frozenset[int], around: frozenset[int], cut: int | None
) -> Loop:
    before = sources(graph)
    ways_in = {
        node
        for node in inside
        if node != cut and any(source in around and source not in inside for source in before.get(node, ()))
    } | (entries & inside)
    head = _head(graph, inside, ways_in or {min(inside)})
    return _nested(graph, head, frozenset(ways_in | {head}), inside)


def _nested(graph: Graph, head: int, entries: frozenset[int], inside: frozenset[int]) -> Loop:
    """The loop over `inside`; where a part of it comes back to the same head by itself, that is a loop inside it."""
    part = _inner_part(graph, head, inside)
    if not part:
        return Loop(head, entries, inside, _order(graph, inside, frozenset({head}), head))
    inner = _nested(graph, head, entries & part | {head}, part)
    rest = inside - part
    beyond = frozenset(e.target for node in part for e in graph.edges[node] if e.target in rest)
    return Loop(head, entries, inside, (inner, *_order(graph, rest, beyond, head)))


def _inner_part(graph: Graph, head: int, inside: frozenset[int]) -> frozenset[int]:
    """The greatest part of a loop that comes back to the head by itself and only then lets control go further round.

    DECB / BNE L / DECA / BNE L, both back to L: the first two. Empty where there is no such part.
    """
    tails = [node for node in inside if any(edge.target == head for edge in graph.edges[node])]
    if len(tails) < 2:
        return frozenset()
    before: dict[int, list[int]] = {}
    for node in inside:
        for edge in graph.edges[node]:
            if edge.target in inside and edge.target != head:
                before.setdefault(edge.target, []).append(node)
    bodies = {tail: _reaching(before, tail) | {head} for tail in tails}
    parts = [
        body
        for tail, body in bodies.items()
        if body < inside
        and all(other in body or tail in bodies[other] for other in tails)
        and all(edge.target in inside for node in body for edge in graph.edges[node])
    ]
    return max(parts, key=len, default=frozenset())


def _reaching(before: Mapping[int, Iterable[int]], tail: int) -> frozenset[int]:
    found = {tail}
    work = [tail]
    while work:
        for node in before.get(work.pop(), ()):
            if node not in found:
                found.add(node)
                work.append(node)
    return frozenset(found)


def _head(graph: Graph, inside: frozenset[int], ways_in: set[int]) -> int:
    """The way in that most edges inside come back to; of equals the one furthest up in the source."""
    back = dict.fromkeys(ways_in, 0)
    for node in inside:
        for edge in graph.edges[node]:
            if edge.target in back and node >= edge.target:
                back[edge.target] += 1
    return max(sorted(back), key=lambda node: back[node])


def components(nodes: Sequence[int], following: Callable[[int], Iterable[int]]) -> list[list[int]]:
    """Strongly connected components, each after those it leads to (Tarjan, without recursion)."""
    index: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    on_stack: set[int] = set()
    found: list[list[int]] = []
    for root in nodes:
        if root in index:
            continue
        index[root] = low[root] = len(index)
        stack.append(root)
        on_stack.add(root)
        work = [(root, iter(following(root)))]
        while work:
            node, rest = work[-1]
            for target in rest:
                if target not in index:
                    index[target] = low[target] = len(index)
                    stack.append(target)
                    on_stack.add(target)
                    work.append((target, iter(following(target))))
                    break
                if target in on_stack:
                    low[node] = min(low[node], index[target])
            else:
                work.pop()
                if work:
                    parent = work[-1][0]
                    low[parent] = min(low[parent], low[node])
                if low[node] == index[node]:
                    component = [stack.pop()]
                    while component[-1] != node:
                        component.append(stack.pop())
                    component.reverse()
                    on_stack.difference_update(component)
                    found.append(component)
    return found
