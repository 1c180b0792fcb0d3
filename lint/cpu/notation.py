"""Turns the text of a meaning into statements, every name replaced by what it stands for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import assert_never

from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from .. import packaged
from ..errors import TableError
from . import numbers
from .meaning import (
    Assign,
    Binary,
    Bits,
    Choose,
    Expr,
    If,
    Load,
    Number,
    Register,
    Repeat,
    Signed,
    Statement,
    Store,
    Temp,
    Unary,
    Undefined,
    walk,
)

COUNTER = "PC"
DISCARD = "_"  # `_ = M`: a bus read whose value nobody uses; where M is no memory, nothing happens


@dataclass(frozen=True, slots=True)
class Names:
    """What the names of a meaning stand for.

    A name that is not in `values` and starts in lower case is a value inside the instruction; others raise.
    `lists` are what `each` goes through. Where `after` is given, the program counter reads as this number,
    the address of the next instruction.
    """

    values: Mapping[str, Expr]
    lists: Mapping[str, Sequence[Register]] = field(default_factory=dict)
    after: int | None = None

    def beside(self, values: Mapping[str, Expr]) -> Names:
        """With more names, or others for the same."""
        return Names({**self.values, **values}, self.lists, self.after) if values else self


def statements(text: str, names: Names) -> tuple[Statement, ...]:
    """The statements of a meaning, constants folded; TableError for a wrong text or an unknown name."""
    return _block(_parsed(text, "meaning").children, names)


def expression(text: str, names: Names) -> Expr:
    """One expression, constants folded; TableError for a wrong text or an unknown name."""
    return _expr(_parsed(text, "expr"), names)


@cache
def _parsed(text: str, start: str) -> Tree[Token]:
    try:
        return packaged.parser("meaning", "meaning", "expr").parse(text, start=start)
    except UnexpectedInput as fault:
        column = getattr(fault, "column", 0)
        raise TableError(f'meaning "{text}": not understood at column {column}') from None


_Item = Tree[Token] | Token | None


def _block(children: Sequence[_Item], names: Names) -> tuple[Statement, ...]:
    found: list[Statement] = []
    for child in children:
        if isinstance(child, Tree):
            found.extend(_statement(child, names))
    return tuple(found)


def _statement(tree: Tree[Token], names: Names) -> tuple[Statement, ...]:
    match tree.data, tree.children:
        case "assign", [Token() as name, Tree() as value]:
            return _assign(str(name), _expr(value, names), names)
        case "store", [port, Tree() as address, Tree() as closing, Tree() as value]:
            size = _size(closing, names)
            return (Store(_expr(address, names), size, _expr(value, names), port is not None),)
        case "alternative", [Tree() as condition, Tree() as then, otherwise]:
            return _alternative(_expr(condition, names), then, otherwise, names)
        case "each", [Token() as name, Token() as collection, order, Tree() as body]:
            listed = names.lists.get(str(collection))
            if listed is None:
                raise TableError(f'no list "{collection}"; accepted: {", ".join(names.lists)}')
            registers = reversed(listed) if order else listed
            return tuple(part for register in registers for part in _turn(str(name), register, body, names))
        case "repeat", [Tree() as count, Tree() as body]:
            return (Repeat(_expr(count, names), _block(body.children, names)),)
        case _:
            raise AssertionError(tree.data)


def _turn(name: str, register: Register, body: Tree[Token], names: Names) -> tuple[Statement, ...]:
    more = names.beside({name: register, "size": Number((register.width + 7) // 8)})
    return _block(body.children, more)


def _assign(name: str, value: Expr, names: Names) -> tuple[Statement, ...]:
    if name == DISCARD:
        reads = any(isinstance(part, Load) for part in walk(value))
        return (Assign(Temp(DISCARD), value),) if reads else ()
    match names.values.get(name):
        case Register() as target:
            return (Assign(target, value),)
        case Load(address=address, size=size, port=port):
            return (Store(address, size, value, port),)
        case Number():
            return ()  # a register that is always zero
        case None if name[0].islower():
            return (Assign(Temp(name), value),)
        case other:
            raise TableError(f'"{name}" cannot be assigned to (it stands for {other})')


def _alternative(condition: Expr, then: Tree[Token], otherwise: _Item, names: Names) -> tuple[Statement, ...]:
    other = otherwise.children if isinstance(otherwise, Tree) else ()
    if isinstance(condition, Number):
        return _block(then.children if condition.value else other, names)
    return (If(condition, _block(then.children, names), _block(other, names)),)


def _size(closing: Tree[Token], names: Names) -> int:
    if not closing.children:
        return 1
    (token,) = closing.children
    text = str(token)
    if text.isdigit():
        return int(text)
    size = names.values.get(text)
    if not isinstance(size, Number):
        raise TableError(f'"{text}" is no number of bytes')
    return size.value


def _expr(tree: Tree[Token], names: Names) -> Expr:
    match tree.data, tree.children:
        case "number", [Token() as digits]:
            return Number(int(digits, 0) if digits.startswith("0x") else int(digits))
        case "name", [Token() as name]:
            return _name(str(name), names)
        case "load", [port, Tree() as address, Tree() as closing]:
            return Load(_expr(address, names), _size(closing, names), port is not None)
        case "binary", [Tree() as left, Token() as op, Tree() as right]:
            return binary(str(op), _expr(left, names), _expr(right, names))
        case "unary", [Token() as op, Tree() as operand]:
            return _unary(str(op), _expr(operand, names))
        case "bits", [Tree() as value, Tree() as high, low]:
            return _bits(_expr(value, names), _constant(high, names), low, names)
        case "choose", [Tree() as condition, Tree() as yes, Tree() as no]:
            return _choose(_expr(condition, names), yes, no, names)
        case "call", [Token() as function, *arguments]:
            return _call(str(function), [arg for arg in arguments if isinstance(arg, Tree)], names)
        case _:
            raise AssertionError(tree.data)


def _name(name: str, names: Names) -> Expr:
    value = names.values.get(name)
    if isinstance(value, Register) and value.name == COUNTER and names.after is not None:
        return Number(names.after)
    if value is not None:
        return value
    if name == "undefined":
        return Undefined(1)
    if name[0].islower():
        return Temp(name)
    raise TableError(f'unknown name "{name}" in a meaning')


def binary(op: str, left: Expr, right: Expr) -> Expr:
    """An operator applied to two expressions; two numbers give their result at once."""
    if isinstance(left, Number) and isinstance(right, Number):
        return Number(numbers.binary(op, left.value, right.value))
    return Binary(op, left, right)


def _unary(op: str, operand: Expr) -> Expr:
    if op == "+":
        return operand
    return Number(numbers.unary(op, operand.value)) if isinstance(operand, Number) else Unary(op, operand)


def _bits(value: Expr, high: int, low: _Item, names: Names) -> Expr:
    bottom = _constant(low, names) if isinstance(low, Tree) else high
    if isinstance(value, Number):
        return Number(numbers.bits(value.value, high, bottom))
    return Bits(value, high, bottom)


def _choose(condition: Expr, yes: Tree[Token], no: Tree[Token], names: Names) -> Expr:
    if isinstance(condition, Number):
        return _expr(yes if condition.value else no, names)
    return Choose(condition, _expr(yes, names), _expr(no, names))


def _constant(tree: Tree[Token], names: Names) -> int:
    value = _expr(tree, names)
    if not isinstance(value, Number):
        raise TableError("a bit number or width in a meaning is not constant")
    return value.value


def _call(function: str, arguments: Sequence[Tree[Token]], names: Names) -> Expr:
    build = _FUNCTIONS.get(function)
    if build is None:
        raise TableError(f'unknown function "{function}" in a meaning; accepted: {", ".join(_FUNCTIONS)}')
    # The size of a program counter is asked of the register, not of the address it reads as.
    inner = replace(names, after=None) if function in ("width", "same_size") else names
    return build([_expr(argument, inner) for argument in arguments])


def _signed(arguments: Sequence[Expr]) -> Expr:
    value, width = arguments
    assert isinstance(width, Number)
    if isinstance(value, Number):
        return Number(numbers.signed(value.value, width.value))
    return Signed(value, width.value)


def _cut(arguments: Sequence[Expr]) -> Expr:
    value, width = arguments
    assert isinstance(width, Number)
    if isinstance(value, Number):
        return Number(numbers.bits(value.value, width.value - 1, 0))
    return Bits(value, width.value - 1, 0)


def _undefined(arguments: Sequence[Expr]) -> Expr:
    (width,) = arguments
    assert isinstance(width, Number)
    return Undefined(width.value)


def _width(arguments: Sequence[Expr]) -> Expr:
    (value,) = arguments
    return Number(width(value))


def _same_size(arguments: Sequence[Expr]) -> Expr:
    """Whether two register operands have one width; a register that is always zero has any."""
    left, right = arguments
    return Number(int(Number(0) in arguments or width(left) == width(right)))


def width(expr: Expr) -> int:
    """How many bits an operand has by its kind; a register that is always zero counts as 16."""
    match expr:
        case Register() | Undefined() | Signed():
            return expr.width
        case Load():
            return 8 * expr.size
        case Bits():
            return expr.high - expr.low + 1
        case Number():
            return 16
        case Temp() | Unary() | Binary() | Choose():
            raise TableError("width() of something that has none")
        case _:
            assert_never(expr)


def _parity(arguments: Sequence[Expr]) -> Expr:
    (value,) = arguments
    return _unary("parity", value)


_FUNCTIONS: dict[str, Callable[[Sequence[Expr]], Expr]] = {
    "signed": _signed,
    "cut": _cut,
    "undefined": _undefined,
    "width": _width,
    "same_size": _same_size,
    "parity": _parity,
}
