"""Runs a meaning over any domain of values."""

from collections.abc import Sequence
from typing import TypeVar, assert_never

from .domain import Domain
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
)

V = TypeVar("V")


def run(meaning: Sequence[Statement], domain: Domain[V]) -> None:
    """Carries out the statements in order on the domain's state."""
    _run(meaning, domain, {})


def evaluate(expr: Expr, domain: Domain[V]) -> V:
    """The value of an expression without temporaries (a condition, a target) in the domain's state."""
    return _value(expr, domain, {})


def _run(statements: Sequence[Statement], domain: Domain[V], temps: dict[str, V]) -> None:
    for statement in statements:
        match statement:
            case Assign():
                _assign(statement, domain, temps)
            case Store():
                value = _value(statement.value, domain, temps)
                address = _value(statement.address, domain, temps)
                domain.store(address, statement.size, value, statement.port)
            case If():
                _if(statement, domain, temps)
            case Repeat():
                _repeat(statement, domain, temps)
            case _:
                assert_never(statement)


def _assign(statement: Assign, domain: Domain[V], temps: dict[str, V]) -> None:
    value = _value(statement.value, domain, temps)
    if isinstance(statement.target, Temp):
        temps[statement.target.name] = value
    else:
        domain.write(statement.target, value)


def _if(statement: If, domain: Domain[V], temps: dict[str, V]) -> None:
    condition = _value(statement.condition, domain, temps)
    truth = domain.truth(condition)
    if truth is not None:
        _run(statement.then if truth else statement.otherwise, domain, dict(temps))
        return
    domain.either(
        condition,
        lambda: _run(statement.then, domain, dict(temps)),
        lambda: _run(statement.otherwise, domain, dict(temps)),
    )


def _repeat(statement: Repeat, domain: Domain[V], temps: dict[str, V]) -> None:
    count = _value(statement.count, domain, temps)
    domain.repeat(count, lambda: _run(statement.body, domain, dict(temps)))


def _value(expr: Expr, domain: Domain[V], temps: dict[str, V]) -> V:
    match expr:
        case Number():
            return domain.number(expr.value)
        case Register():
            return domain.read(expr)
        case Temp():
            return temps[expr.name]
        case Binary():
            left = _value(expr.left, domain, temps)
            return domain.binary(expr.op, left, _value(expr.right, domain, temps))
        case Bits():
            return domain.bits(_value(expr.value, domain, temps), expr.high, expr.low)
        case Load():
            return domain.load(_value(expr.address, domain, temps), expr.size, expr.port)
        case Unary():
            return domain.unary(expr.op, _value(expr.operand, domain, temps))
        case Signed():
            return domain.signed(_value(expr.value, domain, temps), expr.width)
        case Choose():
            return _choose(expr, domain, temps)
        case Undefined():
            return domain.undefined(expr.width)
        case _:
            assert_never(expr)


def _choose(expr: Choose, domain: Domain[V], temps: dict[str, V]) -> V:
    condition = _value(expr.condition, domain, temps)
    truth = domain.truth(condition)
    if truth is not None:
        return _value(expr.yes if truth else expr.no, domain, temps)
    return domain.choose(condition, _value(expr.yes, domain, temps), _value(expr.no, domain, temps))
