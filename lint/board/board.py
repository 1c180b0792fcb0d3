"""A board: which parts stand at which addresses and what they need, with every figure's source.

The board knows no program. It answers what an access means to a part and which limits lie between two such
operations; whether a program keeps them is for others to judge.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import assert_never

from ..quantity import Clock, Duration
from .part import (
    Amount,
    BitTimes,
    Bound,
    BusTimeSubject,
    Direction,
    Evidence,
    Family,
    Fixed,
    Grade,
    LeastKind,
    LimitRow,
    Operation,
    OwnClocks,
    PairPlace,
    Poll,
    Port,
    RatingRow,
    RatingSubject,
    Remark,
)
from .placed import Area, Behind, BusClock, FixedClock, Interrupt, Part, PartClock


@dataclass(frozen=True, slots=True)
class LeastGap:
    """At least `least` must pass between the bus cycles of the two operations.

    `provided` says in words what else must be true, empty for always. A `poll` left on ready satisfies it. `mode` is
    that of the part where it needs something else in another one, else empty.
    """

    kind: LeastKind
    least: Duration
    whose: str
    provided: str
    poll: Poll | None
    mode: str
    evidence: Evidence

    @property
    def source(self) -> str:
        return self.evidence.text


@dataclass(frozen=True, slots=True)
class MostGap:
    """At most `most` may pass between the bus cycles of the two operations; `mode` as for LeastGap."""

    most: Duration
    whose: str
    provided: str
    mode: str
    evidence: Evidence

    @property
    def source(self) -> str:
        return self.evidence.text


Limit = LeastGap | MostGap


@dataclass(frozen=True, slots=True)
class Requirement:
    """A limit between two accesses of which it may not be known what they do.

    `certain` is true when the limit holds whichever of the possible operations are meant; else `first` and
    `then` name the operations it would hold for.
    """

    limit: Limit
    first: Operation
    then: Operation
    certain: bool


@dataclass(frozen=True, slots=True)
class Strobe:
    """What a write to the control port does to the part behind it: the operations it may be.

    None of them: the enable pin does not fall. `certain` is false where it is not known whether it falls.
    """

    certain: bool
    operations: tuple[Operation, ...]


@dataclass(frozen=True, slots=True)
class Rating:
    """The fastest ("most") or slowest ("least") clock something on the board is rated for.

    `clocked` is what the part is clocked with where the rating is about its own clock and that is known.
    `stated` is false where the strictest grade is taken because nobody said which one it is.
    """

    name: str
    whose: str
    subject: RatingSubject
    bound: Bound
    clock: Clock
    clocked: PartClock | None
    stated: bool
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class BusTime:
    """A time on the bus: at most what the part takes, at least what it must be given."""

    name: str
    whose: str
    subject: BusTimeSubject
    bound: Bound
    time: Duration
    stated: bool
    evidence: Evidence


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """Processor, clocks, parts and memory of one board; addresses are numbers.

    `clocks` are the bus clocks to judge, the board's own first. `written_for` is the clock the program was
    written for, None if unknown. `watched` are all addresses at which an access may matter to a part.
    """

    processor: str
    processor_family: Family | None
    processor_grade: Grade | None
    processor_grade_stated: bool
    clocks: tuple[Clock, ...]
    written_for: Clock | None
    entries: tuple[int, ...] = ()
    interrupts: tuple[Interrupt, ...] = ()
    processor_tried: Clock | None = None
    areas: tuple[Area, ...] = ()
    parts: tuple[Part, ...] = ()
    watched: frozenset[int] = field(init=False)
    _mapped: Mapping[int, tuple[Part, Port]] = field(init=False, repr=False)
    _required: dict[object, tuple[Requirement, ...]] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        mapped: dict[int, tuple[Part, Port]] = {}
        for part in self.parts:
            for first, last, port in part.stretches():
                for address in range(first, last + 1):
                    mapped.setdefault(address, (part, port))
        driven = frozenset[int]().union(*(part.driven for part in self.parts))
        object.__setattr__(self, "_mapped", mapped)
        object.__setattr__(self, "watched", driven.union(mapped))

    def part_at(self, address: int) -> tuple[Part, Port] | None:
        """The part mapped at `address` and which of its ports that is; None where none is known."""
        return self._mapped.get(address)

    def behind_at(self, address: int) -> tuple[Part, ...]:
        """The parts that are driven by bits of the port at `address`."""
        return tuple(part for part in self.parts if address in part.driven)

    def operation(
        self,
        part: Part,
        port: str,
        direction: Direction,
        value: int | None,
        place: PairPlace | None = None,
    ) -> tuple[Operation, ...]:
        """The operations an access may be, in the order of the part's file; one where all is known.

        `value` is the byte written, None where unknown; `place` the place in a pair of accesses, None where
        unknown. While bytes cross in halves, a first half's value is in bits 7 to 4 and the value of a
        second half is the whole byte.
        """
        rows = [row for row in part.family.operations if row.port == port and row.direction == direction]
        if not part.mode.halves:
            rows = [row for row in rows if not row.half]
            return tuple(_matching(rows, value, place))
        halves = [row for row in rows if row.half or row.whole]
        bytes_ = [row for row in rows if not row.half]
        found: list[Operation] = []
        if place != "second":
            found += _matching(sorted(halves, key=lambda row: row.half), value, None)
        if place != "first":
            found += _matching(bytes_, value if place == "second" else None, None)
        return tuple(dict.fromkeys(found))

    def strobe(
        self,
        part: Part,
        before: int | None,
        after: int | None,
        data: int | None,
        place: PairPlace | None = None,
        first_half: int | None = None,
    ) -> Strobe:
        """What the part behind a port is told when its control port goes from `before` to `after`.

        All are whole port contents, None where unknown: `data` the data port's, `first_half` the data
        port's at the first half of the same byte. The part must be one behind a port.
        """
        behind, pins = part.behind, part.family.pins
        if behind is None or pins is None:
            raise ValueError(f"{part.name} is not behind a parallel port")
        rose = None if before is None else bool(before & behind.enable)
        low = None if after is None else not after & behind.enable
        if rose is False or low is False:
            return Strobe(certain=True, operations=())
        value = _byte(behind, data, place, first_half)
        found: list[Operation] = []
        for port in _selected(pins.ports, before, behind.select):
            for direction in _directions(before, behind.read):
                found += self.operation(part, port, direction, value, place)
        return Strobe(certain=bool(rose and low), operations=tuple(found))

    def edges(self, part: Part, address: int, before: int | None, after: int | None) -> Strobe:
        """What the lines of a part do when the port at `address` goes from `before` to `after`; None: unknown."""
        found: list[Operation] = []
        known = True
        for name, wire in part.wires.items():
            if wire.address == address:
                was, now = wire.high(before), wire.high(after)
                known &= was is not None and now is not None
                found += (
                    row
                    for row in part.family.operations
                    if row.port == name
                    and (
                        (row.direction == "rise" and not was and now is not False)
                        or (row.direction == "fall" and was is not False and not now)
                    )
                )
        return Strobe(known, tuple(found))

    def cautions(self, part: Part) -> tuple[Remark, ...]:
        """What to say once about the part: the cautions of its grade, of every grade where none is stated."""
        return tuple(
            remark
            for remark in part.family.cautions
            if part.grade.name in remark.grades or not part.grade_stated
        )

    def power_on(self, part: Part) -> Operation | None:
        """The operation that stands for power coming on, as the first of a limit.

        None if the part has no such limit.
        """
        return next((row for row in part.family.operations if row.direction == "reset"), None)

    def limits(
        self, part: Part, first: Operation, then: Operation, clock: Clock | None = None
    ) -> tuple[Limit, ...]:
        """What must lie between two operations of one part, strictest first within a kind; empty if nothing.

        `clock` is the bus clock, which matters only to a part clocked from the bus; without it the slowest
        clock of the board is taken, at which such a part takes longest. A limit in bit times is left out
        where the board states no baud rate: see `unjudged`.
        """
        found = [
            _limit(part, row, duration)
            for row in part.family.limits
            if _applies(row, part, first, then)
            and (duration := self._time(part, row.amounts[part.grade.name], clock, row.kind == "max_gap"))
        ]
        return tuple(sorted(found, key=_strictness))

    def requirements(
        self,
        part: Part,
        firsts: tuple[Operation, ...],
        thens: tuple[Operation, ...],
        clock: Clock | None = None,
    ) -> tuple[Requirement, ...]:
        """What may have to lie between two accesses of one part, strictest first, over all they may be."""
        # A program has many accesses, and few that differ; rules ask for other modes of a part, too.
        asked = part.name, part.mode.name, firsts, thens, clock
        found = self._required.get(asked)
        if found is None:
            found = self._required[asked] = tuple(self._requirements(part, firsts, thens, clock))
        return found

    def _requirements(
        self, part: Part, firsts: tuple[Operation, ...], thens: tuple[Operation, ...], clock: Clock | None
    ) -> list[Requirement]:
        pairs = [(first, then, self.limits(part, first, then, clock)) for first in firsts for then in thens]
        found: dict[Limit, Requirement] = {}
        for first, then, limits in pairs:
            for limit in limits:
                certain = not limit.provided and all(_covers(others, limit) for _, _, others in pairs)
                found.setdefault(limit, Requirement(limit, first, then, certain))
        return sorted(found.values(), key=lambda requirement: _strictness(requirement.limit))

    def own_clock(self, part: Part, clock: Clock | None = None) -> Clock | None:
        """The clock the part counts in when the bus runs at `clock`.

        The slowest it may have where none is stated.
        """
        match part.clock:
            case FixedClock(own):
                return own
            case BusClock(times):
                bus = clock or min(self.clocks, default=None)
                return bus.times(times) if bus else None
            case None:
                return part.family.own_clock.slowest if part.family.own_clock else None
        assert_never(part.clock)

    @property
    def ratings(self) -> tuple[Rating, ...]:
        """The clocks the processor and the parts on the bus are rated for.

        Parts behind a port only their own clock.
        """
        return tuple(self._ratings())

    @property
    def fastest(self) -> Clock | None:
        """The fastest bus clock that anything on the board is rated for, over all grades where none is stated.

        None where no sheet gives one.
        """
        return max(
            (
                clock
                for _, family, grade, stated, _ in self._on_the_bus()
                for row in family.ratings
                if (row.subject, row.bound) == ("bus clock", "most")
                for name, clock in row.clocks.items()
                if name == grade.name or not stated
            ),
            default=None,
        )

    @property
    def bus_times(self) -> tuple[BusTime, ...]:
        """The bus times of the processor, the parts on the bus and the memories, by their grades."""
        return tuple(
            BusTime(name, whose, row.subject, row.bound, row.times[grade.name], stated, row.evidence)
            for name, family, grade, stated, whose in self._on_the_bus()
            for row in family.bus_times
            if grade.name in row.times
        )

    @property
    def unjudged(self) -> tuple[str, ...]:
        """What can't be judged because the project file leaves something out, in words to act on."""
        return tuple(
            f"{part.name}: state baud: to judge the time between characters"
            for part in self.parts
            if part.baud is None
            and any(isinstance(row.amounts.get(part.grade.name), BitTimes) for row in part.family.limits)
        )

    def _time(self, part: Part, amount: Amount, clock: Clock | None, most: bool) -> Duration | None:
        match amount:
            case Fixed(duration):
                return duration
            case OwnClocks(count):
                own = self.own_clock(part, clock)
                if own is None:
                    return None
                return (own.fastest if most else own.slowest).duration(count)
            case BitTimes(count):
                return Duration(count / part.baud) if part.baud else None
        assert_never(amount)

    def _ratings(self) -> Iterator[Rating]:
        for name, family, grade, stated, whose in self._on_the_bus():
            for row in _rated(family, grade, "bus clock"):
                clock = row.clocks[grade.name]
                yield Rating(name, whose, row.subject, row.bound, clock, None, stated, row.evidence)
        for part in self.parts:
            whose, stated = _whose(part.family, part.grade), part.grade_stated
            for row in _rated(part.family, part.grade, "own clock"):
                clock = row.clocks[part.grade.name]
                yield Rating(
                    part.name, whose, row.subject, row.bound, clock, part.clock, stated, row.evidence
                )

    def _on_the_bus(self) -> Iterator[tuple[str, Family, Grade, bool, str]]:
        if self.processor_family and self.processor_grade:
            family, grade = self.processor_family, self.processor_grade
            yield self.processor, family, grade, self.processor_grade_stated, _whose(family, grade)
        for part in self.parts:
            if not part.driven:
                yield part.name, part.family, part.grade, part.grade_stated, _whose(part.family, part.grade)
        for area in self.areas:
            if area.family and area.grade:
                whose = _whose(area.family, area.grade)
                yield area.name, area.family, area.grade, area.grade_stated, whose


