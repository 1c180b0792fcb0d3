"""address-unmapped: an address that looks like a device's, to which no part is mapped."""

from __future__ import annotations

from collections.abc import Iterator

from ..address import shown
from .base import Case, Finding, Rule, Verdict
from .memory import variable
from .words import counted, subject


def judge(case: Case) -> Iterator[Verdict]:
    """One note for each address an operand names that is accessed and is neither memory nor a part."""
    accessed = _accessed(case)
    uses: dict[int, list[int]] = {}
    for instruction in case.program.instructions:
        for operand in instruction.operands:
            address = instruction.address_of(operand)
            if (
                address is not None
                and address in accessed
                and instruction.index in accessed[address]
                and _device(case, address)
            ):
                uses.setdefault(address, []).append(instruction.index)
    for address in sorted(uses):
        first = case.program.instructions[uses[address][0]]
        name = subject(case.program, address)
        words = name if name == shown(address) else f"{name} ({shown(address)})"
        yield Finding(
            name="address-unmapped",
            severity="note",
            place=first.origin.place,
            message=f"{words} is accessed by {counted(len(uses[address]), 'instruction')} and no part is mapped there",
            subject=name,
            index=first.index,
        )


def _accessed(case: Case) -> dict[int, set[int]]:
    """The instructions that access each constant address."""
    found: dict[int, set[int]] = {}
    for routine in case.timings.routines:
        for index, fact in routine.outcome.facts.items():
            for term in fact.reads | fact.writes:
                if term.value is not None:
                    found.setdefault(term.value, set()).add(index)
    return found


def _device(case: Case, address: int) -> bool:
    board = case.board
    if variable(case, address) or address in board.watched or address in case.timings.analysis.on_chip:
        return False
    return not any(area.first <= address <= area.last for area in board.areas)


RULE = Rule(
    name="address-unmapped",
    summary="No part is mapped to an address that looks like a device's",
    mend="",
    explanation="""
        What it finds: an address named in an instruction that the source neither fills nor reserves, and that the
            project file says nothing about. Registers of the processor's own chip are left out.
        Why it matters: what the part there needs is not judged. A clean report says nothing about it.
        Example: STA $8010, with no part at $8010 in the project file.
        Mend: none is made; map a part there in the project file, or name the area as memory.
        When to leave it: it is a cell of memory that another program owns.
    """,
    judge=judge,
)
