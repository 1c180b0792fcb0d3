"""What an instruction does, as a small tree: the one description that executor, solver and bounds all read.

Values are whole numbers without a width. Only writing cuts: a register keeps the low bits of what is written
to it, a store the low bytes, an address the low bits of the address bus. So `A + M + C` keeps its carry.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never


@dataclass(frozen=True, slots=True)
class Number:
    """A constant: an immediate value, a branch target, the address of the next instruction."""

    value: int


@dataclass(frozen=True, slots=True)
class Register:
    """A register, a flag (width 1) or a view of several, such as the 6809's D over A and B.

    `parts` names what is really stored, high bits first, with widths; a plain register is its own only part.
    """

    name: str
    width: int
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Temp:
    """A value inside one instruction; without a width, and gone after its last statement."""

    name: str


@dataclass(frozen=True, slots=True)
class Load:
    """`size` bytes from memory, read in the order of addresses and joined in the processor's byte order.

    With `port`, from the second address space, where nothing keeps what was written to it.
    """

    address: "Expr"
    size: int
    port: bool = False


@dataclass(frozen=True, slots=True)
class Unary:
    """`op` is `-`, `~` (all bits turned, so ~0 is -1), `!` (1 for zero, else 0) or `parity` (1 for an even number of
    ones among the low 8 bits, else 0)."""

    op: str
    operand: "Expr"


@dataclass(frozen=True, slots=True)
class Binary:
    """`op` is one of + - * / % & | ^ << >> == != < <= > >=; comparisons give 1 or 0, / and % round down."""

    op: str
    left: "Expr"
    right: "Expr"


@dataclass(frozen=True, slots=True)
class Bits:
    """Bits `high` down to `low` of a value, as a number from 0; negative values count in two's complement."""

    value: "Expr"
    high: int
    low: int


@dataclass(frozen=True, slots=True)
class Signed:
    """The low `width` bits of a value read as two's complement."""

    value: "Expr"
    width: int


@dataclass(frozen=True, slots=True)
class Choose:
    """`yes` where `condition` is not zero, else `no`; only the one chosen is evaluated."""

    condition: "Expr"
    yes: "Expr"
    no: "Expr"


@dataclass(frozen=True, slots=True)
class Undefined:
    """Bits the maker does not define."""

    width: int


Expr = Number | Register | Temp | Load | Unary | Binary | Bits | Signed | Choose | Undefined


@dataclass(frozen=True, slots=True)
class Assign:
    """A register keeps the low bits of `value`; a Temp keeps all of it."""

    target: Register | Temp
    value: Expr


@dataclass(frozen=True, slots=True)
class Store:
    """The low `size` bytes of `value` go to memory, in the processor's byte order; with `port` to a port."""

    address: Expr
    size: int
    value: Expr
    port: bool = False


@dataclass(frozen=True, slots=True)
class If:
    """One of two lists of statements. A Temp assigned inside is not seen after it."""

    condition: Expr
    then: "tuple[Statement, ...]"
    otherwise: "tuple[Statement, ...]" = ()


@dataclass(frozen=True, slots=True)
class Repeat:
    """The body, `count` times; `count` is evaluated once, before the first."""

    count: Expr
    body: "tuple[Statement, ...]"


Statement = Assign | Store | If | Repeat


@dataclass(frozen=True, slots=True)
class Effects:
    """Names of stored registers and flags, never views.

    `reads`: before the instruction itself wrote them; `writes`: perhaps; `surely`: written on every path.
    """

    reads: frozenset[str]
    writes: frozenset[str]
    surely: frozenset[str]


def effects(statements: tuple[Statement, ...]) -> Effects:
    """What the statements read and write.

    A register read only after its own sure write is not read, nor is one against itself in an exclusive or: whatever
    it holds, that is 0.
    """
    reads: set[str] = set()
    writes: set[str] = set()
    surely: set[str] = set()
    for statement in statements:
        for expr in operands(statement):
            reads |= _needed(expr) - surely
        match statement:
            case Assign(target=Register() as target):
                names = {name for name, _ in target.parts}
                writes |= names
                surely |= names
            case Assign() | Store():
                pass
            case If():
                yes, no = effects(statement.then), effects(statement.otherwise)
                reads |= (yes.reads | no.reads) - surely
                writes |= yes.writes | no.writes
                surely |= yes.surely & no.surely
            case Repeat():
                body = effects(statement.body)
                reads |= body.reads - surely
                writes |= body.writes
            case _:
                assert_never(statement)
    return Effects(frozenset(reads), frozenset(writes), frozenset(surely))


def _needed(expr: Expr) -> set[str]:
    """The stored registers and flags on which the value depends."""
    if isinstance(expr, Binary) and expr.op == "^" and expr.left == expr.right:
        return set()
    own = {name for name, _ in expr.parts} if isinstance(expr, Register) else set()
    return own.union(*map(_needed, _inner(expr)))


def kept(statements: tuple[Statement, ...], idle: frozenset[str]) -> tuple[int, ...]:
    """The places of all statements but those that only serve to write `idle` registers or flags.

    What these hold without them is stale. Reads from memory stay: a device notices them.
    """
    found: list[int] = []
    wanted: set[str] = set()
    temps: set[str] = set()
    for place, statement in reversed([*enumerate(statements)]):
        if isinstance(statement, Assign) and not any(isinstance(e, Load) for e in walk(statement.value)):
            target = statement.target
            if isinstance(target, Temp):
                if target.name not in temps:
                    continue
            elif {name for name, _ in target.parts} <= idle - wanted:
                continue
        found.append(place)
        for expr in _all_operands(statement):
            wanted |= registers(expr)
            temps |= {part.name for part in walk(expr) if isinstance(part, Temp)}
    return tuple(reversed(found))


def _all_operands(statement: Statement) -> Iterator[Expr]:
    """The expressions a statement evaluates, with those of inner statements."""
    yield from operands(statement)
    match statement:
        case If():
            inner = (*statement.then, *statement.otherwise)
        case Repeat():
            inner = statement.body
        case _:
            inner = ()
    for each in inner:
        yield from _all_operands(each)


def operands(statement: Statement) -> tuple[Expr, ...]:
    """The expressions a statement evaluates itself, in order, without those of inner statements."""
    match statement:
        case Assign():
            return (statement.value,)
        case Store():
            return (statement.value, statement.address)
        case If():
            return (statement.condition,)
        case Repeat():
            return (statement.count,)
        case _:
            assert_never(statement)


def registers(expr: Expr) -> set[str]:
    """Names of the stored registers and flags an expression reads."""
    return {name for part in walk(expr) if isinstance(part, Register) for name, _ in part.parts}


def walk(expr: Expr) -> Iterator[Expr]:
    """The expression's inner expressions in order of evaluation, itself last."""
    for inner in _inner(expr):
        yield from walk(inner)
    yield expr


def _inner(expr: Expr) -> tuple[Expr, ...]:
    match expr:
        case Number() | Register() | Temp() | Undefined():
            return ()
        case Load():
            return (expr.address,)
        case Unary():
            return (expr.operand,)
        case Binary():
            return (expr.left, expr.right)
        case Bits() | Signed():
            return (expr.value,)
        case Choose():
            return (expr.condition, expr.yes, expr.no)
        case _:
            assert_never(expr)
