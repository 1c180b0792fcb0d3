"""Which registers are stack pointers: what a call moves beside the program counter."""

from __future__ import annotations

from functools import cache

from ..cpu import Cpu, effects
from ..cpu.notation import COUNTER


@cache
def stack_pointers(cpu: Cpu) -> frozenset[str]:
    """The registers that the processor's calls push through, read off its table."""
    found = frozenset[str]()
    for row in cpu.rows:
        if row.operation.flow != "call":
            continue
        for variant in row.form.variants:
            fields = {hole.name: 0 for hole in variant.holes if hole.registers is None}
            if len(fields) == len(variant.holes):
                found |= effects(cpu.bind(row, variant, fields, 0).meaning).writes - {COUNTER}
    return found
