"""What each access does to a part: its operation, told by port, direction, value and what went before."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..board import Board, Operation, Pair, PairPlace, Part
from ..timing import Query, Site, Timings


@dataclass(frozen=True, slots=True)
class Use:
    """An access and the operations it may be; one where all is known.

    `certain` is false where it may be no operation at all (an enable line that may not fall).
    """

    site: Site
    part: Part
    operations: tuple[Operation, ...]
    certain: bool


def uses(timings: Timings, board: Board) -> Mapping[str, list[Use]]:
    """The uses of each part of the board, by the part's name."""
    sites = timings.sites()
    found: dict[str, list[Use]] = {}
    for part in board.parts:
        finder = _Behind(timings, board, part) if part.behind else _Mapped(timings, board, part)
        found[part.name] = list(finder.uses(sites))
    return found


def _before(timings: Timings, wanted: Callable[[Site], bool]) -> Mapping[Site, list[Site]]:
    """For each wanted access, those that can come directly before it."""
    found: dict[Site, list[Site]] = {}
    for gap in timings.gaps(Query(wanted, wanted, lambda _: False)):
        found.setdefault(gap.then, []).append(gap.first)
    return found


class _Mapped:
    """A part with its own addresses on the bus."""

    def __init__(self, timings: Timings, board: Board, part: Part) -> None:
        self.timings = timings
        self.board = board
        self.part = part
        self.ports = {
            address: port.name
            for first, last, port in part.stretches()
            for address in range(first, last + 1)
        }

    def uses(self, sites: Iterable[Site]) -> Iterator[Use]:
        own = [site for site in sites if site.access.address in self.ports]
        places = self._places(own)
        for site in own:
            operations = self._operations(site, places.get(site))
            if operations:
                yield Use(site, self.part, operations, True)

    def _operations(self, site: Site, place: PairPlace | None) -> tuple[Operation, ...]:
        access = site.access
        port = self.ports[access.address]
        values: Iterable[int | None] = access.values if access.values is not None else (None,)
        found = (
            operation
            for value in values
            for operation in self.board.operation(self.part, port, access.way, value, place)
        )
        return tuple(dict.fromkeys(found))

    def _places(self, own: list[Site]) -> Mapping[Site, PairPlace | None]:
        """Which byte of a pair each access is; None where both are possible."""
        pair = self.part.family.pair
        if pair is None:
            return {}
        before = _before(self.timings, lambda site: site.access.address in self.ports)
        places: dict[Site, set[PairPlace]] = {site: set() for site in own if self._of_pair(site, pair)}
        changed = True
        while changed:
            changed = False
            for site, known in places.items():
                earlier = before.get(site, [])
                now: set[PairPlace] = {"first"} if not earlier else set()
                for other in earlier:
                    after_first = places[other] if other in places else {"second"}
                    now |= {"second" if place == "first" else "first" for place in after_first}
                if not now <= known:
                    known |= now
                    changed = True
        return {site: next(iter(known)) if len(known) == 1 else None for site, known in places.items()}

    def _of_pair(self, site: Site, pair: Pair) -> bool:
        return self.ports[site.access.address] == pair.port and site.access.way == pair.direction


@dataclass(frozen=True, slots=True)
class _Lines:
    """What the data and control lines are known to carry."""

    data: int | None
    control: int | None


class _Behind:
    """A part on the lines of a parallel port: what it is told when its enable line falls."""

    def __init__(self, timings: Timings, board: Board, part: Part) -> None:
        assert part.behind is not None
        self.timings = timings
        self.board = board
        self.part = part
        self.behind = part.behind

    def uses(self, sites: Iterable[Site]) -> Iterator[Use]:
        wanted = {self.behind.data, self.behind.control}

        def written(site: Site) -> bool:
            return site.access.address in wanted and site.access.way == "write"

        own = [site for site in sites if written(site)]
        entering = self._entering(own, _before(self.timings, written))
        for site in own:
            if site.access.address != self.behind.control:
                continue
            lines = entering[site]
            strobe = self.board.strobe(self.part, lines.control, _single(site), lines.data)
            if strobe.operations:
                yield Use(site, self.part, strobe.operations, strobe.certain)

    def _entering(self, own: list[Site], before: Mapping[Site, list[Site]]) -> Mapping[Site, _Lines]:
        """The state of the lines before each write: what every way to it agrees on."""
        unseen: dict[Site, _Lines | None] = dict.fromkeys(own)
        changed = True
        while changed:
            changed = False
            for site in own:
                reached = [
                    self._after(other, lines)
                    for other in before.get(site, [])
                    if (lines := unseen[other]) is not None
                ]
                now = _agreed(reached) if before.get(site) else _Lines(None, None)
                if now is not None and now != unseen[site]:
                    unseen[site] = now
                    changed = True
        return {site: lines or _Lines(None, None) for site, lines in unseen.items()}

    def _after(self, site: Site, lines: _Lines) -> _Lines:
        value = _single(site)
        if site.access.address == self.behind.data:
            return _Lines(value, lines.control)
        return _Lines(lines.data, value)


def _single(site: Site) -> int | None:
    values = site.access.values
    return next(iter(values)) if values is not None and len(values) == 1 else None


def _agreed(reached: list[_Lines]) -> _Lines | None:
    if not reached:
        return None
    data = {lines.data for lines in reached}
    control = {lines.control for lines in reached}
    return _Lines(
        next(iter(data)) if len(data) == 1 else None, next(iter(control)) if len(control) == 1 else None
    )
