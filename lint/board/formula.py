"""How many periods of a clock something lasts, as a formula over numbers that a program writes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, assert_never

from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from .. import packaged

Sign = Literal["+", "-", "*", "/"]
_SIGNS: Mapping[str, Sign] = {"+": "+", "-": "-", "*": "*", "/": "/"}


@dataclass(frozen=True, slots=True)
class Binary:
    """Two terms and what is done with them."""

    sign: Sign
    left: Term
    right: Term


Term = int | str | Binary


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula as it was written, and its tree: numbers, names, and sums and products of both."""

    text: str
    tree: Term

    @property
    def names(self) -> frozenset[str]:
        """The names in it."""
        return frozenset(_names(self.tree))

    def of(self, values: Mapping[str, int]) -> Fraction | None:
        """Its value, exact, where every name is in `values`; None where it divides by zero."""
        try:
            return _value(self.tree, values)
        except ZeroDivisionError:
            return None


def parse(text: str) -> Formula | None:
    """The formula written in `text`; None where it is none."""
    try:
        return Formula(text, _term(packaged.parser("formula", "formula").parse(text)))
    except UnexpectedInput:
        return None


def _term(node: Tree[Token] | Token) -> Term:
    assert isinstance(node, Tree)
    first = node.children[0]
    match node.data:
        case "number":
            return int(str(first))
        case "name":
            return str(first)
    left, sign, right = node.children
    return Binary(_SIGNS[str(sign)], _term(left), _term(right))


def _names(term: Term) -> Iterator[str]:
    match term:
        case str():
            yield term
        case Binary(_, left, right):
            yield from _names(left)
            yield from _names(right)


def _value(term: Term, values: Mapping[str, int]) -> Fraction:
    match term:
        case int():
            return Fraction(term)
        case str():
            return Fraction(values[term])
        case Binary(sign, left, right):
            a, b = _value(left, values), _value(right, values)
            match sign:
                case "+":
                    return a + b
                case "-":
                    return a - b
                case "*":
                    return a * b
                case "/":
                    return a / b
            assert_never(sign)
    assert_never(term)
