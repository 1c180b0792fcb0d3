"""Bytes of the program that an instruction speaks of by number or by distance: they don't move with what they mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from ..assemble import Instruction, OperandNumber, Program
from ..assemble.expression import Binary, Expression, Group, Here, Name, Near, Number
from ..assemble.operand import parse_expression
from ..source import load_syntax

# Operands that are addresses whatever stands there; of others only those that are written with a label.
_ADDRESSES: Final = ("address", "direct")
_LONGEST: Final = 8  # bytes of an instruction


def misled(before: Program, after: Program, heads: Sequence[int], own: Sequence[int]) -> str:
    """Why not to make an edit: an instruction would speak of another byte of the program than it did.

    A store into FILL+4 would, where a pad comes in behind FILL, and one into $C010. `heads` and `own` say where each
    instruction's labels and the instruction itself are in the edited program. Empty where none would. What data says
    of places is not looked at.
    """
    places = _Places(before, after, heads, own)
    for instruction in before.instructions:
        # Where control goes is compared by where it comes to.
        if instruction.action.flow in ("branch", "jump", "call"):
            continue
        there = after.instructions[own[instruction.index]]
        for was, will in zip(instruction.operands, there.operands, strict=False):
            if was.value is None or not _is_address(before, instruction, was):
                continue
            allowed = set(places.of(was.value))
            if allowed and will.value not in allowed:
                line = instruction.origin.text_place.line
                return f"{was.text.strip()} in line {line} would be another place: it does not move with the code"
    return ""


class _Places:
    """Where each byte of a program is once it is edited."""

    def __init__(self, before: Program, after: Program, heads: Sequence[int], own: Sequence[int]) -> None:
        self._before = before
        self._after = after
        self._heads = heads
        self._own = own
        laid = zip(before.laid, after.laid, strict=False)
        reserved = zip(before.reserved, after.reserved, strict=False)
        self._blocks = [
            *((old.start, old.size, new.start) for old, new in laid),
            *((old.start, old.size, new.start) for old, new in reserved),
        ]

    def of(self, address: int) -> Iterator[int]:
        """Where that is which was at the address; nothing where the program has nothing there."""
        before, after = self._before.instructions, self._after.instructions
        for index in self._before.by_address.get(address, ()):
            yield after[self._heads[index]].address
            yield after[self._own[index]].address
        for start in range(max(0, address - _LONGEST), address):
            for index in self._before.by_address.get(start, ()):
                if before[index].end > address:
                    yield after[self._own[index]].address + address - start
        for start, size, new in self._blocks:
            if start <= address < start + size:
                yield new + address - start


def _is_address(program: Program, instruction: Instruction, operand: OperandNumber) -> bool:
    kinds = {hole.name: hole.kind for hole in instruction.action.variant.holes}
    if kinds.get(operand.hole) in _ADDRESSES:
        return True
    expression = parse_expression(load_syntax(program.cpu.syntax).grammar, operand.text)
    return expression is not None and _places(program, expression) == 1


def _places(program: Program, expression: Expression) -> int | None:
    """How many places of the program an expression adds up, less those it takes off; None where it does more."""
    match expression:
        case Name(text):
            symbol = program.label(text)
            return int(symbol is not None and symbol.kind == "label")
        case Here() | Near():
            return 1
        case Group(inner):
            return _places(program, inner)
        case Binary("+" | "-" as op, left, right):
            one, other = _places(program, left), _places(program, right)
            if one is None or other is None:
                return None
            return one + other if op == "+" else one - other
        case Number():
            return 0
        case _:
            return None
