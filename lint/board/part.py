"""What is known about a family of parts: ports, operations, limits; each figure with where it was published.

These are the figures of the sheets, before a board says which grade, mode and clock it has; `board.py` turns
them into times.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..quantity import Clock, Duration
from .formula import Formula

Direction = Literal["read", "write", "reset", "rise", "fall"]
PairPlace = Literal["first", "second"]
FamilyKind = Literal["device", "memory", "logic", "processor"]
LeastKind = Literal["min_gap", "busy", "min_wait_after"]
RatingSubject = Literal["bus clock", "own clock"]
OutputKind = Literal["rate", "time", "tone"]
OutputClock = Literal["bus clock", "own clock", "rate clock", "input"]
BusTimeSubject = Literal[
    "access time",  # from the address to the data
    "chip enable access",  # from chip enable to the data
    "output enable access",  # from output enable to the data
    "output float",  # until the data lines are let go
    "read delay",
    "read hold",
    "strobe width",
    "time between strobes",
    "address set-up",
    "address hold",
    "write set-up",
    "write hold",
    "access budget",
    "delay",  # of logic, from an input (an address) to the output
    "enable delay",  # of logic, from an enable input to the output
]
Bound = Literal["least", "most"]
FigureBound = Literal["least", "most", "is"]


@dataclass(frozen=True, slots=True)
class Source:
    """A data sheet or manual; `number` is empty where the copy read carries none."""

    title: str
    publisher: str
    number: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """Where a figure comes from and under which condition it holds.

    `source` is None for a figure from memory or common practice. `fact` is the name of the row in the
    published table the figure was taken from, empty where there is none.
    """

    source: Source | None
    page: str = ""
    condition: str = ""
    note: str = ""
    from_memory: bool = False
    fact: str = ""

    @property
    def text(self) -> str:
        """The source in one line: title, number, page: "HD44780U data sheet ADE-207-272(Z), Table 6"."""
        if self.source is None:
            return "from memory" if self.from_memory else "common practice"
        title = " ".join(word for word in (self.source.title, self.source.number) if word)
        return ", ".join(word for word in (title, self.page, "from memory" * self.from_memory) if word)


@dataclass(frozen=True, slots=True)
class Port:
    """An address of a part, counted from where the part begins.

    It may be two registers, one read, one written; `size` is above 1 for a memory, which is one port.
    """

    name: str
    offset: int
    size: int = 1


@dataclass(frozen=True, slots=True)
class Pattern:
    """Which values are meant: those that equal `match` in the bits of `mask`."""

    mask: int
    match: int

    def accepts(self, value: int) -> bool:
        return value & self.mask == self.match


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing done to a part: an access, told apart by port, direction, place in a pair and value.

    Direction "rise" or "fall" is an edge of a line of its own, whose name stands in place of the port.

    `place` is None where it does not matter. A `half` is the first half of a byte that crosses the bus in
    two; with `whole` the operation is recognised in a first half too, because it is what is sent before the
    part knows about halves. Direction "reset" is power coming on: no access, port empty.
    """

    name: str
    port: str
    direction: Direction
    pattern: Pattern = Pattern(0, 0)
    place: PairPlace | None = None
    half: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Pair:
    """Two accesses of one port belong together; after one of the `restarts` the next is a first one again.

    A first access whose value is one of `single` stands alone: the next is a first one again. None: there is no such.
    """

    port: str
    direction: Direction
    single: Pattern | None
    restarts: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Poll:
    """How a program sees that the part is ready: what `port` reads equals `ready` in the bits of `mask`.

    `ready` is None where it must equal the byte last written.
    """

    name: str
    port: str
    mask: int
    ready: int | None
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Fixed:
    """A time that nothing changes."""

    duration: Duration


@dataclass(frozen=True, slots=True)
class OwnClocks:
    """So many periods of the part's own clock."""

    count: Fraction


@dataclass(frozen=True, slots=True)
class BitTimes:
    """So many bits of a serial line."""

    count: Fraction


Amount = Fixed | OwnClocks | BitTimes


@dataclass(frozen=True, slots=True)
class LimitRow:
    """A limit between two operations as the sheet gives it.

    It holds for the grades in `amounts` and the modes in `modes`; `provided` says in words what else must
    be true (empty: nothing), `poll` names the poll that satisfies it (empty: none does). `kind` "max_gap"
    makes the amount the longest time allowed, every other kind the shortest.
    """

    kind: LeastKind | Literal["max_gap"]
    first: frozenset[str]
    then: frozenset[str]
    amounts: Mapping[str, Amount]
    modes: frozenset[str]
    provided: str
    poll: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class RatingRow:
    """The fastest ("most") or slowest ("least") clock by grade."""

    subject: RatingSubject
    bound: Bound
    clocks: Mapping[str, Clock]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class BusTimeRow:
    """A time on the bus by grade: at most what the part takes, at least what it must be given."""

    subject: BusTimeSubject
    bound: Bound
    times: Mapping[str, Duration]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Figure:
    """A published figure by grade that is shown and judged by nothing: `bound` "is" for neither least nor most."""

    name: str
    bound: FigureBound
    values: Mapping[str, Clock | Duration | str]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class BusTerm:
    """A time by grade that a processor takes off the clock for itself: address delay, data set-up."""

    name: str
    times: Mapping[str, Duration]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class BusEdge:
    """An edge of a processor's bus from which a memory may count its time, until the data is taken.

    `cycles` of the clock lie between, less the terms named in `less`.
    """

    name: str
    cycles: Fraction
    less: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class BusGiven:
    """What a processor's bus gives a part of one kind: `cycles` of the clock, less the terms in `less`, and `plus`."""

    subject: BusTimeSubject
    cycles: Fraction
    less: tuple[str, ...]
    plus: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Given:
    """What a register must hold, in the bits of the pattern, for something to be meant."""

    register: str
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class Register:
    """What a write sets, told apart by port, by value, by what is held, and by what was written just before.

    `at` is the place in a port of several addresses. `behind`: it must come directly behind one of these on the same
    port, None: behind anything. `starts` is what it holds when power comes on, None: unknown. `beyond`: what is written
    is what a counter held, and so many more; that more is what counts. `takes`: the write only chooses the register,
    which gets what the one named holds; empty: it gets what is written.
    """

    name: str
    ports: tuple[str, ...]
    at: int | None
    pattern: Pattern
    given: tuple[Given, ...]
    behind: tuple[Given, ...] | None
    starts: int | None
    beyond: bool
    takes: str


