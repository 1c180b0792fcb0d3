"""Finds the instruction that stands in memory, from the same rows that encode it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from .model import Hole, Packed, Row, Value, Variant

Memory = Callable[[int], int]  # address -> byte
Fields = dict[str, Value]
Decoded = tuple[Row, Variant, Fields]


@dataclass(frozen=True, slots=True, eq=False)
class Decoder:
    """Rows by their opcode bytes, with the operands inside those bytes."""

    rows: dict[bytes, tuple[tuple[Row, bytes, Fields], ...]]
    prefixes: frozenset[bytes]
    endian: str
    address_bits: int

    def read(self, memory: Memory, address: int) -> Decoded | None:
        """Row, variant and fields of the instruction at `address`; None where no row fits the bytes."""
        code = bytes((memory(address),))
        while code in self.prefixes:
            code += bytes((memory(address + len(code)),))
        for row, tail, inset in self.rows.get(code, ()):
            for variant in row.form.variants:
                fields = self._fields(row, variant, memory, address, tail)
                if fields is not None:
                    return row, variant, fields | inset
        return None

    def _fields(self, row: Row, variant: Variant, memory: Memory, address: int, tail: bytes) -> Fields | None:
        holes = {hole.name: hole for hole in variant.holes}
        after = address + len(row.code) + variant.size + len(tail)
        if any(memory(after - len(tail) + place) != byte for place, byte in enumerate(tail)):
            return None
        fields: dict[str, Value] = {}
        place = address + len(row.code)
        for part in variant.layout:
            if isinstance(part, Packed):
                if not _unpack(part, memory(place), holes, fields):
                    return None
                place += 1
                continue
            size = max(holes[part].width // 8, 1)
            raw = bytes(memory(place + index) for index in range(size))
            value = self._value(
                holes[part], int.from_bytes(raw, "big" if self.endian == "big" else "little"), after
            )
            if value is None:
                return None
            fields[part] = value
            place += size
        return fields

    def _value(self, hole: Hole, raw: int, after: int) -> Value | None:
        if hole.kind == "relative":
            return (after + _signed(raw, hole.width)) % (1 << self.address_bits)
        return _named(hole, raw)


def decoder(rows: Sequence[Row], endian: str, address_bits: int) -> Decoder:
    """The decoder of a table's rows; where two share an opcode, the first that fits is taken."""
    found: dict[bytes, tuple[tuple[Row, bytes, Fields], ...]] = {}
    for row in rows:
        for code, tail, fields in opcodes(row):
            found[code] = (*found.get(code, ()), (row, tail, fields))
    prefixes = frozenset(code[:length] for code in found for length in range(1, len(code)))
    return Decoder(found, prefixes, endian, address_bits)


def opcodes(row: Row) -> Iterator[tuple[bytes, bytes, Fields]]:
    """Every opcode of a row, with the operands that lie inside it."""
    holes = {hole.name: hole for hole in row.form.variants[0].holes}
    choices = [tuple(_codes(holes[name])) for name, _ in row.insets]
    for choice in product(*choices):
        fields = {name: value for (name, _), (value, _) in zip(row.insets, choice, strict=True)}
        code, tail = row.opcode({name: code for (name, _), (_, code) in zip(row.insets, choice, strict=True)})
        yield code, tail, fields


def _codes(hole: Hole) -> Iterator[tuple[Value, int]]:
    """What can stand in a hole inside the opcode, with its code."""
    if hole.registers is not None:
        yield from hole.registers.codes.items()
    else:
        step = 8 if hole.kind == "multiple" else 1
        yield from ((value, value) for value in range(hole.low, hole.high + 1, step))


def _unpack(part: Packed, byte: int, holes: dict[str, Hole], fields: dict[str, Value]) -> bool:
    shift = 8
    for content, width in part.parts:
        shift -= width
        bits = byte >> shift & ((1 << width) - 1)
        if isinstance(content, str):
            hole = holes[content]
            value = _named(hole, _signed(bits, width) if hole.kind == "signed" else bits)
            if value is None:
                return False
            fields[content] = value
        elif content is not None and content != bits:
            return False
    return True


def _named(hole: Hole, raw: int) -> Value | None:
    """A raw value as its hole's field: signed, a register's spelling, the spellings of a list."""
    if hole.kind == "signed":
        return _signed(raw, hole.width)
    if hole.registers is None:
        return raw
    codes = hole.registers.codes
    if hole.kind == "register":
        return next((name for name, code in codes.items() if code == raw), None)
    return tuple(name for name, code in codes.items() if code & (code - 1) == 0 and raw & code)


def _signed(raw: int, width: int) -> int:
    raw &= (1 << width) - 1
    return raw - (1 << width) if raw >> (width - 1) else raw
