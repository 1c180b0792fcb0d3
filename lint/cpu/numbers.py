"""The operators of the meaning notation on whole numbers."""

import operator
from collections.abc import Callable

_BINARY: dict[str, Callable[[int, int], int]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": lambda left, right: left // right if right else 0,
    "%": lambda left, right: left % right if right else 0,
    "&": operator.and_,
    "|": operator.or_,
    "^": operator.xor,
    "<<": operator.lshift,
    ">>": operator.rshift,
    "==": lambda left, right: int(left == right),
    "!=": lambda left, right: int(left != right),
    "<": lambda left, right: int(left < right),
    "<=": lambda left, right: int(left <= right),
    ">": lambda left, right: int(left > right),
    ">=": lambda left, right: int(left >= right),
}


def unary(op: str, operand: int) -> int:
    """`-`, `~`, `!` or `parity` of a number."""
    if op == "parity":
        return 1 - (operand & 0xFF).bit_count() % 2
    if op == "-":
        return -operand
    return ~operand if op == "~" else int(operand == 0)


def binary(op: str, left: int, right: int) -> int:
    """An operator on two numbers; comparisons give 1 or 0, division rounds downwards and gives 0 by zero."""
    return _BINARY[op](left, right)


def bits(value: int, high: int, low: int) -> int:
    """Bits `high` down to `low` of a number."""
    return (value >> low) & ((1 << (high - low + 1)) - 1)


def signed(value: int, width: int) -> int:
    """The low `width` bits as two's complement."""
    sign = 1 << (width - 1)
    return ((value & ((1 << width) - 1)) ^ sign) - sign
