"""Fewest and most cycles from one access to the next, over every way through routines, calls and loops."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final
from weakref import WeakKeyDictionary

from ..flow import Graph, Item, Loop, Routine, components
from .result import Access, Context, Fact, Outcome, Poll


@dataclass(frozen=True, slots=True)
class Site:
    """An access in one context of its routine."""

    context: Context
    access: Access
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_hash", hash((self.context, self.access)))

    def __hash__(self) -> int:
        # Looked up all the time, and made once.
        return self._hash


@dataclass(frozen=True, slots=True)
class Gap:
    """Bus cycles from the cycle of `first` to that of `then`, with no other access asked for between them.

    `most` is None where nothing bounds it. `path` are the instructions of the shortest way, both ends included.
    """

    first: Site
    then: Site
    fewest: int
    most: int | None
    path: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Query:
    """Which accesses begin a gap, which end it, and which polls end the need for one."""

    first: Callable[[Site], bool]
    then: Callable[[Site], bool]
    satisfied: Callable[[Poll], bool]


@dataclass(frozen=True, slots=True)
class _Span:
    """Cycles from a source to a point, and the instructions on the shortest way."""

    fewest: int
    most: int | None
    path: tuple[int, ...]

    def on(self, fewest: int, most: int | None, path: tuple[int, ...] = ()) -> _Span:
        total = None if self.most is None or most is None else self.most + most
        return _Span(self.fewest + fewest, total, self.path + path)

    def shorter(self, other: _Span | None) -> _Span:
        """Both ways in one: the shorter one's fewest and path, the longer one's most."""
        if other is None:
            return self
        near, far = (self, other) if self.fewest <= other.fewest else (other, self)
        most = None if near.most is None or far.most is None else max(near.most, far.most)
        return _Span(near.fewest, most, near.path)


@dataclass(slots=True, eq=False)
class Summary:
    """A context as its caller sees it: first accesses from its entry, last ones to its return, and past both.

    `pairs` are those that begin and end inside it, in the order in which they were found.
    """

    heads: dict[Site, _Span] = field(default_factory=dict)
    tails: dict[Site, _Span] = field(default_factory=dict)
    through: _Span | None = None
    pairs: list[tuple[Site, Site, _Span]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class _Touching:
    """What of an outcome a query can ask for: its accesses, its polls, and where it calls.

    `plain` is its summary where a query asks for nothing in it, `summaries` are others by what they were made from. In
    an editor most outcomes are the same after an edit, and so is what most queries ask of them.
    """

    sites: tuple[Site, ...]
    polls: tuple[Poll, ...]
    callees: tuple[Context, ...]
    plain: Summary
    summaries: dict[object, Summary] = field(default_factory=dict)


_touching: Final[WeakKeyDictionary[Outcome, _Touching]] = WeakKeyDictionary()
_MOST_SUMMARIES: Final = 64  # of one outcome


def _touching_of(outcome: Outcome) -> _Touching:
    found = _touching.get(outcome)
    if found is None:
        facts, cost = outcome.facts.values(), outcome.cost
        found = _touching[outcome] = _Touching(
            tuple(Site(outcome.context, access) for fact in facts for access in fact.accesses),
            tuple(outcome.polls.values()),
            tuple(dict.fromkeys(fact.callee for fact in facts if fact.callee is not None)),
            Summary(through=None if cost is None else _Span(cost.least, cost.greatest, ())),
        )
    return found


@dataclass(frozen=True, slots=True)
class _Hop:
    target: int | None  # None: the routine's return
    fewest: int
    most: int | None


Outcomes = Callable[[Context], Outcome]
Routines = Callable[[int], Routine]


class GapFinder:
    """Answers one query over the contexts that run."""

    def __init__(self, graph: Graph, outcome: Outcomes, routine: Routines, query: Query) -> None:
        self.graph = graph
        self._outcome = outcome
        self._routine = routine
        self._query = query
        self._summaries: dict[Context, Summary] = {}
        self._matters: dict[Context, bool] = {}
        self._running: set[Context] = set()
        self._found: dict[tuple[Site, Site], _Span] = {}

    def gaps(self, contexts: Iterable[Context]) -> list[Gap]:
        """Every pair of accesses that can follow each other in these contexts, in the order of the source."""
        for context in contexts:
            self.summary(context)
        pairs = sorted(self._found.items(), key=lambda item: _order(*item[0]))
        return [Gap(first, then, span.fewest, span.most, span.path) for (first, then), span in pairs]

    def summary(self, context: Context) -> Summary:
        """The context's summary; what begins and ends inside it goes to the list of pairs."""
        found = self._summaries.get(context)
        if found is None:
            if context in self._running:
                return Summary(through=_Span(0, None, ()))
            self._running.add(context)
            matters = self._matter(context)
            found = self._inside(context) if matters else _touching_of(self._outcome(context)).plain
            self._running.discard(context)
            self._summaries[context] = found
            for first, then, span in found.pairs:
                self._found[first, then] = span.shorter(self._found.get((first, then)))
        return found

    def _inside(self, context: Context) -> Summary:
        """The ways through a routine, as they were found before if the same is asked of it and of what it calls."""
        touching = _touching_of(self._outcome(context))
        query, callees = self._query, touching.callees
        asked = (
            tuple((query.first(site), query.then(site)) for site in touching.sites),
            tuple(map(query.satisfied, touching.polls)),
            tuple((self.summary(callee), self._matter(callee)) for callee in callees),
        )
        found = touching.summaries.get(asked)
        if found is None:
            if len(touching.summaries) >= _MOST_SUMMARIES:
                touching.summaries.clear()
            found = touching.summaries[asked] = _Inside(self, context).summary()
        return found

    def _matter(self, context: Context) -> bool:
        """Whether the context, or what it calls, has an access or a poll the query asks for."""
        known = self._matters.get(context)
        if known is None:
            self._matters[context] = False
            touching, query = _touching_of(self._outcome(context)), self._query
            known = (
                any(map(query.satisfied, touching.polls))
                or any(query.first(site) or query.then(site) for site in touching.sites)
                or any(map(self._matter, touching.callees))
            )
            self._matters[context] = known
        return known

    def asked(self, context: Context, fact: Fact) -> bool:
        sites = [Site(context, access) for access in fact.accesses]
        return any(self._query.first(site) or self._query.then(site) for site in sites)


