"""What the source says about an address: whether it is memory of the program's own."""

from __future__ import annotations

from .base import Case


def variable(case: Case, address: int) -> bool:
    """Whether the address is the program's own, or in page zero, where many sources name variables by EQU alone.

    A register on the processor's chip is none, by whatever way the source names it.
    """
    if address in case.timings.analysis.on_chip:
        return False
    return address < 0x100 or case.program.owns(address)
