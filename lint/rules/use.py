"""What each access does to a part: its operation, told by port, direction, value and what went before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, Protocol

from ..board import Behind, Board, Operation, Pair, PairPlace, Part, Strobe
from ..timing import Access, Handler, Site, Timings
from .carried import Start, carry
from .part_mode import Modes, modes


@dataclass(frozen=True, slots=True)
class Use:
    """An access and the operations it may be; one where all is known.

    `certain` is false where it may be no operation at all (an enable line that may not fall). `open` says in words
    what is not known, empty where all is. `modes` are those the part may be in behind it.
    """

    site: Site
    part: Part
    operations: tuple[Operation, ...]
    certain: bool
    open: str
    modes: Modes


@lru_cache(maxsize=2)  # several rules ask for them
def uses(timings: Timings, board: Board, handlers: tuple[Handler, ...] = ()) -> Mapping[str, tuple[Use, ...]]:
    """The uses of each part of the board, by the part's name, in the order of the source.

    A program is taken to begin with the first byte of a pair and with an enable line that is low; what an interrupt
    handler finds is not known.
    """
    sites = timings.sites()
    entries = frozenset(handler.entry for handler in handlers)
    found: dict[str, tuple[Use, ...]] = {}
    for part in board.parts:
        reading = _reading(board, part)
        own = [site for site in sites if reading.wants(site.access)]
        found[part.name] = tuple(_uses(timings, board, part, reading, own, entries))
    return found


# Where an access stands among the two of a byte. "whole": after a whole byte of a part that still has to be told
# about halves, or after a byte of unknown value that may stand alone, the next may be either of the two.
_Phase = Literal["first", "second", "whole"]


@dataclass(frozen=True, slots=True)
class _History:
    """What went before: contents of the port's lines, which access of a byte comes next, and its first half."""

    control: int | None = None
    data: int | None = None
    phase: _Phase = "first"
    half: int | None = None
    held: tuple[tuple[int, int | None], ...] = ()  # what the ports of a part's lines hold, by address


@dataclass(frozen=True, slots=True)
class _Told:
    """What one access means after one history, and the history it leaves."""

    operations: tuple[Operation, ...]
    certain: bool
    after: _History


class _Reading(Protocol):
    """How the accesses of one part are read."""

    def wants(self, access: Access) -> bool: ...

    def tell(self, access: Access, value: int | None, before: _History) -> _Told: ...


def _reading(board: Board, part: Part) -> _Reading:
    if part.behind is not None:
        return _BehindPort(board, part, part.behind)
    if part.wires:
        return _OnLines(board, part)
    return _Mapped(board, part)


@dataclass(frozen=True, slots=True)
class _Mapped:
    """A part with addresses of its own on the bus."""

    board: Board
    part: Part

    def wants(self, access: Access) -> bool:
        found = self.board.part_at(access.address)
        return found is not None and found[0] is self.part

    def tell(self, access: Access, value: int | None, before: _History) -> _Told:
        found = self.board.part_at(access.address)
        assert found is not None
        port = found[1].name
        if self.part.mode.halves:
            return self._half(port, access, value, before)
        pair = self.part.family.pair
        if pair is None:
            return _Told(self.board.operation(self.part, port, access.way, value), True, before)
        paired = (port, access.way) == (pair.port, pair.direction)
        place = _place(before) if paired else None
        operations = self.board.operation(self.part, port, access.way, value, place)
        if paired:
            return _Told(operations, True, replace(before, phase=_beyond_pair(pair, before.phase, value)))
        restarts = any(operation.name in pair.restarts for operation in operations)
        return _Told(operations, True, replace(before, phase="first") if restarts else before)

    def _half(self, port: str, access: Access, value: int | None, before: _History) -> _Told:
        def ask(byte: int | None, place: PairPlace) -> tuple[Operation, ...]:
            return self.board.operation(self.part, port, access.way, byte, place)

        first = ask(value, "first")
        byte = None if value is None or before.half is None else before.half & 0xF0 | value >> 4
        match before.phase:
            case "first":
                operations = first
            case "second":
                operations = ask(byte, "second")
            case "whole":
                # Either the second half of a byte, or another whole one.
                operations = _each_once((*ask(value, "second"), *ask(byte, "second")))
        whole = any(operation.whole for operation in first)
        return _Told(operations, True, _beyond_half(before, whole, value))