class _Inside:
    """The ways through one routine."""

    def __init__(self, finder: GapFinder, context: Context) -> None:
        self.finder = finder
        self.graph = finder.graph
        self.context = context
        self.outcome = finder._outcome(context)
        self.facts = self.outcome.facts
        self.query = finder._query
        self.hops: dict[int, list[_Hop]] = {}
        self.result = Summary()

    def summary(self) -> Summary:
        self._hops(self.finder._routine(self.context.entry).items)
        self._from_entry()
        for index, fact in self.facts.items():
            for site, access in self._sites(fact):
                if self.query.first(site):
                    self._from_access(index, fact, site, access)
            if fact.callee is not None:
                self._from_callee(index, fact)
        return self.result

    def _sites(self, fact: Fact) -> Iterator[tuple[Site, Access]]:
        for access in sorted(fact.accesses, key=lambda a: (a.first, a.last)):
            yield Site(self.context, access), access

    # -- the graph -------------------------------------------------------------------------------------------

    def _hops(self, items: tuple[Item, ...]) -> None:
        for item in items:
            if isinstance(item, Loop):
                if not self._quiet(item) or not self._fold(item):
                    self._hops(item.items)
            elif item in self.facts:
                self.hops[item] = list(self._single(item))

    def _quiet(self, loop: Loop) -> bool:
        for node in loop.nodes:
            fact = self.facts.get(node)
            if fact is None:
                continue
            if self.finder.asked(self.context, fact):
                return False
            if fact.callee is not None and self.finder._matter(fact.callee):
                return False
        return True

    def _fold(self, loop: Loop) -> bool:
        """A loop without a wanted access is one step from its head to each way out."""
        count = self.outcome.loops.get(loop.key)
        if count is None or loop.entries != {loop.head}:
            return False
        least, most = count.total.least, count.total.greatest
        self.hops[loop.head] = [
            _Hop(target, least, most)
            for node in loop.nodes
            for target in self._targets(node)
            if target is None or target not in loop.nodes
        ]
        return True

    def _targets(self, node: int) -> Iterator[int | None]:
        if node in self.facts:
            for hop in self._single(node):
                yield hop.target

    def _single(self, index: int) -> Iterator[_Hop]:
        fact = self.facts[index]
        graph = self.graph
        call = graph.calls.get(index)
        if call is not None and (call.tail or fact.callee is not None):
            yield from self._over_call(index, fact, call.tail)
            yield from self._past(index, fact)
            return
        # A routine that only returns to what it put on the stack itself has no end.
        if index in graph.returns and self.outcome.end is not None:
            yield _Hop(None, *fact.ways["next"])
        for edge in graph.edges[index]:
            poll = self.outcome.polls.get((edge.source, edge.target))
            if poll is not None and self.query.satisfied(poll):
                continue
            if call is not None:
                # How long what is called takes is not known.
                yield _Hop(edge.target, fact.ways[edge.way][0], None)
            elif edge.way in fact.ways and (edge.source, edge.target) in self.outcome.passed:
                yield _Hop(edge.target, *fact.ways[edge.way])

    def _past(self, index: int, fact: Fact) -> Iterator[_Hop]:
        """Straight on over a conditional call that is not taken."""
        for edge in self.graph.edges[index]:
            if edge.way == "passed" and (edge.source, edge.target) in self.outcome.passed:
                yield _Hop(edge.target, *fact.ways["passed"])

    def _over_call(self, index: int, fact: Fact, tail: bool) -> Iterator[_Hop]:
        if fact.callee is None:
            return
        through = self.finder.summary(fact.callee).through
        if through is None:
            return
        low, high = next(iter(fact.ways.values()))
        span = _Span(low, high, ()).on(through.fewest, through.most)
        targets = [None] if tail else [e.target for e in self.graph.edges[index] if e.way != "passed"]
        for target in targets:
            yield _Hop(target, span.fewest, span.most)

    # -- sources ---------------------------------------------------------------------------------------------

    def _from_entry(self) -> None:
        for site, span in self._spread({self.context.entry: _Span(0, 0, ())}, self._returned_through):
            self.result.heads[site] = span.shorter(self.result.heads.get(site))

    def _returned_through(self, span: _Span) -> None:
        self.result.through = span.shorter(self.result.through)

    def _from_access(self, index: int, fact: Fact, first: Site, access: Access) -> None:
        for site, later in self._sites(fact):
            if later.first > access.first and self.query.then(site):
                self._pair(first, site, _Span(later.first - access.last, later.last - access.first, (index,)))
                return
        starts: dict[int, _Span] = {}
        for hop in self.hops.get(index, ()):
            rest = _Span(
                hop.fewest - access.last, None if hop.most is None else hop.most - access.first, (index,)
            )
            if hop.target is None:
                self._returned_tail(first, rest)
            else:
                starts[hop.target] = rest.shorter(starts.get(hop.target))
        self._follow(first, starts)

    def _from_callee(self, index: int, fact: Fact) -> None:
        assert fact.callee is not None
        call = self.graph.calls[index]
        for first, span in list(self.finder.summary(fact.callee).tails.items()):
            if call.tail:
                self._returned_tail(first, span)
            else:
                self._follow(first, {edge.target: span for edge in self.graph.edges[index]})

    def _follow(self, first: Site, starts: Mapping[int, _Span]) -> None:
        for site, span in self._spread(starts, lambda span: self._returned_tail(first, span)):
            self._pair(first, site, span)

    def _pair(self, first: Site, then: Site, span: _Span) -> None:
        self.result.pairs.append((first, then, span))

    def _returned_tail(self, first: Site, span: _Span) -> None:
        self.result.tails[first] = span.shorter(self.result.tails.get(first))

    # -- paths -----------------------------------------------------------------------------------------------

    def _spread(
        self, starts: Mapping[int, _Span], returned: Callable[[_Span], None]
    ) -> Iterator[tuple[Site, _Span]]:
        """The next wanted accesses from the given points; what gets to the return is handed to `returned`."""
        near = self._shortest(starts)
        far = self._longest(starts, near)
        for node, (distance, path) in near.items():
            span = _Span(distance, far[node], path)
            fact = self.facts[node]
            ended = False
            for site, access in self._sites(fact):
                if self.query.then(site):
                    yield site, span.on(access.first, access.last, (node,))
                    ended = True
                    break
            if ended:
                continue
            yield from self._into_callee(node, fact, span)
            for hop in self.hops.get(node, ()):
                if hop.target is None:
                    returned(span.on(hop.fewest, hop.most, (node,)))

    def _into_callee(self, node: int, fact: Fact, span: _Span) -> Iterator[tuple[Site, _Span]]:
        if fact.callee is not None and node in self.hops:
            low, high = next(iter(fact.ways.values()))
            for site, head in self.finder.summary(fact.callee).heads.items():
                yield site, span.on(low, high, (node,)).on(head.fewest, head.most, head.path)

    def _ends(self, node: int) -> bool:
        return any(self.query.then(site) for site, _ in self._sites(self.facts[node]))

    def _shortest(self, starts: Mapping[int, _Span]) -> dict[int, tuple[int, tuple[int, ...]]]:
        done: dict[int, tuple[int, tuple[int, ...]]] = {}
        queue = [(span.fewest, node, span.path) for node, span in starts.items() if node in self.hops]
        heapq.heapify(queue)
        while queue:
            distance, node, path = heapq.heappop(queue)
            if node in done:
                continue
            done[node] = (distance, path)
            if self._ends(node):
                continue
            for hop in self.hops[node]:
                if hop.target is not None and hop.target not in done and hop.target in self.hops:
                    heapq.heappush(queue, (distance + hop.fewest, hop.target, (*path, node)))
        return done

    def _longest(self, starts: Mapping[int, _Span], near: Mapping[int, object]) -> dict[int, int | None]:
        """The longest way to each point; None where it goes round a loop that nothing counts."""

        def following(node: int) -> list[int]:
            if self._ends(node):
                return []
            return [hop.target for hop in self.hops[node] if hop.target is not None and hop.target in near]

        far: dict[int, int | None] = {}
        reached = {node: span.most for node, span in starts.items()}
        for component in reversed(components(sorted(near), following)):
            (node, *others) = component
            if others or node in following(node):
                far.update(dict.fromkeys(component))
                for inner in component:
                    for target in following(inner):
                        reached[target] = None
                continue
            far[node] = reached.get(node)
            for hop in self.hops[node] if not self._ends(node) else []:
                if hop.target is not None and hop.target in near:
                    here = far[node]
                    total = None if here is None or hop.most is None else here + hop.most
                    before = reached.get(hop.target, 0)
                    reached[hop.target] = None if total is None or before is None else max(before, total)
        return far


def _order(first: Site, then: Site) -> tuple[int, int, int, int]:
    return (first.access.instruction, then.access.instruction, first.access.first, then.access.first)
