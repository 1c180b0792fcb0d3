"""Operand texts to operand trees, by the grammar of the syntax."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from .. import packaged
from ..source import Span
from .expression import Binary, Expression, Group, Here, Name, Near, Number, Unary

# No instruction needs more characters; what does would nest deeper than the tree can be walked.
LONGEST = 256

Force = Literal["short", "long", "shortest"]


@dataclass(frozen=True, slots=True)
class Empty:
    """Nothing between two commas."""


@dataclass(frozen=True, slots=True)
class Value:
    """An expression (or a register's name); `span` is the expression's place in the operand text."""

    expression: Expression
    span: Span
    force: Force | None = None


@dataclass(frozen=True, slots=True)
class Immediate:
    """An expression behind a #."""

    expression: Expression
    span: Span


@dataclass(frozen=True, slots=True)
class Step:
    """A register that steps by itself: X+ (by 1), X++ (by 2), X- (by -1)."""

    name: str
    by: int


@dataclass(frozen=True, slots=True)
class Indirect:
    """Parts in brackets."""

    items: "tuple[Item, ...]"
    force: Force | None = None


Item = Empty | Value | Immediate | Step | Indirect


@dataclass(frozen=True, slots=True)
class NotOperand:
    """A text the grammar does not take; `column` counts from 0 in the text."""

    column: int


@cache
def parse_operand(grammar: str, text: str) -> tuple[Item, ...] | NotOperand:
    """The comma-separated parts of an operand text by the named grammar; no text, no parts."""
    if not text.strip():
        return ()
    if len(text) > LONGEST:
        return NotOperand(LONGEST)
    parser = packaged.parser(grammar, "operand", positions=True)
    try:
        tree = parser.parse(text)
    except UnexpectedInput as fault:
        column = fault.column
        return NotOperand(column - 1 if isinstance(column, int) and column > 0 else len(text))
    return _items(tree)


def parse_expression(grammar: str, text: str) -> Expression | None:
    """The expression a text consists of, or None."""
    match parse_operand(grammar, text):
        case (Value(expression, _, None),):
            return expression
    return None


# What is written for an operator -> what it is in the tree.
_INFIX = {
    "=": "==",
    "<>": "!=",
    "!": "|",
    "!+": "|",
    "!x": "^",
    "!.": "&",
    "!>": ">>",
    "!<": "<<",
    "or": "|",
    "xor": "^",
    "eor": "^",
    "and": "&",
    "shl": "<<",
    "shr": ">>",
    "mod": "%",
    "eq": "==",
    "ne": "!=",
    "lt": "<",
    "gt": ">",
    "le": "<=",
    "ge": ">=",
}
_PREFIX = {
    "^": "~",
    "not": "~",
    "<": "low",
    ">": "high",
    "lo": "low",
    "lsb": "low",
    "hi": "high",
    "msb": "high",
}
# What a name before brackets takes of what is in them.
_PARTS = {"lo": "low", "lsb": "low", "lobyte": "low", "hi": "high", "msb": "high", "hibyte": "high"}
_FORCES: dict[str, Force] = {
    "short": "short",
    "long": "long",
    "shortest": "shortest",
    "indirect_short": "short",
    "indirect_long": "long",
}

_Node = Tree[Token] | Token


def _items(tree: _Node) -> tuple[Item, ...]:
    assert isinstance(tree, Tree)
    return tuple(_item(child) for child in tree.children)


def _item(tree: _Node) -> Item:
    assert isinstance(tree, Tree)
    match tree.data:
        case "empty":
            return Empty()
        case "value" | "short" | "long" | "shortest":
            return Value(*_placed(tree), _FORCES.get(tree.data))
        case "displaced":
            offset, base = tree.children
            return Value(*_displaced(offset, base))
        case "immediate":
            return Immediate(*_placed(tree))
        case "immediate_low" | "immediate_high":
            expression, span = _placed(tree)
            return Immediate(Unary(tree.data.removeprefix("immediate_"), expression), span)
        case "increment" | "decrement":
            name, steps = (str(child) for child in tree.children)
            return Step(name, len(steps) if tree.data == "increment" else -1)
        case "indirect" | "indirect_short" | "indirect_long":
            return Indirect(_items(tree), _FORCES.get(tree.data))
    raise AssertionError(tree.data)


def _placed(tree: Tree[Token]) -> tuple[Expression, Span]:
    (child,) = tree.children
    assert isinstance(child, Tree)
    return _expression(child), Span(child.meta.start_pos, child.meta.end_pos)


def _displaced(offset: _Node, base: _Node) -> tuple[Expression, Span]:
    """5(IX) as the (IX+5) that it means; the span is that of the number."""
    assert isinstance(offset, Tree)
    span = Span(offset.meta.start_pos, offset.meta.end_pos)
    return Group(Binary("+", Name(str(base)), _expression(offset))), span


def _expression(tree: _Node) -> Expression:
    assert isinstance(tree, Tree)
    if tree.data == "binary":
        left, op, right = tree.children
        written = str(op).lower()
        written = written if written in _INFIX else written.strip(".")
        return Binary(_INFIX.get(written, written), _expression(left), _expression(right))
    if tree.data == "unary":
        op, operand = tree.children
        written = str(op).lower().strip(".")
        written = _PREFIX.get(written, written)
        return _expression(operand) if written == "+" else Unary(written, _expression(operand))
    if tree.data == "group":
        return Group(_expression(tree.children[0]))
    if tree.data == "bracketed":
        return Unary("[]", _expression(tree.children[0]))
    if tree.data == "part":
        name, operand = tree.children
        written = str(name).lower().lstrip(".")
        return Unary(_PARTS.get(written, written), _expression(operand))
    return _atom(tree.data, str(tree.children[0]))


def _atom(kind: str, text: str) -> Expression:
    match kind:
        case "hexadecimal":
            digits = text.lower().lstrip("$#&hx").removeprefix("0x").strip("h'")
            return Number(int(digits.replace("_", "") or "0", 16))
        case "binary_number":
            return Number(int(_binary_digits(text.lower()), 2))
        case "radix":
            return _in_base(text)
        case "octal":
            return Number(int(text.lower().removeprefix("0o").strip("oq'"), 8))
        case "decimal":
            return Number(int(text.lstrip("&").strip("dD'")))
        case "character":
            return Number(_character(text))
        case "here":
            return Here(text)
        case "near":
            return Near(text[:-1], text[-1].lower() == "f")
        case "anonymous":
            return Near(text[:1] if text[0] == ":" else text, "+" in text, text.count(text[-1]))
        case "name":
            return Name(text)
    raise AssertionError(kind)


def _binary_digits(text: str) -> str:
    digits = text[:-1] if text.endswith("b") else text.lstrip("%").removeprefix("0b").strip("b'")
    return digits.replace("_", "") or "0"


def _in_base(text: str) -> Expression:
    """16#61A8; digits that the base has not got make it a name nobody defines."""
    base, _, digits = text.partition("#")
    try:
        return Number(int(digits, int(base)))
    except ValueError:
        return Name(text)


_ESCAPES = {"n": 10, "r": 13, "t": 9, "0": 0, "a": 7, "b": 8, "e": 27}


def _character(text: str) -> int:
    if len(text) == 4 and text[1] == "\\" and text[0] == text[3]:
        return _ESCAPES.get(text[2], ord(text[2]))
    inside = text[1:]
    if len(inside) > 1 and inside[-1] == text[0]:
        inside = inside[:-1]
    value = 0
    for character in inside or " ":
        value = value << 8 | ord(character)
    return value
