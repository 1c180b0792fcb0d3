"""Statements to program: what each line means, where it lies, and what was not understood."""

from .assemble import assemble, dialects, words
from .files import Reader
from .include import named, places
from .program import (
    BoundNote,
    Inclusion,
    Instruction,
    Opaque,
    OperandNumber,
    Origin,
    Problem,
    Program,
    Reserved,
    Symbol,
)

__all__ = [
    "BoundNote",
    "Inclusion",
    "Instruction",
    "Opaque",
    "OperandNumber",
    "Origin",
    "Problem",
    "Program",
    "Reader",
    "Reserved",
    "Symbol",
    "assemble",
    "dialects",
    "named",
    "places",
    "words",
]
