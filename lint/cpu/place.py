"""Which conditions of an instruction depend on where it lies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from .bind import OperandError
from .cpu import Cpu
from .model import Action, Row, Value, Variant

_PAGE = 256
_SAMPLE = 0x1080


@dataclass(frozen=True, slots=True)
class Moved:
    """An instruction as it would be elsewhere, and how many bytes further on that is."""

    by: int
    action: Action


@lru_cache(maxsize=4096)
def elsewhere(cpu: Cpu, action: Action, moving: frozenset[str]) -> tuple[Moved, ...]:
    """The instruction moved to where it, its end or what it names begins or ends a page of 256 bytes.

    Branch targets and the holes in `moving` move along; other addresses stay. Empty where no step has a condition.
    """
    if not action.conditions:
        return ()
    found = []
    for by in sorted(set(_shifts(action))):
        fields = {
            hole.name: _moved(cpu, action.fields[hole.name], by)
            if hole.kind == "relative" or hole.name in moving
            else action.fields[hole.name]
            for hole in action.variant.holes
        }
        address = (action.address + by) % (1 << cpu.address_bits)
        try:
            found.append(Moved(by, cpu.bind(action.row, action.variant, fields, address)))
        except OperandError:
            continue
    return tuple(found)


@lru_cache(maxsize=4096)
def varying(cpu: Cpu, action: Action, moving: frozenset[str]) -> frozenset[str]:
    """The conditions of its steps that are not the same wherever the instruction lies."""
    if not action.conditions or not _asks(cpu, action.row, action.variant):
        return frozenset()
    others = [moved.action.conditions for moved in elsewhere(cpu, action, moving)]
    return frozenset(
        name
        for name, condition in action.conditions.items()
        if any(other[name] != condition for other in others)
    )


@lru_cache(maxsize=1024)
def _asks(cpu: Cpu, row: Row, variant: Variant) -> bool:
    """Whether any instruction of this kind asks where it lies, told from one that names places near a page's end."""
    fields: dict[str, Value] = {}
    for hole in variant.holes:
        if hole.registers is not None:
            fields[hole.name] = () if hole.kind == "list" else next(iter(hole.registers.codes))
        else:
            fields[hole.name] = _SAMPLE - 20 if hole.kind in ("relative", "address") else max(hole.low, 0)
    sample = cpu.bind(row, variant, fields, _SAMPLE)
    moving = frozenset(hole.name for hole in variant.holes if hole.kind == "address")
    return any(moved.action.conditions != sample.conditions for moved in elsewhere(cpu, sample, moving))


def _shifts(action: Action) -> Iterator[int]:
    values = (action.fields[hole.name] for hole in action.variant.holes)
    for place in (action.address, action.after, *(value for value in values if isinstance(value, int))):
        yield -place % _PAGE
        yield (-1 - place) % _PAGE


def _moved(cpu: Cpu, value: object, by: int) -> int:
    assert isinstance(value, int)
    return (value + by) % (1 << cpu.address_bits)