@dataclass(frozen=True, slots=True)
class _BehindPort:
    """A part on the lines of a parallel port: it is told something when its enable line falls."""

    board: Board
    part: Part
    behind: Behind

    def wants(self, access: Access) -> bool:
        return access.way == "write" and access.address in (self.behind.data, self.behind.control)

    def tell(self, access: Access, value: int | None, before: _History) -> _Told:
        if access.address != self.behind.control:
            return _Told((), True, replace(before, data=value))
        shared = self.behind.data == self.behind.control
        data = before.control if shared else before.data
        strobe = self._strobe(before, value, data)
        after = replace(before, control=value, data=value if shared else before.data)
        if self.part.mode.halves and strobe.operations:
            first = self.board.strobe(self.part, before.control, value, data, "first").operations
            after = _beyond_half(after, any(operation.whole for operation in first), data)
        return _Told(strobe.operations, strobe.certain, after)

    def _strobe(self, before: _History, value: int | None, data: int | None) -> Strobe:
        def ask(place: PairPlace | None, half: int | None = None) -> Strobe:
            return self.board.strobe(self.part, before.control, value, data, place, half)

        if not self.part.mode.halves:
            return ask(None)
        match before.phase:
            case "first":
                return ask("first")
            case "second":
                return ask("second", before.half)
            case "whole":
                # Either the second half of a byte, or another whole one: then it is its own first half.
                told = (ask("second", before.half), ask("second", data))
                operations = tuple(operation for strobe in told for operation in strobe.operations)
                return Strobe(told[0].certain, _each_once(operations))


@dataclass(frozen=True, slots=True)
class _OnLines:
    """A part on single bits of ports: it is told something by their edges."""

    board: Board
    part: Part

    def wants(self, access: Access) -> bool:
        return access.way == "write" and access.address in self.part.driven

    def tell(self, access: Access, value: int | None, before: _History) -> _Told:
        held = dict(before.held)
        edges = self.board.edges(self.part, access.address, held.get(access.address, before.control), value)
        held[access.address] = value
        return _Told(edges.operations, edges.certain, replace(before, held=tuple(sorted(held.items()))))


def _beyond_half(before: _History, whole: bool, content: int | None) -> _History:
    """The history after one half of a byte; `whole` says whether it may be a whole byte if it is a first half."""
    match before.phase:
        case "second":
            return replace(before, phase="first", half=None)
        case "first":
            return replace(before, phase="whole" if whole else "second", half=content)
        case "whole":
            return replace(before, phase="whole" if whole else "first", half=content if whole else None)


def _beyond_pair(pair: Pair, phase: _Phase, value: int | None) -> _Phase:
    """Which access comes after one of a pair: "whole" where it may be either."""
    if phase == "second":
        return "first"
    if pair.single is None:
        return "second"
    if value is None or phase == "whole":
        return "whole"
    return "first" if pair.single.accepts(value) else "second"


def _place(before: _History) -> PairPlace | None:
    return None if before.phase == "whole" else before.phase


def _each_once(operations: Iterable[Operation]) -> tuple[Operation, ...]:
    return tuple(dict.fromkeys(operations))


def _uses(
    timings: Timings, board: Board, part: Part, reading: _Reading, own: list[Site], handlers: frozenset[int]
) -> Iterator[Use]:
    histories = _histories(timings, part, reading, own, handlers)
    in_mode = modes(timings, board, part, own)
    for site in own:
        told = [
            reading.tell(site.access, value, before)
            for before in histories.get(site, _unknown(part))
            for value in _values(site.access)
        ]
        possible = {operation for each in told for operation in each.operations}
        operations = tuple(operation for operation in part.family.operations if operation in possible)
        if operations:
            certain = all(each.certain and each.operations for each in told)
            open_ = _open(site, part, operations, certain)
            yield Use(site, part, operations, certain, open_, in_mode[site])


def _open(site: Site, part: Part, operations: tuple[Operation, ...], certain: bool) -> str:
    if not certain:
        return f"what the lines of the port hold before is not known, so whether {part.name} is told anything is not"
    if len(operations) < 2:
        return ""
    if part.wires:
        return "it changes several lines at once, or by the way taken"
    if part.family.pair is not None and len({operation.place for operation in operations}) > 1:
        return "which byte of a pair it is is not known"
    if site.access.values is None or part.driven:
        return "the value written is not known"
    return "it differs by the way taken"


def _values(access: Access) -> tuple[int | None, ...]:
    return (None,) if access.values is None else tuple(sorted(access.values))


def _histories(
    timings: Timings, part: Part, reading: _Reading, own: list[Site], handlers: frozenset[int]
) -> Mapping[Site, frozenset[_History]]:
    """All histories possible before each access, carried from access to access until nothing new arrives."""
    if part.family.pair is None and not part.driven and not part.mode.halves:
        return dict.fromkeys(own, frozenset({_History()}))
    start = Start(frozenset({_History(control=0)}), _unknown(part), handlers)

    def step(site: Site, before: _History) -> Iterator[_History]:
        return (reading.tell(site.access, value, before).after for value in _values(site.access))

    return carry(timings, own, start, step).before


def _unknown(part: Part) -> frozenset[_History]:
    """The histories possible where nothing is known."""
    phases: tuple[_Phase, ...] = ("first",)
    if part.mode.halves:
        phases = ("first", "second", "whole")
    elif part.family.pair is not None:
        phases = ("first", "second")
    return frozenset(_History(phase=phase) for phase in phases)
