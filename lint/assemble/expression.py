"""Expressions of a source text: their tree, and their value where every name has one."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache, reduce
from typing import Final, Protocol, assert_never

_WIDEST: Final = 64  # bits of a value


@dataclass(frozen=True, slots=True)
class Number:
    """A number or character as written."""

    value: int


@dataclass(frozen=True, slots=True)
class Name:
    """A symbol, a local label, or a register: who asks decides."""

    text: str


@dataclass(frozen=True, slots=True)
class Near:
    """`1b` or `1f`: the nearest label of that number before or behind; 10b may be a binary number, too.

    `:--` is the second label that is only a colon, `--` one of that spelling or the second `-`.
    """

    number: str
    forward: bool
    count: int = 1


@dataclass(frozen=True, slots=True)
class Here:
    """The current address; `mark` is how it was written, for syntaxes where two counters run."""

    mark: str


@dataclass(frozen=True, slots=True)
class Unary:
    """`op` is - + ~ ! or "low", "high", or "[]" for brackets around the operand."""

    op: str
    operand: "Expression"


@dataclass(frozen=True, slots=True)
class Binary:
    """`op` is one of + - * / % & | ^ << >> == != < <= > >= && ||."""

    op: str
    left: "Expression"
    right: "Expression"


@dataclass(frozen=True, slots=True)
class Group:
    """An expression in parentheses."""

    inner: "Expression"


Expression = Number | Name | Near | Here | Unary | Binary | Group


class Scope(Protocol):
    """What names stand for at one place of the program; None where that is not known."""

    def name(self, text: str) -> int | None: ...

    def near(self, number: str, forward: bool, count: int) -> int | None: ...

    def here(self, mark: str) -> int | None: ...


def evaluate(expression: Expression, scope: Scope) -> int | None:
    """The value, an unbounded integer; None when a name has none, or for a division by zero.

    Every name is asked for even when the value is already lost, so that `scope` sees all uses. Division
    rounds towards zero as integer assemblers do (common practice); comparisons give 1 or 0.
    """
    match expression:
        case Number(value):
            return value
        case Name(text):
            return scope.name(text)
        case Near(number, forward, count):
            label = scope.near(number, forward, count)
            is_binary = label is None and not forward and set(number) <= {"0", "1"}
            return int(number, 2) if is_binary else label
        case Here(mark):
            return scope.here(mark)
        case Unary(op, operand):
            only = evaluate(operand, scope)
            return None if only is None else _unary(op, only)
        case Group(inner):
            return evaluate(inner, scope)
        case Binary(op, left, right):
            first, second = evaluate(left, scope), evaluate(right, scope)
            return None if first is None or second is None else _binary(op, first, second)
    assert_never(expression)


def names(expression: Expression) -> Iterator[str]:
    """The names in an expression, in order."""
    match expression:
        case Name(text):
            yield text
        case Unary(_, inner) | Group(inner):
            yield from names(inner)
        case Binary(_, left, right):
            yield from names(left)
            yield from names(right)


@lru_cache(maxsize=65536)
def from_left_to_right(expression: Expression) -> Expression:
    """The same text read as assemblers without precedence do: A-B/2 as (A-B)/2. Often the same tree."""
    match expression:
        case Binary():
            first, *others = _in_order(expression)
            return reduce(lambda left, link: Binary(link[0], left, link[1]), others, first[1])
        case Unary(op, operand):
            return Unary(op, from_left_to_right(operand))
        case Group(inner):
            return Group(from_left_to_right(inner))
        case Number() | Name() | Near() | Here():
            return expression
    assert_never(expression)


def _in_order(expression: Expression) -> list[tuple[str, Expression]]:
    """The operands of a chain of operators as they stand in the text, each with the operator before it."""
    match expression:
        case Binary(op, left, right):
            (_, first), *others = _in_order(right)
            return [*_in_order(left), (op, first), *others]
    return [("", from_left_to_right(expression))]


def _unary(op: str, value: int) -> int:
    match op:
        case "-":
            return -value
        case "~":
            return ~value
        case "!":
            return int(value == 0)
        case "low":
            return value & 0xFF
        case "high":
            return value >> 8 & 0xFF
    return value


def _binary(op: str, left: int, right: int) -> int | None:
    value = _joined(op, left, right)
    # Names that square each other would only fill memory: no address or count is wider than this.
    return None if value is not None and value.bit_length() > _WIDEST else value


def _joined(op: str, left: int, right: int) -> int | None:
    match op:
        case "+":
            return left + right
        case "-":
            return left - right
        case "*":
            return left * right
        case "/" | "%":
            return _divided(op, left, right)
        case "&":
            return left & right
        case "|":
            return left | right
        case "^":
            return left ^ right
        case "<<" | ">>":
            return _shifted(op, left, right)
        case "==":
            return int(left == right)
        case "!=":
            return int(left != right)
        case "<":
            return int(left < right)
        case "<=":
            return int(left <= right)
        case ">":
            return int(left > right)
        case ">=":
            return int(left >= right)
        case "&&":
            return int(left != 0 and right != 0)
        case "||":
            return int(left != 0 or right != 0)
    raise AssertionError(op)


def _divided(op: str, left: int, right: int) -> int | None:
    if right == 0:
        return None
    quotient = abs(left) // abs(right) * (1 if (left < 0) == (right < 0) else -1)
    return quotient if op == "/" else left - quotient * right


def _shifted(op: str, left: int, right: int) -> int | None:
    if not 0 <= right <= _WIDEST:
        return None
    return left << right if op == "<<" else left >> right
