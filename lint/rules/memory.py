"""What the source says about an address: whether it is memory of the program's own."""

from __future__ import annotations

from ..assemble import Program


def own(program: Program, address: int) -> bool:
    """Whether the source lays down, reserves or puts code at the address."""
    if address in program.data or address in program.code:
        return True
    return any(each.start <= address < each.start + each.size for each in program.reserved)


def variable(program: Program, address: int) -> bool:
    """Whether the address is the program's own, or in page zero, where many sources name variables by EQU alone."""
    return address < 0x100 or own(program, address)
