"""Fills an opcode row with the operands of one instruction: its bytes, meaning, bus steps, target."""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Final

from ..errors import ClockhopError
from .meaning import Assign, Effects, Expr, If, Load, Number, Register, Statement, Temp, effects
from .model import Action, Fields, Hole, Operation, Packed, Row, Value, Variant
from .notation import COUNTER, Names, expression, statements
from .step import Group, Kind, Repeated, Step

EA = Temp("ea")


class OperandError(ClockhopError):
    """A value that does not fit the hole of an operand, with what would fit."""

    def __init__(self, hole: Hole, value: Value | None, accepted: str) -> None:
        shown = "nothing" if value is None else value
        super().__init__(f"{hole.kind} operand {shown} does not fit; accepted: {accepted}")
        self.hole = hole
        self.value = value
        self.accepted = accepted


def bind(
    row: Row,
    variant: Variant,
    fields: Fields,
    address: int,
    names: Names,
    endian: str,
    bits: int,
    unplaced: str | None,
    prefix: tuple[Group, ...],
) -> Action:
    """See Cpu.bind."""
    code = encode(row, variant, fields, address, endian, bits)
    names = Names(
        {**names.values, **_holes(variant, fields)},
        {**names.lists, **_listed(variant, fields)},
        (address + len(code)) & ((1 << bits) - 1),
    )
    names = names.beside({name: expression(text, names) for name, text in variant.conditions.items()})
    ea = expression(variant.ea, names) if variant.ea is not None else None
    prelude = _prelude(variant, ea, names)
    names = _bindings(row, names)  # only now: the R of a row is not the R of an indexed operand
    start = _with_operand(names, row, variant, ea, ea)
    inner = _with_operand(names, row, variant, ea, ea if isinstance(ea, Number) else EA)
    meaning = (*prelude, *statements(row.operation.meaning, inner))
    jumps = _jumps(meaning)
    flow = row.operation.flow
    if flow == "next" and jumps:
        flow = row.operation.flow_to_counter
    groups = tuple(_steps_of(row, variant, prefix))
    conditions = _conditions(row.operation, groups, start)
    alike = (row, variant, *(fields[hole.name] for hole in variant.holes if hole.kind in _DECIDING))
    used = _USED.get(alike)
    if used is None:
        used = _USED[alike] = effects(meaning)
    return Action(
        row=row,
        variant=variant,
        fields=fields,
        address=address,
        code=code,
        meaning=meaning,
        steps=expand(groups, start),
        flow=flow,
        target=_target(flow, jumps, ea),
        conditions=conditions,
        unplaced=unplaced if unplaced in conditions else None,
        used=used,
        alike=alike,
    )


@cache
def anywhere(row: Row, variant: Variant) -> bool:
    """Whether an instruction of that form is the same at every address: nothing in it speaks of its place."""
    operation = row.operation
    texts = [variant.ea or "", variant.value or "", variant.after, operation.meaning]
    for named in (variant.conditions, row.bindings, operation.conditions):
        texts += named.values()
    placed = any(hole.kind not in _PLACELESS for hole in variant.holes)
    return not placed and all(COUNTER not in text for text in texts)


# Holes for numbers; a target is told by the place, and a register can be the program counter.
_PLACELESS: Final = frozenset({"number", "signed", "direct", "address", "bit", "multiple"})
# Holes that decide on what an instruction does; others hold numbers and addresses it does that with.
_DECIDING: Final = frozenset({"register", "list", "bit", "multiple"})
_USED: Final[dict[Hashable, Effects]] = {}


def interrupt(
    operation: Operation, names: Names
) -> tuple[tuple[Statement, ...], tuple[Step | Repeated, ...], dict[str, Expr]]:
    """Meaning, steps and conditions of an operation that has no operand and no place of its own."""
    conditions = _conditions(operation, operation.steps, names)
    return statements(operation.meaning, names), expand(operation.steps, names), conditions


def _bindings(row: Row, names: Names) -> Names:
    unplaced = replace(names, after=None) if row.bindings else names
    return names.beside({name: expression(text, unplaced) for name, text in row.bindings.items()})


def _with_operand(names: Names, row: Row, variant: Variant, ea: Expr | None, address: Expr | None) -> Names:
    """The names with the operand M and the effective address, given as `address`."""
    if ea is not None and address is not None:
        return names.beside({"ea": address, "M": Load(address, row.operation.size)})
    if variant.value is not None:
        return names.beside({"M": expression(variant.value, names)})
    return names


def _prelude(variant: Variant, ea: Expr | None, names: Names) -> tuple[Statement, ...]:
    first = () if ea is None or isinstance(ea, Number) else (Assign(EA, ea),)
    return (*first, *statements(variant.after, names))


def _steps_of(row: Row, variant: Variant, prefix: tuple[Group, ...]) -> Iterator[Group]:
    """Prefix fetches, the form's steps, and those the operation adds to them.

    An operand that is a register needs no bus, and the steps that go with it are the form's; an immediate
    one has been fetched already.
    """
    for _ in row.code[1:]:
        yield from prefix
    yield from variant.steps
    if variant.ea is None and "M" in row.bindings:
        return
    for group in row.operation.steps:
        if variant.value is None or group.steps != (Step(Kind.READ),):
            yield group


