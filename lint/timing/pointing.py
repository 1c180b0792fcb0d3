"""Which instructions reach memory through a pointer: data is worked on there, and not a counter kept."""

from __future__ import annotations

from collections.abc import Iterator

from ..cpu import Action, Assign, Load, Temp
from ..cpu.meaning import Binary, Expr, Register, Store, operands, walk


def writes_by_pointer(action: Action, stacks: frozenset[str]) -> bool:
    """Whether an instruction writes where a register points, or memory does, and not onto a stack."""
    places = (each.address for each in action.meaning if isinstance(each, Store) and not each.port)
    return any(_points(place, action, stacks) for place in places)


def reads_by_pointer(action: Action, stacks: frozenset[str]) -> bool:
    """Whether an instruction reads where a register points, or memory does, and not from a stack."""
    return any(_points(load.address, action, stacks) for load in _loads(action))


def _loads(action: Action) -> Iterator[Load]:
    for statement in action.meaning:
        for expr in operands(statement):
            yield from (part for part in walk(expr) if isinstance(part, Load) and not part.port)


def _points(address: Expr, action: Action, stacks: frozenset[str]) -> bool:
    """Whether a register is in an address; a page register, moved up by a shift, is no pointer."""
    if isinstance(address, Temp):
        made = (
            each.value
            for each in action.meaning
            if isinstance(each, Assign) and each.target == Temp(address.name)
        )
        return any(_points(value, action, stacks) for value in made if value != address)
    paged = {id(part.left) for part in walk(address) if isinstance(part, Binary) and part.op == "<<"}
    return any(
        isinstance(part, Load)
        or (isinstance(part, Register) and id(part) not in paged and part.name not in stacks)
        for part in walk(address)
    )
