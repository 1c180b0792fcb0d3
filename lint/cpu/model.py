"""What a processor table says once read: forms, operations, rows, and instructions bound to operands."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

from .meaning import Effects, Expr, Register, Statement
from .step import Group, Repeated, Step

Value = (
    int | str | tuple[str, ...]
)  # what fills a hole: a number or address, a register's name, a register list
Fields = Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class RegisterClass:
    """Registers (or conditions) an operand may name, by spelling: their code and what it stands for.

    A register that reads as zero is the number 0; a condition is an expression.
    """

    codes: Mapping[str, int]
    registers: Mapping[str, Expr]


@dataclass(frozen=True, slots=True)
class Hole:
    """A gap in an operand: `kind` is number, direct, address, relative, signed, bit, multiple, register or list.

    Numbers lie between `low` and `high`, both included; a relative hole holds the target's address.
    """

    name: str
    kind: str
    width: int
    low: int
    high: int
    registers: RegisterClass | None


@dataclass(frozen=True, slots=True)
class Packed:
    """A byte put together from constant bits and holes, high bits first: (hole or constant, width)."""

    parts: tuple[tuple[str | int | None, int], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Variant:
    """One way to write and encode an operand.

    `layout` is what follows the opcode: hole names and packed bytes, in order. `ea`, `after` (side effects)
    and `value` are texts of the meaning notation; a variant without them is None or "". `conditions` are
    texts by name, for the guards of steps and for the meanings.
    """

    pattern: str
    holes: tuple[Hole, ...]
    layout: tuple[str | Packed, ...]
    ea: str | None
    after: str
    value: str | None
    steps: tuple[Group, ...]
    size: int  # bytes after the opcode
    conditions: Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """An addressing form: its variants in order of preference, narrowest first."""

    name: str
    variants: tuple[Variant, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Operation:
    """What an instruction does with its operand of `size` bytes, the steps that adds, and where it goes next.

    `ports` says whether it reads or writes a port. `flow` is next, branch, jump, call, return, interrupt, wait or
    halt; `flow_to_counter` is what it becomes where an operand makes it write the program counter. No interrupt is
    accepted right behind one that `shields`.
    """

    name: str
    meaning: str
    size: int
    ports: bool
    steps: tuple[Group, ...]
    flow: str
    flow_to_counter: str
    conditions: Mapping[str, str]
    shields: bool


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One opcode: its bytes with prefix, its mnemonics, what it joins, and the key of its source.

    `mark` is "" for an instruction of the maker's manual, else a word such as undocumented.
    `tail` are opcode bytes that stand behind the operand's. `insets` are operands inside the opcode: the code of a
    hole, shifted by that many bits, is or'ed to `code` and `tail` read as one number.
    """

    code: bytes
    mnemonics: tuple[str, ...]
    form: Form
    operation: Operation
    bindings: Mapping[str, str]
    source: str
    mark: str = ""
    tail: bytes = b""
    insets: tuple[tuple[str, int], ...] = ()

    def opcode(self, codes: Mapping[str, int]) -> tuple[bytes, bytes]:
        """The bytes before and behind the operand's, with the codes of the insets put in."""
        if not self.insets:
            return self.code, self.tail
        whole = self.code + self.tail
        number = int.from_bytes(whole, "big")
        for name, shift in self.insets:
            number |= codes[name] << shift
        whole = number.to_bytes(len(whole), "big")
        return whole[: len(self.code)], whole[len(self.code) :]


@dataclass(frozen=True, slots=True, eq=False)
class Action:
    """One instruction at one address, all operands filled in.

    `steps` are its bus cycles in order. `conditions` holds what the guards of the steps ask, over the state
    before the instruction. `target` is where a jump, branch or call goes, over that same state; None where
    it is not known from the instruction alone. `unplaced` names the condition under which no source places
    the idle steps. `used` are the effects of the meaning. `alike` is the same for all that differ in numbers and
    addresses alone: their meanings have the same statements.
    """

    row: Row
    variant: Variant
    fields: Fields
    address: int
    code: bytes
    meaning: tuple[Statement, ...]
    steps: tuple[Step | Repeated, ...]
    flow: str
    target: Expr | None
    conditions: Mapping[str, Expr]
    unplaced: str | None
    used: Effects
    alike: Hashable

    @property
    def size(self) -> int:
        """Length in bytes."""
        return len(self.code)

    @property
    def after(self) -> int:
        """The address behind the instruction (not cut to the address bus)."""
        return self.address + len(self.code)

    @property
    def mnemonic(self) -> str:
        """The first of its mnemonics."""
        return self.row.mnemonics[0]


@dataclass(frozen=True, slots=True)
class Refresh:
    """Cycles that the processor puts between its machine cycles, in no step of any instruction, `when` that is not 0.

    One is due `every` so many cycles, `takes` so many itself, and comes at most so many too `late`.
    """

    when: Expr
    every: Expr
    takes: Expr
    late: Expr
    source: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A byte stored at the address `by` puts them `apart` times as high as its value, of which there are `places`."""

    by: int
    places: int
    apart: int


@dataclass(frozen=True, slots=True)
class OnChip:
    """Registers on the processor's own chip, one behind the other: what is read there may change by itself.

    `first` is an address, or the number of a port where `port`; it may ask registers that hold where they were put.
    `moved` is a store that moves them, None where none does.
    """

    first: Expr
    size: int
    port: bool
    source: str
    moved: Moved | None


@dataclass(frozen=True, slots=True, eq=False)
class Interrupt:
    """What the processor does when it accepts an interrupt, counted up to the handler's first fetch.

    `mask` is the flag that, when set, keeps it out (None: cannot be masked); `vector` is the address that
    holds the handler's address, or where `direct` the address of the handler itself; None
    where the device says it.
    """

    name: str
    vector: int | None
    direct: bool
    mask: Register | None
    meaning: tuple[Statement, ...]
    steps: tuple[Step | Repeated, ...]
    conditions: Mapping[str, Expr]
    unplaced: str | None
