"""The project file as it was written: addresses may still be symbols of a program that has not been read.

`Project.resolve` turns it into a board once the symbols are known.
"""

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Literal, assert_never

from .. import looked
from ..address import port as port_address
from ..address import shown
from ..errors import BoardError, Place
from ..quantity import Clock, Duration, Stretch
from .board import Board
from .family import families, find_family
from .oscillator import BusSource, Oscillator
from .part import Family, Grade, Mode
from .placed import Area, Behind, Interrupt, Logic, Part, PartClock, RateClock, Wire

FILE_NAME = "clockhop.yaml"
FailOn = Literal["error", "warning", "note", "never"]


@dataclass(frozen=True, slots=True)
class Absolute:
    """An address written as a number."""

    address: int
    place: Place


@dataclass(frozen=True, slots=True)
class Symbolic:
    """An address written as a symbol of the source, plus a number."""

    name: str
    plus: int
    place: Place


@dataclass(frozen=True, slots=True)
class InPorts:
    """The address of a port: io: before a number or a symbol."""

    number: "Address"
    place: Place


Address = Absolute | Symbolic | InPorts


@dataclass(frozen=True, slots=True)
class Mapped:
    """The part's ports follow each other from one address on."""

    at: Address


@dataclass(frozen=True, slots=True)
class Scattered:
    """Each port of the part that the program uses is given its own address."""

    ports: Mapping[str, Address]


@dataclass(frozen=True, slots=True)
class BehindPort:
    """The part hangs on the lines of a parallel port; see `Behind` for the masks."""

    data: Address
    control: Address
    enable: int
    select: int
    read: int
    shift: int
    width: int


@dataclass(frozen=True, slots=True)
class WireEntry:
    """A line on one bit of a port; see `Wire`."""

    address: Address
    mask: int
    inverted: bool


@dataclass(frozen=True, slots=True)
class OnLines:
    """Each line of the part that is driven hangs on a bit of a port."""

    lines: Mapping[str, WireEntry]


Where = Mapped | Scattered | BehindPort | OnLines


@dataclass(frozen=True, slots=True)
class PartEntry:
    """A part as the project file states it; what it leaves out is the strictest, and said to be unstated."""

    name: str
    family: Family
    grade: Grade
    grade_stated: bool
    mode: Mode
    mode_stated: bool
    where: Where
    clock: PartClock | None
    rate_clock: RateClock | None
    inputs: Mapping[str, RateClock]
    baud: int | None
    hurts: bool
    waits: int
    tried: Clock | None
    note: str
    place: Place


@dataclass(frozen=True, slots=True)
class BusWay:
    """How a memory is enabled and what lies between it and the processor; see `Area`."""

    enable: str | None
    output: str | None
    decoder: tuple[Logic, ...]
    strobe: tuple[Logic, ...]
    buffers: tuple[Logic, ...]


@dataclass(frozen=True, slots=True)
class AreaEntry:
    """A stretch of memory as the project file states it."""

    name: str
    kind: Literal["rom", "ram"]
    first: Address
    last: Address
    family: Family | None
    grade: Grade | None
    grade_stated: bool
    waits: int
    way: BusWay
    tried: Clock | None
    place: Place


@dataclass(frozen=True, slots=True)
class InterruptEntry:
    """An interrupt as the project file states it."""

    name: str
    entry: Address
    period: Duration | None


