"""Directives that lay down or set aside memory: lists, texts, digits, reserved and filled stretches."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from ..source import Shape
from .expression import (
    Expression,
    Group,
    Unary,
)
from .line import Line
from .program import (
    Reserved,
)
from .state import State
from .values import Part, Repeated, Text, values

_MIXED = re.compile(r"""\"[^\"]*\"|'[^']*'|[^\s]+""")


@dataclass(slots=True, eq=False)
class Storage(State):
    """The state of a pass, with what puts data into memory."""

    _characters: dict[int, int] = field(
        default_factory=dict
    )  # what characters of lists become, where not themselves

    def _values(self, line: Line, size: int) -> None:
        if not line.operand and self.counter.structure is not None:
            self._advance(size)
            return
        self._parts(line, self._listed(line, "values"), size)

    def _listed(self, line: Line, shape: Shape) -> tuple[Part, ...]:
        return values(self.syntax.grammar, line.operand, shape, line.row.source.vocabulary.syntax.escapes)

    def _parts(self, line: Line, parts: Sequence[Part], size: int) -> None:
        for part in parts:
            match part:
                case Text(characters):
                    for byte in characters:
                        self._byte(self._characters.get(byte, byte), size)
                case Repeated(times, inner):
                    count = self.value(line, times)
                    if count is None or not self._is_sane(count * self._amount(line, inner)):
                        self._opaque(line, f"how often it repeats is not known: {line.operand}", lacks=True)
                        continue
                    for _ in range(count):
                        self._parts(line, inner, size)
                case None:
                    self._opaque(line, f'"{line.operand}" is no list of values', is_sized=True)
                    self._advance(size)
                case _:
                    self._number(line, part, size)

    def _amount(self, line: Line, parts: Sequence[Part]) -> int:
        """How many values some parts are; a count that is not known counts once."""
        found = 0
        for part in parts:
            match part:
                case Text(characters):
                    found += len(characters)
                case Repeated(times, inner):
                    count = self.value(line, times)
                    found += (1 if count is None else count) * self._amount(line, inner)
                case _:
                    found += 1
        return found

    def _map(self, line: Line) -> None:
        """A character, and what it and those behind it become; a number alone for all, nothing for each itself."""
        first, *others = self._listed(line, "values") if line.operand else (None,)
        numbers = [number for part in (first, *others) for number in self._codes(line, part)]
        if not line.operand:
            self._characters.clear()
        elif None in numbers or not numbers:
            self._opaque(line, f'"{line.operand}" is no character and what it becomes', is_sized=True)
        elif not others:
            self._characters = dict.fromkeys(range(256), (numbers[0] or 0) & 0xFF)
        else:
            places = range(numbers[0] or 0, 256)
            self._characters |= {
                at: (code or 0) & 0xFF for at, code in zip(places, numbers[1:], strict=False)
            }

    def _codes(self, line: Line, part: Part) -> Sequence[int | None]:
        match part:
            case Text(characters):
                return list(characters)
            case None | Repeated():
                return [None]
            case _:
                return [self.value(line, part)]

    def _number(self, line: Line, expression: Expression, size: int) -> None:
        value = self.value(line, expression, -(1 << 8 * size - 1), (1 << 8 * size) - 1)
        if value is not None and not -(1 << 8 * size) <= value < 1 << 8 * size:
            cut = value % (1 << 8 * size)
            self._problem(line, f"{value} does not fit in {8 * size} bits; assembled as {cut}")
        self._byte(value, size)

    def _byte(self, value: int | None, size: int) -> None:
        """A number of `size` bytes in the processor's order; an unknown one takes its place without a value."""
        if value is not None and self.emit and self.counter.structure is None:
            order: Literal["big", "little"] = "big" if self.cpu.endian == "big" else "little"
            digits = (value % (1 << 8 * size)).to_bytes(size, order)
            for offset, byte in enumerate(digits):
                self.data[self.counter.address + offset & self.counter.mask] = byte
        self._laid += size * (self.counter.structure is None)
        self._advance(size)

    def _text(self, line: Line) -> None:
        parts = self._listed(line, "text")
        if any(part is None for part in parts):
            self._opaque(line, f'"{line.operand}" is no text between two equal marks')
            return
        if line.word == "text-counted":
            self._byte(sum(len(part.characters) if isinstance(part, Text) else 1 for part in parts), 1)
        for index, part in enumerate(parts):
            last = index == len(parts) - 1
            if not isinstance(part, Text):
                self._parts(line, (part,), 1)
                continue
            characters = part.characters
            if last and line.word == "text-sign" and characters:
                characters = characters[:-1] + bytes([characters[-1] | 0x80])
            for byte in characters:
                self._byte(byte, 1)
        if line.word == "text-zero":
            self._byte(0, 1)

    def _split(self, line: Line, parts: Sequence[str]) -> None:
        """Some bytes of each number of a list, whatever the order of the processor."""
        for part in values(self.syntax.grammar, line.operand, "values"):
            if part is None or isinstance(part, Text | Repeated):
                self._opaque(line, f'"{line.operand}" is no list of numbers', is_sized=False)
                return
            for name in parts:
                self._number(line, Unary(name, Group(part)), 1)

    def _digits(self, line: Line, base: int) -> None:
        """Digits without a mark, as many bytes as they fill: HEX 0A0D1B."""
        for part in re.split(r"[\s,]+", line.operand.strip()):
            try:
                value = int(part, base)
            except ValueError:
                self._opaque(line, f'"{line.operand}" is no row of digits', is_sized=False)
                return
            self._byte(value, -(-len(part) * (base.bit_length() - 1) // 8))

    def _mixed(self, line: Line) -> None:
        """Strings, bytes and words with blanks between them: a number is as wide as written, a name is a word."""
        for part in _MIXED.findall(line.operand):
            digits = 8 if part[0] == "%" else 2
            is_byte = part[0] in "\"'" or (not part[0].isalpha() and len(part.lstrip("$%")) <= digits)
            self._values(replace(line, operand=part), 1 if is_byte else 2)

    def _reserve(self, line: Line, size: int) -> None:
        count = self._count(line)
        start = self.counter.next
        if line.label and self.counter.structure is not None:
            self._field(line)
        start = self.counter.reserve((count or 0) * size)
        if line.label and self.counter.structure is None:
            self._define(line, "label", start)
        if count is None:
            self._opaque(line, f"how much is reserved is not known: {line.operand}", lacks=True)
            return
        self._labels.clear()
        if self.counter.structure is None:
            self.reserved.append(Reserved(start, count * size, line.label))

    def _zeros(self, line: Line, size: int) -> None:
        count = self._count(line)
        if count is None:
            self._opaque(line, f"how much is filled is not known: {line.operand}", lacks=True)
            return
        self._same(0, count * size)

    def _fill(self, line: Line) -> None:
        """A value and how often, or how often and a value, which may be left out: 0 then."""
        parts = self._listed(line, "values")
        numbers = [self.value(line, part) for part in parts if part and not isinstance(part, Text | Repeated)]
        if line.word != "fill":
            numbers = [*numbers[1:], 0][:1] + numbers[:1]
        if len(parts) > 2 or len(numbers) != 2 or numbers[1] is None or not self._is_sane(numbers[1]):
            self._opaque(line, f"how much is filled is not known: {line.operand}", lacks=True)
            return
        self._same(numbers[0], numbers[1], 2 if line.word == "fill-count-2" else 1)

    def _same(self, value: int | None, count: int, size: int = 1) -> None:
        for _ in range(count):
            self._byte(value, size)

    def _align(self, line: Line) -> None:
        step = self._count(line)
        if not step:
            self._opaque(line, f"what it is aligned to is not known: {line.operand}", lacks=True)
            return
        self._advance(-self.counter.next % step)
        self._label(line)
