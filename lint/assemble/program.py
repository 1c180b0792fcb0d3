"""The assembled program: every later stage asks it, none looks at source text again."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ..address import port, shown
from ..cpu import Action, Cpu
from ..errors import Place
from ..source import BadNote, PlacedNote, Source, Span, Statement

SymbolKind = Literal["label", "constant", "variable", "unknown"]
FieldValue = int | str | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where something came from: the line in `source`, its column that of the operation, else of the label.

    `uses` are the lines that used the macros it stands in, `includes` those that included its file; both
    outermost first. A finding inside a macro points at `place`, the outermost use.
    """

    source: Source
    statement: Statement
    path: str
    line: int
    column: int
    uses: tuple[Place, ...] = ()
    includes: tuple[Place, ...] = ()

    @property
    def place(self) -> Place:
        """Where to point at: the outermost use of a macro, else the line itself."""
        return self.uses[0] if self.uses else self.text_place

    @property
    def text_place(self) -> Place:
        """The line itself; inside a macro that is the line of the macro's text."""
        return Place(self.path, self.line, self.column)


@dataclass(frozen=True, slots=True)
class OperandNumber:
    """One number of an operand: what a mend may replace.

    `hole` is the name in the operand pattern ("n8"), `text` the expression as assembled, `symbol` that text
    when it is exactly one symbol. `value` is None when a name in it is not known; the instruction then holds 0
    in its place, or itself as a branch target. `span` points into `origin.source.data`; None where the number
    came out of a macro's parameter and does not stand there literally.
    """

    hole: str
    value: int | None
    text: str
    span: Span | None
    symbol: str | None


@dataclass(frozen=True, slots=True)
class Instruction:
    """One machine instruction. `certain` is false when something before it had an unknown size.

    `placed` is false where the source does not say at which address it lies: a linker decides, `address` is a guess.
    `pattern` is the operand pattern of the processor table that was chosen, `fields` what its holes hold.
    """

    index: int
    address: int
    certain: bool
    placed: bool
    action: Action
    mnemonic: str  # upper-case, as in the processor table
    labels: tuple[str, ...]
    origin: Origin
    pattern: str
    fields: Mapping[str, FieldValue]
    operands: tuple[OperandNumber, ...]

    def address_of(self, operand: OperandNumber) -> int | None:
        """What an operand's number is as an address: of memory, or of a port where the instruction is for ports."""
        if operand.value is None or not self.action.row.operation.ports:
            return operand.value
        return port(operand.value)

    @property
    def end(self) -> int:
        """The address behind the instruction."""
        return self.address + self.action.size


@dataclass(frozen=True, slots=True)
class Symbol:
    """A name of the source. `value` is None when it could not be worked out, or the name is defined nowhere.

    `kind`: a label stands for an address, a constant was given by EQU, a variable by SET (its last value),
    unknown is used but not defined here. `span` is the expression that defines a constant.
    """

    name: str
    value: int | None
    kind: SymbolKind
    origin: Origin | None
    uses: tuple[Origin, ...] = ()
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Opaque:
    """A line that was not understood: its label is kept, its size and time are unknown.

    `lacks` is true where it is names without a value that leave it open.
    """

    origin: Origin
    cause: str
    lacks: bool = False


