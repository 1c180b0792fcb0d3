"""Instructions that read the bytes of other instructions: a count that is changed is changed for them, too."""

from __future__ import annotations

from ..timing.analysis import Analysis


def read_as_data(analysis: Analysis, index: int) -> int | None:
    """The first line that reads a byte of the instruction as data, by an address that is known; None where none does.

    None as well where the source does not say where the instruction lies.
    """
    instructions = analysis.graph.program.instructions
    if not instructions[index].placed:
        return None
    bytes_of = range(instructions[index].address, instructions[index].end)
    readers = (
        reader
        for outcome in analysis.outcomes().values()
        for reader, fact in outcome.facts.items()
        if any(address.value in bytes_of for address in fact.reads if address.value is not None)
    )
    first = min(readers, default=None)
    return None if first is None else instructions[first].origin.line
