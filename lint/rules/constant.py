"""Finds the constant in the source that a byte written to a part comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ..assemble import Instruction, OperandNumber, Program
from ..cpu import effects

# A constant is loaded at most so many instructions before it is stored. Common practice.
_MOST_BEFORE: Final = 24


@dataclass(frozen=True, slots=True)
class Source:
    """The operand of instruction `index` that holds the byte, by its hole; `shift` is 8 for its high byte."""

    index: int
    hole: str
    shift: int


def find(program: Program, index: int, value: int) -> Source | None:
    """The constant at or before instruction `index` from which it takes the byte; None where none is found.

    It is the byte itself, or one of a number of two bytes. Registers are followed back along what runs straight on.
    """
    wanted: frozenset[str] = frozenset()
    for number in range(index, max(index - _MOST_BEFORE, -1), -1):
        instruction = program.instructions[number]
        used = effects(instruction.action.meaning)
        if number != index:
            if instruction.action.flow in ("jump", "return"):
                return None
            if not used.writes & wanted:
                continue
        for operand in instruction.operands:
            shift = _shift(instruction, operand, value)
            if shift is not None:
                return Source(number, operand.hole, shift)
        wanted = wanted - used.surely | used.reads.difference(program.cpu.flags)
        if not wanted:
            return None
    return None


def _shift(instruction: Instruction, operand: OperandNumber, value: int) -> int | None:
    if operand.value is None or instruction.action.row.operation.ports or not _plain(instruction, operand):
        return None
    high, low = operand.value >> 8 & 0xFF, operand.value & 0xFF
    if low == value:
        return 0
    return 8 if high == value and operand.value > 0xFF else None


def _plain(instruction: Instruction, operand: OperandNumber) -> bool:
    """Whether the number is a value, not an address."""
    holes = instruction.action.variant.holes
    return any(hole.name == operand.hole and hole.kind == "number" for hole in holes)
