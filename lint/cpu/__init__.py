"""Processors as tables: encoding, meaning, bus steps and cost of every instruction."""

from .bind import OperandError
from .cost import TAKEN, BusAccess, Cost, Truth, accesses, cost
from .cpu import Cpu, load
from .domain import Domain
from .evaluate import evaluate, run
from .execute import Bus, Concrete, Machine, Memory, Stop
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
from .model import Action, Fields, Form, Hole, Interrupt, OnChip, Operation, Row, Value, Variant
from .place import Moved, elsewhere, varying
from .relative import generation, having
from .step import Guard, Kind, Repeated, Step
from .table import is_known, names

__all__ = [
    "TAKEN",
    "Action",
    "Assign",
    "Binary",
    "Bits",
    "Bus",
    "BusAccess",
    "Choose",
    "Concrete",
    "Cost",
    "Cpu",
    "Domain",
    "Effects",
    "Expr",
    "Fields",
    "Form",
    "Guard",
    "Hole",
    "If",
    "Interrupt",
    "Kind",
    "Load",
    "Machine",
    "Memory",
    "Moved",
    "Number",
    "OnChip",
    "OperandError",
    "Operation",
    "Register",
    "Repeat",
    "Repeated",
    "Row",
    "Signed",
    "Statement",
    "Step",
    "Stop",
    "Store",
    "Temp",
    "Truth",
    "Unary",
    "Undefined",
    "Value",
    "Variant",
    "accesses",
    "cost",
    "effects",
    "elsewhere",
    "evaluate",
    "generation",
    "having",
    "is_known",
    "load",
    "names",
    "run",
    "varying",
]
