"""What the source says about an address: whether it is memory of the program's own."""

from __future__ import annotations

from ..assemble import Program


def variable(program: Program, address: int) -> bool:
    """Whether the address is the program's own, or in page zero, where many sources name variables by EQU alone."""
    return address < 0x100 or program.owns(address)