def brief(message: str) -> str:
    """A message that quotes the source, the middle of it left out where it is too long to be read."""
    return message if len(message) <= 400 else f"{message[:200]} ... {message[-180:]}"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in the source that did not stop the run."""

    place: Place
    message: str


@dataclass(frozen=True, slots=True)
class Reserved:
    """Memory set aside without a value: RMB and its like."""

    start: int
    size: int
    label: str | None


@dataclass(frozen=True, slots=True)
class Laid:
    """Data bytes that one line lays down; `lies` is where, which with moved code is not where it runs."""

    start: int
    size: int
    origin: Origin
    lies: int
    certain: bool


@dataclass(frozen=True, slots=True)
class BoundNote:
    """A timing note and the instruction it speaks of: that of its line, else the next one."""

    note: PlacedNote
    index: int
    origin: Origin


@dataclass(frozen=True, slots=True)
class Inclusion:
    """A line that takes in another file: where it stands, and the file's path."""

    place: Place
    path: str


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """All of one build. Instructions stand in the order of the source, which need not be that of addresses.

    `data` holds the byte values laid down by data directives, `code` those of the instructions, `laid` the lines the
    data comes from. `moved` says of instructions, by index, how far from where they run they lie. `statements`
    counts lines that are neither blank nor comment (macro uses expanded), `understood` those that are not
    opaque; lines of a false condition count as understood. `included_bytes` are the files whose bytes were laid
    down as they are, `inclusions` all lines that name a file that was found. `macros` has where each macro is defined
    last, by its name in upper case. `undefined` are the names that conditions asked for and nobody defined: a define
    would decide them. `missing` is the cause of the first include that was not found, and of the lines that may need
    it; "" where there is none. `choices` has what the conditions compare each with, or "defined or not".
    """

    cpu: Cpu
    path: str
    instructions: tuple[Instruction, ...]
    symbols: Mapping[str, Symbol]
    data: Mapping[int, int]
    code: Mapping[int, int]
    reserved: tuple[Reserved, ...]
    laid: tuple[Laid, ...]
    moved: Mapping[int, int]
    opaque: tuple[Opaque, ...]
    missing: str
    problems: tuple[Problem, ...]
    notes: tuple[BoundNote, ...]
    bad_notes: tuple[BadNote, ...]
    start: int | None
    files: tuple[Source, ...]
    included_bytes: tuple[str, ...]
    inclusions: tuple[Inclusion, ...]
    macros: Mapping[str, Origin]
    undefined: tuple[str, ...]
    choices: Mapping[str, tuple[str, ...]]
    statements: int
    understood: int
    by_address: Mapping[int, tuple[int, ...]]
    names: Mapping[int, tuple[str, ...]]

    def bytes(self) -> Iterator[tuple[int, int | None, Origin]]:
        """Every byte it puts into memory: where it lies, its value where that and the address are known, its line."""
        mask = (1 << self.cpu.address_bits) - 1
        for each in self.instructions:
            is_known = each.certain and all(number.value is not None for number in each.operands)
            start = each.address + self.moved.get(each.index, 0)
            for offset, byte in enumerate(each.action.code):
                yield start + offset & mask, byte if is_known else None, each.origin
        for laid in self.laid:
            for offset in range(laid.size):
                byte_there = self.data.get(laid.start + offset & mask) if laid.certain else None
                yield laid.lies + offset & mask, byte_there, laid.origin

    def at(self, address: int, near: int = 0) -> Instruction | None:
        """The instruction that starts at `address`; of several (overlays) the nearest to index `near`."""
        found = self.by_address.get(address, ())
        if not found:
            return None
        return self.instructions[min(found, key=lambda index: abs(index - near))]

    def pointed(self, address: int) -> Instruction | None:
        """The instruction that the address laid down in two bytes of data at `address` leads to: a vector."""
        pair = [self.data.get(address), self.data.get(address + 1)]
        high, low = pair if self.cpu.endian == "big" else reversed(pair)
        return None if high is None or low is None else self.at(high << 8 | low)

    def placed(self, address: int) -> Instruction | None:
        """The instruction at an address where the processor begins, unless others run on into it from above."""
        found = self.at(address)
        if found is None or address == 0 or found.index == 0:
            return found
        before = self.instructions[found.index - 1]
        runs_on = before.end == address and before.action.flow not in ("jump", "return")
        return None if runs_on else found

    def moving(self, instruction: Instruction) -> frozenset[str]:
        """The holes of its operand that hold addresses of this program, and move with it to another origin."""
        return frozenset(
            hole.name
            for hole in instruction.action.variant.holes
            if hole.kind == "address"
            and isinstance(address := instruction.fields[hole.name], int)
            and self.owns(address)
        )

    def label(self, name: str) -> Symbol | None:
        """The symbol of that name: as written, else the only one that differs in case alone."""
        if name in self.symbols:
            return self.symbols[name]
        alike = [symbol for key, symbol in self.symbols.items() if key.lower() == name.lower()]
        return alike[0] if len(alike) == 1 else None

    def owns(self, address: int) -> bool:
        """Whether the source lays down, reserves or puts code at the address."""
        if address in self.data or address in self.code:
            return True
        return any(each.start <= address < each.start + each.size for each in self.reserved)

    def symbol_at(self, address: int) -> str | None:
        """The name to print for an address: a label before a constant, the first defined before others."""
        return next(iter(self.names.get(address, ())), None)

    def shown(self, address: int) -> str:
        """The name to print for an address, else the address itself."""
        return self.symbol_at(address) or shown(address)