@dataclass(frozen=True, slots=True)
class Build:
    """One program made from the sources: its main file, defined symbols and include paths, all as written.

    `clocks` are its own clocks, empty if it has those of the project.
    """

    name: str
    source: str
    defines: Mapping[str, str]
    include: tuple[str, ...]
    clocks: tuple[Clock, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A finding the project accepts: its name, where (a label or file:line, empty for everywhere) and why."""

    finding: str
    at: str
    because: str
    place: Place


@dataclass(frozen=True, slots=True)
class Project:
    """Everything a project file says. Paths are relative to the folder of `path`.

    `not_understood` is the share of a build's statements that may be, below a half; None where nothing is said.
    `bus` is what the first of the `clocks` is made from, None where it is written as a frequency. `stretch` says which
    cycles of the bus are longer; the clocks here are without it, see `on_the_bus`.
    """

    path: Path
    processor: str
    processor_place: Place
    processor_grade: Grade | None
    processor_tried: Clock | None
    processor_state: frozenset[tuple[str, int]]
    syntax: str
    habits: Mapping[str, bool]
    clocks: tuple[Clock, ...]
    oscillators: tuple[Oscillator, ...]
    bus: BusSource | None
    written_for: Clock | None
    stretch: Stretch | None
    entries: tuple[Address, ...]
    interrupts: tuple[InterruptEntry, ...]
    areas: tuple[AreaEntry, ...]
    parts: tuple[PartEntry, ...]
    builds: tuple[Build, ...]
    defines: Mapping[str, str]
    include: tuple[str, ...]
    accept: tuple[Acceptance, ...]
    fail_on: FailOn
    not_understood: Fraction | None

    def on_the_bus(self, clock: Clock) -> Clock:
        """A bus clock with the cycles that are stretched on this board."""
        return replace(clock, stretch=self.stretch)

    def memories(self, clocks: tuple[Clock, ...]) -> Board:
        """The board as far as it needs no program, at `clocks` if there are any: what its bus is judged by.

        Addresses that only a program knows are 0.
        """

        areas = tuple(
            _placed(entry, _unknown_address(entry.first), _unknown_address(entry.last))
            for entry in self.areas
        )
        parts = tuple(_part(entry, _unknown_address) for entry in self.parts)
        return replace(self._board(clocks or self.clocks, areas), parts=parts)

    def resolve(self, symbols: Mapping[str, int], build: Build | None = None) -> Board:
        """The board with every symbol replaced by its value, at the clocks of `build` if that has its own.

        Raises BoardError for a symbol that is not in `symbols`, and for parts or areas that overlap.
        """
        look_up = _look_up(symbols)
        areas = tuple(_area(entry, look_up) for entry in self.areas)
        parts = tuple(_part(entry, look_up) for entry in self.parts)
        _refuse_overlap(areas, parts)
        made = self._board((build.clocks if build else ()) or self.clocks, areas)
        interrupts = (Interrupt(each.name, look_up(each.entry), each.period) for each in self.interrupts)
        return replace(
            made,
            parts=parts,
            entries=tuple(look_up(entry) for entry in self.entries),
            interrupts=tuple(interrupts),
        )

    def _board(self, clocks: tuple[Clock, ...], areas: tuple[Area, ...]) -> Board:
        """The processor and its memories."""
        family, grade = processor_grade(self.processor, self.processor_grade)
        return Board(
            processor=self.processor,
            processor_family=family,
            processor_grade=grade,
            processor_grade_stated=self.processor_grade is not None,
            processor_tried=self.processor_tried,
            clocks=clocks,
            written_for=self.written_for,
            areas=areas,
        )


def find(start: Path) -> Path | None:
    """The nearest project file in the folder of `start` or above it; None if there is none."""
    folder = start.absolute()
    for candidate in (folder, *folder.parents):
        path = candidate / FILE_NAME
        if looked.is_file(path):
            return path
    return None


def bare(
    processor: str,
    clocks: tuple[Clock, ...],
    written_for: Clock | None = None,
    grade: Grade | None = None,
) -> Board:
    """A board of which nothing is known but processor and clocks: no parts, no memory."""
    family, assumed = processor_grade(processor, grade)
    return Board(processor, family, assumed, grade is not None, clocks, written_for)


def processor_grade(processor: str, grade: Grade | None) -> tuple[Family | None, Grade | None]:
    """The part family of a processor and its grade, the strictest if none is given.

    None where no sheet is known.
    """
    found = find_family(processor, [family for family in families() if family.kind == "processor"])
    return (found[0], grade or found[1] or found[0].grades[0]) if found else (None, None)


_LookUp = Callable[[Address], int]


def _unknown_address(address: Address) -> int:
    """Where a part may be that only a program could place: in the space of ports or in memory."""
    match address:
        case Absolute(number):
            return number
        case Symbolic():
            return 0
        case InPorts(inner):
            return port_address(_unknown_address(inner))
    assert_never(address)


def _look_up(symbols: Mapping[str, int]) -> _LookUp:
    def look_up(address: Address) -> int:
        match address:
            case Absolute(number):
                return number
            case Symbolic(name, plus, place):
                if name not in symbols:
                    raise BoardError(f'unknown symbol "{name}"; {_near(name, symbols)}', place)
                return symbols[name] + plus
            case InPorts(inner):
                return port_address(look_up(inner))
        assert_never(address)

    return look_up


def _near(name: str, symbols: Mapping[str, int]) -> str:
    # Unlike the keys of a file, the symbols of a program are too many to list them all.
    upper = {symbol.upper(): symbol for symbol in symbols}
    close = difflib.get_close_matches(name.upper(), upper, n=3, cutoff=0.6)
    names = ", ".join(upper[key] for key in close)
    return f"nearest: {names}" if names else "define it in the source or write the address"


def _area(entry: AreaEntry, look_up: _LookUp) -> Area:
    first, last = look_up(entry.first), look_up(entry.last)
    if last < first:
        raise BoardError(
            f"area {entry.name} ends at {shown(last)} before it begins at {shown(first)}", entry.place
        )
    return _placed(entry, first, last)


def _placed(entry: AreaEntry, first: int, last: int) -> Area:
    return Area(
        name=entry.name,
        kind=entry.kind,
        first=first,
        last=last,
        family=entry.family,
        grade=entry.grade,
        grade_stated=entry.grade_stated,
        waits=entry.waits,
        enable=entry.way.enable,
        output=entry.way.output,
        decoder=entry.way.decoder,
        strobe=entry.way.strobe,
        buffers=entry.way.buffers,
        tried=entry.tried,
        place=entry.place,
    )


def _part(entry: PartEntry, look_up: _LookUp) -> Part:
    ports: Mapping[str, int] = {}
    behind = None
    wires: Mapping[str, Wire] = {}
    match entry.where:
        case Mapped(at):
            base = look_up(at)
            ports = {port.name: base + port.offset for port in entry.family.ports}
        case Scattered(addresses):
            ports = {name: look_up(address) for name, address in addresses.items()}
        case BehindPort(data, control, enable, select, read, shift, width):
            behind = Behind(look_up(data), look_up(control), enable, select, read, shift, width)
        case OnLines(lines):
            wires = {
                name: Wire(look_up(line.address), line.mask, line.inverted) for name, line in lines.items()
            }
        case _:
            assert_never(entry.where)
    return Part(
        name=entry.name,
        family=entry.family,
        grade=entry.grade,
        grade_stated=entry.grade_stated,
        mode=entry.mode,
        mode_stated=entry.mode_stated,
        ports=ports,
        clock=entry.clock,
        rate_clock=entry.rate_clock,
        inputs=entry.inputs,
        baud=entry.baud,
        behind=behind,
        wires=wires,
        hurts=entry.hurts,
        waits=entry.waits,
        tried=entry.tried,
        note=entry.note,
        place=entry.place,
    )


@dataclass(frozen=True, slots=True)
class _Claim:
    first: int
    last: int
    title: str
    place: Place


def _refuse_overlap(areas: tuple[Area, ...], parts: tuple[Part, ...]) -> None:
    claims = [_Claim(area.first, area.last, f"area {area.name}", area.place) for area in areas]
    for part in parts:
        for first, last, port in part.stretches():
            # A memory that is written like a part may be named as an area as well.
            if part.family.kind != "memory":
                claims.append(_Claim(first, last, f"{part.name} ({port.name})", part.place))
    claims.sort(key=lambda claim: claim.first)
    for low, high in pairwise(claims):
        if high.first <= low.last:
            later, earlier = (high, low) if high.place.line >= low.place.line else (low, high)
            raise BoardError(
                f"{later.title} and {earlier.title} in line {earlier.place.line} both claim "
                f"{shown(high.first)}; give each address to one",
                later.place,
            )