def _whose(family: Family, grade: Grade) -> str:
    return grade.names[0] if grade.names else family.name


def _rated(family: Family, grade: Grade, subject: RatingSubject) -> Iterator[RatingRow]:
    return (row for row in family.ratings if row.subject == subject and grade.name in row.clocks)


def _matching(rows: list[Operation], value: int | None, place: PairPlace | None) -> Iterator[Operation]:
    told: set[PairPlace | None] = set()
    for row in rows:
        if (place and row.place and row.place != place) or row.place in told:
            continue
        if value is None:
            yield row
        elif row.pattern.accepts(value):
            yield row
            told.add(row.place)
            # Rows for the other place of a pair remain possible while the place is unknown.
            if row.place is None or place:
                return


def _byte(behind: Behind, data: int | None, place: PairPlace | None, first_half: int | None) -> int | None:
    if data is None:
        return None
    if behind.width == 8 or place != "second":
        return behind.lines(data)
    return None if first_half is None else behind.lines(first_half) | behind.lines(data) >> 4


def _selected(ports: tuple[str, str], control: int | None, select: int) -> tuple[str, ...]:
    if control is None:
        return ports
    return (ports[1] if control & select else ports[0],)


def _directions(control: int | None, read: int) -> tuple[Direction, ...]:
    if not read:
        return ("write",)
    if control is None:
        return ("write", "read")
    return ("read",) if control & read else ("write",)