@dataclass(frozen=True, slots=True)
class Number:
    """A number made of bits of registers: for each register which of its bits is which bit of the number.

    `means` is what each stands for where that is not the number itself: then no other may be written. `zero` is what a
    written 0 stands for, None: 0.
    """

    name: str
    bits: Mapping[str, tuple[tuple[int, int], ...]]
    means: Mapping[int, int]
    zero: int | None

    @property
    def most(self) -> int:
        """The largest number that can be written."""
        return (1 << 1 + max(bit for pairs in self.bits.values() for _, bit in pairs)) - 1

    def meaning(self, written: int) -> int | None:
        """What a written number stands for; None where it may not be written."""
        if self.means:
            return self.means.get(written)
        return self.zero if written == 0 and self.zero is not None else written


@dataclass(frozen=True, slots=True)
class Output:
    """A rate, a time or a tone that a part makes by counting: so many periods of its clock, over numbers written to it.

    For a rate `periods` are those of one bit, for a tone of one wave. `input` is the pin that counts where the project
    file says what feeds it, in place of `clock`; `pin` is where the output leaves the part. Both empty: there is none.
    """

    name: str
    kind: OutputKind
    clock: OutputClock
    input: str
    pin: str
    periods: Formula
    numbers: tuple[Number, ...]
    given: tuple[Given, ...]
    grades: frozenset[str]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Frame:
    """A serial line made by the program: the lines it sends and receives by, and the bits of a frame, start and stop
    bit among them."""

    sends: str
    receives: str
    bits: int
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Grade:
    """A speed or supply grade; `names` are the part numbers that mean it."""

    name: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Mode:
    """A way to run the part. With `halves` each byte crosses the bus as two halves, the high one first.

    `when` says what registers hold in this mode, one of several ways; empty where no write of a program tells it.
    """

    name: str
    halves: bool
    when: tuple[tuple[Given, ...], ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class OwnClock:
    """The clock the part counts in. `slowest` is what to reckon with if none is stated; None: state one."""

    name: str
    slowest: Clock | None
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Pins:
    """The part behind a parallel port: the ports that a low and a high select pin choose.

    The operation takes place when the enable pin falls.
    """

    ports: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Remark:
    """A formula or a caution to show once, with the grades it is about."""

    text: str
    grades: frozenset[str]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Family:
    """Everything known about one family.

    Its first grade and its first mode are the strictest, and the defaults. `groups` are operations under one name.
    `lines` are what a part without addresses hangs on: single bits of ports. `bus_given` is what a processor gives in
    an access of memory, `port_given` in one of a port.
    """

    name: str
    title: str
    kind: FamilyKind
    names: tuple[str, ...]
    grades: tuple[Grade, ...]
    modes: tuple[Mode, ...]
    own_clock: OwnClock | None
    ports: tuple[Port, ...]
    lines: tuple[str, ...]
    pins: Pins | None
    operations: tuple[Operation, ...]
    groups: Mapping[str, frozenset[str]]
    pair: Pair | None
    polls: tuple[Poll, ...]
    limits: tuple[LimitRow, ...]
    ratings: tuple[RatingRow, ...]
    bus_times: tuple[BusTimeRow, ...]
    bus_terms: tuple[BusTerm, ...]
    bus_edges: tuple[BusEdge, ...]
    bus_given: tuple[BusGiven, ...]
    port_given: tuple[BusGiven, ...]
    figures: tuple[Figure, ...]
    registers: tuple[Register, ...]
    outputs: tuple[Output, ...]
    frame: Frame | None
    formulas: tuple[Remark, ...]
    cautions: tuple[Remark, ...]

    def grade(self, word: str) -> Grade | None:
        """The grade called `word`, by its name or a part number, in any case; None if there is none."""
        wanted = word.casefold()
        for grade in self.grades:
            if wanted in (name.casefold() for name in (grade.name, *grade.names)):
                return grade
        return None

    @property
    def set_by_writes(self) -> tuple[Mode, ...]:
        """The modes that a program chooses by what it writes to registers; empty where none of them is chosen so."""
        return tuple(mode for mode in self.modes if mode.when)

    @property
    def inputs(self) -> tuple[str, ...]:
        """The pins that outputs count, each once."""
        return tuple(dict.fromkeys(output.input for output in self.outputs if output.input))

    def mode(self, word: str) -> Mode | None:
        """The mode called `word`; None if there is none."""
        return next((mode for mode in self.modes if mode.name == word), None)

    def port(self, name: str) -> Port | None:
        """The port called `name`; None if there is none."""
        return next((port for port in self.ports if port.name == name), None)

    def poll(self, name: str) -> Poll | None:
        """The poll called `name`; None if there is none."""
        return next((poll for poll in self.polls if poll.name == name), None)
