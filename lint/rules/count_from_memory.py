"""count-from-memory: a loop's count is loaded from an address where an immediate number is likely meant."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from ..assemble import OperandNumber
from ..cpu import term
from ..cpu.term import Cell, Input, Term
from ..timing import LoopTiming
from .base import Case, Finding, Rule, Verdict

# Numbers in any radix, operators and brackets: nothing with a name in it.
_HEX: Final = re.compile(r"\$[0-9A-Fa-f]+|0[xX][0-9A-Fa-f]+")
_PLAIN: Final = re.compile(r"(?:\$[0-9A-Fa-f]+|0[xX][0-9A-Fa-f]+|%[01]+|\d+|[-+*/()<>\s])+")


def judge(case: Case) -> Iterator[Verdict]:
    """Loads of a count from a numbered address that nothing lays down, reserves or writes."""
    cells = _counts(case)
    written = {
        place.value for r in case.timings.routines for f in r.outcome.facts.values() for place in f.writes
    }
    for instruction in case.program.instructions:
        for operand, hole in zip(instruction.operands, instruction.action.variant.holes, strict=False):
            if hole.kind in ("address", "direct") and _plain(operand) and operand.value in cells:
                assert operand.value is not None
                if operand.value not in written and not _memory(case, operand.value):
                    loop = cells[operand.value]
                    yield Finding(
                        name="count-from-memory",
                        severity="warning",
                        place=instruction.origin.place,
                        message=(
                            f"{loop.name} counts from memory at ${operand.value:04X}, which nothing here writes; "
                            f"#{operand.text.strip()} makes it the number{_turns(case, loop, operand.value)}"
                        ),
                        subject=loop.name,
                        index=instruction.index,
                    )


def _turns(case: Case, loop: LoopTiming, number: int) -> str:
    """How often the loop runs with the number itself in the bytes that now come from memory."""
    count = loop.count.trips.fewest
    cells = [i.origin.address for i in count.inputs if isinstance(i.origin, Cell)]
    size = 1 + (number + 1 in cells)
    held = dict(
        enumerate(
            (number % (1 << 8 * size)).to_bytes(
                size, "big" if case.program.cpu.endian == "big" else "little"
            ),
            number,
        )
    )

    def known(given: Input) -> Term | None:
        value = held.get(given.origin.address) if isinstance(given.origin, Cell) else None
        return None if value is None else term.number(value)

    turns = count.substituted(known).value
    return "" if turns is None else f", for {turns} turns"


def _counts(case: Case) -> dict[int, LoopTiming]:
    """The addresses that decide how often a loop runs, with the loop."""
    return {
        given.origin.address: loop
        for loop in case.timings.loops
        for given in loop.count.trips.fewest.inputs
        if isinstance(given.origin, Cell)
    }


def _plain(operand: OperandNumber) -> bool:
    # A single hexadecimal number is how an address is written.
    text = operand.text.strip()
    return operand.symbol is None and _PLAIN.fullmatch(text) is not None and not _HEX.fullmatch(text)


def _memory(case: Case, address: int) -> bool:
    return case.program.owns(address) or address in case.board.watched


RULE = Rule(
    name="count-from-memory",
    summary="A count comes from memory where a number is likely meant",
    mend="",
    explanation="""
        What it finds: a loop counter loaded from an address written as a number or a sum, at which the source lays
            down nothing, reserves nothing and writes nothing.
        Why it matters: without the # the assembler takes the number as an address, without a word. The loop then
            runs as often as chance has it in memory.
        Example: LDX 80*24 loads X from address $0780; LDX #80*24 loads 1920.
        Mend: none is made; add the #.
        When to leave it: another program, or the monitor, leaves the count there. Accept it with that reason.
    """,
    judge=judge,
)