def _applies(row: LimitRow, part: Part, first: Operation, then: Operation) -> bool:
    return (
        first.name in row.first
        and then.name in row.then
        and part.mode.name in row.modes
        and part.grade.name in row.amounts
    )


def _limit(part: Part, row: LimitRow, duration: Duration) -> Limit:
    whose = part.family.name
    mode = part.mode.name if len(row.modes) < len(part.family.modes) else ""
    if row.kind == "max_gap":
        return MostGap(duration, whose, row.provided, mode, row.evidence)
    poll = part.family.poll(row.poll)
    return LeastGap(row.kind, duration, whose, row.provided, poll, mode, row.evidence)


def strictest(found: Iterable[tuple[Requirement, ...]]) -> tuple[Requirement, ...]:
    """Of several lists of requirements of one kind, the one with the strictest of them; the first of equal ones."""
    return min(found, key=lambda each: _strictness(each[0].limit) if each else (True, Fraction(2**64)))


def _strictness(limit: Limit) -> tuple[bool, Fraction]:
    if isinstance(limit, LeastGap):
        return False, -limit.least.seconds
    return True, limit.most.seconds


def _covers(others: tuple[Limit, ...], limit: Limit) -> bool:
    """Whether one of `others` is at least as strict as `limit` and always holds."""
    return any(
        type(other) is type(limit) and not other.provided and _strictness(other) <= _strictness(limit)
        for other in others
    )
