"""Finds the instruction that stands in memory, from the same rows that encode it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from .model import Hole, Packed, Row, Value, Variant

Memory = Callable[[int], int]  # address -> byte
Decoded = tuple[Row, Variant, dict[str, Value]]


@dataclass(frozen=True, slots=True, eq=False)
class Decoder:
    """Rows by their opcode bytes."""

    rows: dict[bytes, tuple[Row, ...]]
    prefixes: frozenset[bytes]
    endian: str
    address_bits: int

    def read(self, memory: Memory, address: int) -> Decoded | None:
        """Row, variant and fields of the instruction at `address`; None where no row fits the bytes."""
        code = bytes((memory(address),))
        while code in self.prefixes:
            code += bytes((memory(address + len(code)),))
        for row in self.rows.get(code, ()):
            for variant in row.form.variants:
                fields = self._fields(row, variant, memory, address)
                if fields is not None:
                    return row, variant, fields
        return None

    def _fields(self, row: Row, variant: Variant, memory: Memory, address: int) -> dict[str, Value] | None:
        holes = {hole.name: hole for hole in variant.holes}
        after = address + len(row.code) + variant.size
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
    found: dict[bytes, tuple[Row, ...]] = {}
    for row in rows:
        found[row.code] = (*found.get(row.code, ()), row)
    prefixes = frozenset(code[:length] for code in found for length in range(1, len(code)))
    return Decoder(found, prefixes, endian, address_bits)


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