def expand(groups: Sequence[Group], names: Names) -> tuple[Step | Repeated, ...]:
    """The steps one by one; a count that only running tells stays a repeated group."""
    return tuple(found for group in groups for found in _expanded(group, names))


def _expanded(group: Group, names: Names) -> Iterator[Step | Repeated]:
    guards = group.guards
    steps = tuple(replace(each, guards=guards) for each in group.steps) if guards else group.steps
    if isinstance(group.count, int):
        yield from steps * group.count
    elif group.count in names.lists:
        yield from steps * sum((register.width + 7) // 8 for register in names.lists[group.count])
    else:
        count = names.values[group.count]
        assert isinstance(count, Register)
        yield Repeated(group.steps, count, (1 << count.width) - 1, group.guards)


def _conditions(operation: Operation, groups: Sequence[Group], names: Names) -> dict[str, Expr]:
    asked = {guard.name for group in groups for guard in group.guards}
    own = {name: expression(text, names) for name, text in operation.conditions.items()}
    return own | {name: names.values[name] for name in asked - own.keys()}


def _jumps(meaning: Sequence[Statement]) -> list[Expr]:
    """What the program counter is set to, in all statements that surely or perhaps do."""
    found: list[Expr] = []
    for statement in meaning:
        match statement:
            case Assign(target=Register(name=name), value=value) if name == COUNTER:
                found.append(value)
            case If():
                found += _jumps(statement.then) + _jumps(statement.otherwise)
            case _:
                pass
    return found


def _target(flow: str, jumps: Sequence[Expr], ea: Expr | None) -> Expr | None:
    if flow in ("next", "return", "wait") or len(jumps) != 1:
        return None
    (value,) = jumps
    if value == EA:
        return ea
    return None if isinstance(value, Temp) else value


def _holes(variant: Variant, fields: Fields) -> dict[str, Expr]:
    """What the holes stand for in the meaning: numbers cut to their width, registers."""
    found: dict[str, Expr] = {}
    for hole in variant.holes:
        value = fields[hole.name]
        if hole.kind == "register":
            assert isinstance(value, str)
            assert hole.registers is not None
            found[hole.name] = hole.registers.registers[value]
        elif isinstance(value, int):
            cut = hole.kind in ("number", "direct")
            found[hole.name] = Number(value & ((1 << hole.width) - 1) if cut else value)
    return found


def _listed(variant: Variant, fields: Fields) -> dict[str, tuple[Register, ...]]:
    """The registers of a list operand, in the order of its class: that of pushing."""
    for hole in variant.holes:
        if hole.kind == "list":
            assert hole.registers is not None
            mask = _list_mask(hole, fields.get(hole.name))
            registers = hole.registers.registers
            return {
                hole.name: tuple(
                    register
                    for spelling, code in hole.registers.codes.items()
                    if mask & code == code
                    and code & (code - 1) == 0
                    and isinstance(register := registers[spelling], Register)
                )
            }
    return {}


def encode(row: Row, variant: Variant, fields: Fields, address: int, endian: str, bits: int) -> bytes:
    """See Cpu.encode."""
    codes = {hole.name: _code(hole, fields.get(hole.name)) for hole in variant.holes}
    after = address + len(row.code) + variant.size + len(row.tail)
    holes = {hole.name: hole for hole in variant.holes}
    before, tail = row.opcode(codes)
    out = bytearray(before)
    for part in variant.layout:
        if isinstance(part, Packed):
            out.append(_packed(part, codes))
            continue
        hole = holes[part]
        value = codes[part]
        if hole.kind == "relative":
            value = _offset(hole, value, after, bits)
        size = max(hole.width // 8, 1)
        out += (value & ((1 << 8 * size) - 1)).to_bytes(size, "big" if endian == "big" else "little")
    return bytes(out) + tail


def _code(hole: Hole, value: Value | None) -> int:
    if hole.kind == "list":
        return _list_mask(hole, value)
    if hole.kind == "register":
        assert hole.registers is not None
        if not isinstance(value, str) or value not in hole.registers.codes:
            raise OperandError(hole, value, ", ".join(hole.registers.codes))
        return hole.registers.codes[value]
    if not isinstance(value, int) or not hole.low <= value <= hole.high:
        raise OperandError(hole, value, f"{hole.low} to {hole.high}")
    if hole.kind == "multiple" and value % 8:
        raise OperandError(hole, value, f"multiples of 8 from 0 to {hole.high}")
    return value


def _list_mask(hole: Hole, value: Value | None) -> int:
    assert hole.registers is not None
    if not isinstance(value, tuple) or any(name not in hole.registers.codes for name in value):
        raise OperandError(hole, value, f"a list of {', '.join(hole.registers.codes)}")
    mask = 0
    for name in value:
        mask |= hole.registers.codes[name]
    return mask


def _offset(hole: Hole, target: int, after: int, bits: int) -> int:
    """The distance from the next instruction, taken round the end of the address space if that is shorter."""
    half = 1 << (bits - 1)
    distance = (target - after + half) % (2 * half) - half
    reach = 1 << (hole.width - 1)
    if not -reach <= distance < reach:
        raise OperandError(hole, target, f"targets {after - reach} to {after + reach - 1}")
    return distance


def _packed(part: Packed, codes: Mapping[str, int]) -> int:
    byte = 0
    for content, width in part.parts:
        bits = codes[content] if isinstance(content, str) else content or 0
        byte = byte << width | bits & ((1 << width) - 1)
    return byte
