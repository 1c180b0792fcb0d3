"""What stands on a board once every address is a number: parts, stretches of memory, interrupts."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, assert_never

from ..errors import Place
from ..quantity import Clock, Duration
from .part import Family, Grade, Mode, Output, Port

MOST_WAITS: Final = 255  # cycles of one access; what takes longer is not waited for on the bus


@dataclass(frozen=True, slots=True)
class FixedClock:
    """The part has a clock of its own that stays when the bus clock changes.

    `was` is what it was before an oscillator of the board was turned, None where it is made from none that was.
    """

    clock: Clock
    was: Clock | None = None


@dataclass(frozen=True, slots=True)
class BusClock:
    """The part is clocked with `times` the bus clock and moves with it."""

    times: Fraction


PartClock = FixedClock | BusClock


@dataclass(frozen=True, slots=True)
class MadeClock:
    """A clock that a part of the board makes: one of its outputs, by its name or that of its pin."""

    part: str
    output: str


RateClock = FixedClock | BusClock | MadeClock


def feed(
    output: Output, clock: PartClock | None, rate_clock: RateClock | None, inputs: Mapping[str, RateClock]
) -> RateClock | None:
    """What an output of a part counts, from what the project file says of the part; None where it says nothing."""
    if output.input in inputs:
        return inputs[output.input]
    match output.clock:
        case "bus clock":
            return BusClock(Fraction(1))
        case "own clock":
            return clock or rate_clock
        case "rate clock":
            return rate_clock
        case "input":
            return None
    assert_never(output.clock)


@dataclass(frozen=True, slots=True)
class Behind:
    """A part driven through a parallel port: addresses of its data and control lines, masks of its pins.

    `read` is 0 where the R/W pin is tied to write. The data lines begin at bit `shift` of the data port and
    are `width` wide, 8 or 4.
    """

    data: int
    control: int
    enable: int
    select: int
    read: int
    shift: int
    width: int

    def lines(self, content: int) -> int:
        """What the part sees when the data port holds `content`: a byte, or half a byte in bits 7 to 4."""
        bits = content >> self.shift & ((1 << self.width) - 1)
        return bits << (8 - self.width)


@dataclass(frozen=True, slots=True)
class Wire:
    """A line of a part on one bit of a port. `inverted`: it is high while the bit is 0."""

    address: int
    mask: int
    inverted: bool

    def high(self, content: int | None) -> bool | None:
        """Whether the line is high while the port holds `content`; None where that is not known."""
        return None if content is None else bool(content & self.mask) != self.inverted


@dataclass(frozen=True, slots=True)
class Part:
    """A part on the board. Port addresses are empty for one behind a parallel port or on single lines.

    `grade_stated` and `mode_stated` are false where the strictest is taken because nobody said. `hurts`
    marks an output that can hurt people or equipment. `waits` are wait cycles per access. `rate_clock` is what its bit
    rate is made from, where that is not its own clock. `inputs` are what single pins count.
    """

    name: str
    family: Family
    grade: Grade
    grade_stated: bool
    mode: Mode
    mode_stated: bool
    ports: Mapping[str, int]
    clock: PartClock | None
    rate_clock: RateClock | None
    inputs: Mapping[str, RateClock]
    baud: int | None
    behind: Behind | None
    wires: Mapping[str, Wire]
    hurts: bool
    waits: int
    tried: Clock | None
    note: str
    place: Place

    @property
    def driven(self) -> frozenset[int]:
        """The addresses of the ports whose bits drive the part; empty for one on the bus."""
        behind = {self.behind.data, self.behind.control} if self.behind else set()
        return frozenset(behind | {wire.address for wire in self.wires.values()})

    def stretches(self) -> Iterator[tuple[int, int, Port]]:
        """First address, last address and port of all that the part occupies on the bus."""
        for port in self.family.ports:
            if port.name in self.ports:
                first = self.ports[port.name]
                yield first, first + port.size - 1, port


TIED: Final = "tied"  # an enable that is low all the time


@dataclass(frozen=True, slots=True)
class Logic:
    """Logic in a path: its longest delay, and the longest from an enable input; `source` says where they come from."""

    name: str
    delay: Duration
    enable: Duration
    source: str


@dataclass(frozen=True, slots=True)
class Area:
    """A stretch of memory, `first` to `last` inclusive, and the memory part in it if that is stated.

    `enable` and `output` name the edges of the bus that gate its chip enable (through `decoder`) and its output enable
    (through `strobe`), None where not stated; `buffers` are what data and address go through. `tried` is a clock at
    which it has run.
    """

    name: str
    kind: Literal["rom", "ram"]
    first: int
    last: int
    family: Family | None
    grade: Grade | None
    grade_stated: bool
    waits: int
    enable: str | None
    output: str | None
    decoder: tuple[Logic, ...]
    strobe: tuple[Logic, ...]
    buffers: tuple[Logic, ...]
    tried: Clock | None
    place: Place


@dataclass(frozen=True, slots=True)
class Interrupt:
    """An interrupt the project file describes; `period` is None where it comes at no steady rate."""

    name: str
    entry: int
    period: Duration | None
