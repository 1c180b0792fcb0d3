"""Processors as tables: encoding, meaning, bus steps and cost of every instruction."""

from .domain import Domain
from .evaluate import evaluate, run
from .meaning import (
    Assign,
    Binary,
    Bits,
    Choose,
    Effects,
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
    effects,
)

__all__ = [
    "Assign",
    "Binary",
    "Bits",
    "Choose",
    "Domain",
    "Effects",
    "Expr",
    "If",
    "Load",
    "Number",
    "Register",
    "Repeat",
    "Signed",
    "Statement",
    "Store",
    "Temp",
    "Unary",
    "Undefined",
    "effects",
    "evaluate",
    "run",
]
