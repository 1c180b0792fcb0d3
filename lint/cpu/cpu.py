"""A processor: its table read into values, and instructions bound to operands and decoded from memory."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from ..tables import Node
from . import bind as binding
from .decode import Decoder, Memory, decoder
from .meaning import Expr, Number, Register, registers
from .model import Action, Fields, Interrupt, Moved, OnChip, Refresh, Row, Variant
from .notation import Names, expression
from .step import Group
from .table import Reader, find


@dataclass(frozen=True, slots=True, eq=False)
class Cpu:
    """One processor in one start mode.

    `registers` are the stored ones with their widths; `views` are names for several of them, high bits
    first; `flags` are single bits, in the order of the flag register. `initial` are values known when a
    program starts. `vectors` are addresses that hold the address of code, `places` those where code begins.
    `outside` are registers that work outside the program, `on_chip` those on the chip that have addresses, `refresh`
    says which cycles come between those of the program.
    `stated` are those of `initial` that were stated for a board and not read in the table.
    `sources` has the full title of every source key a row may name. `mnemonics` leads from an upper-case
    mnemonic to its rows, in order of preference (narrowest form first, rows with a mark last). `whole`
    are words that stand for a mnemonic and its operand. `words` has the mnemonics of each maker that the table knows,
    by the syntax they belong to, the processor's own first.
    """

    name: str
    title: str
    syntax: str
    endian: str
    address_bits: int
    port_bits: int
    clock: Mapping[str, str]
    registers: Mapping[str, int]
    flags: tuple[str, ...]
    views: Mapping[str, Register]
    initial: Mapping[str, int]
    conditions: Mapping[str, Expr]
    vectors: Mapping[str, int]
    places: Mapping[str, int]
    outside: frozenset[str]
    on_chip: tuple[OnChip, ...]
    refresh: Refresh | None
    interrupts: Mapping[str, Interrupt]
    sources: Mapping[str, str]
    rows: tuple[Row, ...]
    mnemonics: Mapping[str, tuple[Row, ...]]
    whole: Mapping[str, tuple[str, str]]
    words: Mapping[str, frozenset[str]]
    names: Names
    unplaced_idle: str | None
    prefix: tuple[Group, ...]
    decoder: Decoder
    stated: frozenset[tuple[str, int]]

    @property
    def mode_registers(self) -> frozenset[str]:
        """Registers with a known start value that decide how many cycles other instructions take."""
        return self.deciding & self.initial.keys()

    @property
    def deciding(self) -> frozenset[str]:
        """Registers that decide how many cycles other instructions take, or what comes between them."""
        between = self.refresh
        more = () if between is None else (between.when, between.every, between.takes, between.late)
        return frozenset(name for expr in (*self.conditions.values(), *more) for name in registers(expr))

    def written(self, syntax: str) -> "Cpu":
        """The same processor in the words of that syntax."""
        return load(self.name, syntax, self.stated)

    def register(self, name: str) -> Register:
        """The register, flag or view of that name; raises KeyError."""
        found = self.names.values[name]
        if not isinstance(found, Register):
            raise KeyError(name)
        return found

    def size(self, row: Row, variant: Variant) -> int:
        """Length in bytes of an instruction, which needs no operand values."""
        return len(row.code) + variant.size + len(row.tail)

    def encode(self, row: Row, variant: Variant, fields: Fields, address: int) -> bytes:
        """The bytes of an instruction at `address`; raises OperandError for a field that does not fit."""
        return binding.encode(row, variant, fields, address, self.endian, self.address_bits)

    def bind(self, row: Row, variant: Variant, fields: Fields, address: int) -> Action:
        """The instruction with its operands filled in, at `address`.

        `fields` has a value for every hole of the variant: a number, a target address for relative ones, a
        register's spelling, or a tuple of spellings. A direct address may be given whole: its low byte is
        encoded. Raises OperandError for a value that does not fit, naming what would.
        """
        return _bound(self, row, variant, tuple(sorted(fields.items())), address)

    def decode(self, memory: Memory, address: int) -> Action | None:
        """The instruction that stands at `address`, or None where its bytes are none of this table."""
        found = self.decoder.read(memory, address)
        if found is None:
            return None
        row, variant, fields = found
        return self.bind(row, variant, fields, address)


_Fields = tuple[tuple[str, int | str | tuple[str, ...]], ...]


@lru_cache(maxsize=65536)
def _bound(
    cpu: Cpu,
    row: Row,
    variant: Variant,
    fields: _Fields,
    address: int,
) -> Action:
    if binding.anywhere(row, variant):
        return replace(_anywhere(cpu, row, variant, fields), address=address)
    return _made(cpu, row, variant, fields, address)


@lru_cache(maxsize=65536)
def _anywhere(cpu: Cpu, row: Row, variant: Variant, fields: _Fields) -> Action:
    return _made(cpu, row, variant, fields, 0)


def _made(cpu: Cpu, row: Row, variant: Variant, fields: _Fields, address: int) -> Action:
    return binding.bind(
        row,
        variant,
        dict(fields),
        address,
        cpu.names,
        cpu.endian,
        cpu.address_bits,
        cpu.unplaced_idle,
        cpu.prefix,
    )


@cache
def load(name: str, syntax: str = "", stated: frozenset[tuple[str, int]] = frozenset()) -> Cpu:
    """The processor of that name, such as "6809", "6309" or "6309-native" (see `table.names`).

    `syntax` asks for another maker's mnemonics than the table's own, `stated` are registers with what they hold at
    the start where that is not what the table says. Raises TableError for an unknown name, with
    the nearest ones, and for a table that is wrong, with its place.
    """
    root, mode = find(name)
    reader = Reader(root, syntax)
    names = _names(reader)
    unplaced = reader.text("unplaced_idle") or None
    rows = reader.rows()
    endian, bits = reader.text("endian"), int(reader.text("address_bits"))
    return Cpu(
        name=name,
        title=reader.text("title"),
        syntax=reader.syntax,
        endian=endian,
        address_bits=bits,
        port_bits=int(reader.text("port_bits") or "0"),
        clock=reader.texts("clock"),
        registers=reader.integers("registers"),
        flags=reader.flags,
        views={key: reader.registers[key] for key in reader.texts("views")},
        initial=reader.integers("initial")
        | {key: node.integer() for key, node in mode.items()}
        | dict(stated),
        conditions={key: expression(text, names) for key, text in reader.texts("conditions").items()},
        vectors=reader.integers("vectors"),
        places=reader.integers("places"),
        outside=frozenset(reader.text("outside").split()),
        on_chip=tuple(_on_chip(node, reader, names) for node in reader.section("on_chip").values()),
        refresh=_refresh(reader, names),
        interrupts={
            key: _interrupt(key, node, reader, names, unplaced) for key, node in _section(root).items()
        },
        sources={key: _title(node) for key, node in root.mapping()["sources"].mapping().items()},
        rows=rows,
        mnemonics=_by_mnemonic(rows, reader),
        whole=_with_operands(reader),
        words=reader.words(),
        names=names,
        unplaced_idle=unplaced,
        prefix=reader.prefix,
        decoder=decoder(rows, endian, bits),
        stated=stated,
    )


def _names(reader: Reader) -> Names:
    places = reader.integers("vectors") | reader.integers("places")
    vectors = {name: Number(address) for name, address in places.items()}
    names = Names({**vectors, **reader.registers}, reader.lists())
    for key, text in reader.texts("conditions").items():
        names = replace(names, values={**names.values, key: expression(text, names)})
    return names


def _section(root: Node) -> Mapping[str, Node]:
    node = root.mapping().get("interrupts")
    return node.mapping() if node else {}


def _interrupt(name: str, node: Node, reader: Reader, names: Names, unplaced: str | None) -> Interrupt:
    entries = node.fields(("operation",), ("vector", "place", "mask", "source"))
    operation = reader.operations[entries["operation"].choice(reader.operations)]
    direct = "place" in entries
    place = entries.get("place" if direct else "vector")
    vector = reader.integers("places" if direct else "vectors")[place.text()] if place else None
    names = replace(names, values={**names.values, "vector": Number(vector or 0)})
    meaning, steps, conditions = binding.interrupt(operation, names)
    mask = reader.register(entries["mask"].text(), entries["mask"]) if "mask" in entries else None
    return Interrupt(
        name, vector, direct, mask, meaning, steps, conditions, unplaced if unplaced in conditions else None
    )


def _on_chip(node: Node, reader: Reader, names: Names) -> OnChip:
    entries = node.fields(("first", "size", "source"), ("space", "moved"))
    port = "space" in entries and entries["space"].choice(("memory", "port")) == "port"
    return OnChip(
        expression(entries["first"].text(), names),
        entries["size"].integer(1),
        port,
        entries["source"].choice(reader.section("sources")),
        _moved(entries["moved"]) if "moved" in entries else None,
    )


def _moved(node: Node) -> Moved:
    entries = node.fields(("by", "places", "apart"))
    return Moved(*(entries[key].integer(1) for key in ("by", "places", "apart")))


def _refresh(reader: Reader, names: Names) -> Refresh | None:
    if "refresh" not in reader.sections:
        return None
    entries = reader.sections["refresh"].fields(("when", "every", "takes", "late", "source"))
    when, every, takes, late = (
        expression(entries[key].text(), names) for key in ("when", "every", "takes", "late")
    )
    return Refresh(when, every, takes, late, entries["source"].choice(reader.section("sources")))


def _title(node: Node) -> str:
    """A source in one line: title, then what else identifies it, such as number, author and date."""
    entries = node.fields(("title",), ("number", "author", "date", "used"))
    return ", ".join(entries[key].text() for key in ("title", "author", "number", "date") if key in entries)


def _with_operands(reader: Reader) -> dict[str, tuple[str, str]]:
    """Synonyms that stand for a mnemonic with its operand."""
    found = {}
    for word, node in reader.section("synonyms").items():
        mnemonic, _, operand = node.text().partition(" ")
        if operand:
            found[word] = (mnemonic, operand)
    return found


def _by_mnemonic(rows: tuple[Row, ...], reader: Reader) -> dict[str, tuple[Row, ...]]:
    """The rows of every mnemonic and of its synonyms."""
    found: dict[str, list[Row]] = {}
    for row in sorted(rows, key=lambda row: row.mark != ""):
        for mnemonic in row.mnemonics:
            found.setdefault(mnemonic, []).append(row)
    for word, node in reader.section("synonyms").items():
        if " " not in node.text():
            found[word] = found[node.choice(found)]
    return {mnemonic: tuple(each) for mnemonic, each in found.items()}
