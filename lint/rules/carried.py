"""States carried from access to access along every way of a program, until nothing new arrives."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, Generic, TypeVar

from ..timing import Context, Gap, Query, Site, Timings

# With more different states than this before one access, nothing is taken as known.
_MOST: Final = 64

State = TypeVar("State")


@dataclass(frozen=True, slots=True)
class Carried(Generic[State]):
    """The states possible before each access, and the ways from one access to the next."""

    before: Mapping[Site, frozenset[State]]
    following: Mapping[Site, tuple[Gap, ...]]


@dataclass(frozen=True, slots=True)
class Start(Generic[State]):
    """What is held where the program begins, and where nothing is known.

    `handlers` are the entries of interrupt handlers. They begin with what is `unknown`; with `passed_on` they find what
    any access elsewhere may have left. What a handler leaves is not carried back to where it came between. `at` is
    what is held at single entries, in place of `begin`.
    """

    begin: frozenset[State]
    unknown: frozenset[State]
    handlers: frozenset[int]
    passed_on: bool = False
    at: Mapping[int, frozenset[State]] = field(default_factory=dict)


def carry(
    timings: Timings, own: Iterable[Site], start: Start[State], step: Callable[[Site, State], Iterable[State]]
) -> Carried[State]:
    """The states before each access of `own`; `step` gives those that an access may leave."""
    wanted = frozenset(own)
    finder = timings.finder(Query(wanted.__contains__, wanted.__contains__, lambda _: False))
    following: dict[Site, list[Gap]] = {}
    for gap in finder.gaps(timings.contexts()):
        following.setdefault(gap.first, []).append(gap)
    entered: list[Site] = []
    found: dict[Site, frozenset[State]] = {}
    work: list[tuple[Site, frozenset[State]]] = []
    for root in timings.roots:
        heads = list(finder.summary(Context(root.entry)).heads)
        interrupting = root.entry in start.handlers
        if interrupting and start.passed_on:
            entered += heads
        begin = start.unknown if interrupting and not start.passed_on else start.begin
        work += [(site, start.at.get(root.entry, begin)) for site in heads]
    while work:
        site, coming = work.pop()
        known = found.get(site, frozenset())
        if coming <= known:
            continue
        known |= coming
        if len(known) > _MOST:
            known |= start.unknown
        found[site] = known
        befores = known if len(known) <= _MOST else start.unknown
        after = frozenset(state for before in befores for state in step(site, before))
        work += [(gap.then, after) for gap in following.get(site, ())]
        work += [(head, after) for head in entered]
    return Carried(found, {site: tuple(gaps) for site, gaps in following.items()})
