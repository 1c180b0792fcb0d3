"""Words that several messages share: what an access is called, where it came after, the way between two."""

from __future__ import annotations

from collections.abc import Iterator

from ..assemble import Instruction
from ..timing import Gap, Site
from .base import Case

_MOST_NOTES = 12


def subject(case: Case, site: Site) -> str:
    """The author's name for the address accessed."""
    address = site.access.address
    return case.timings.graph.program.symbol_at(address) or f"${address:04X}"


def after(case: Case, then: Site, first: Site) -> str:
    """Where the earlier access stands, as short as it can be said."""
    instructions = case.timings.graph.program.instructions
    one, other = (instructions[site.access.instruction].origin for site in (first, then))
    if one.place == other.place:
        return "itself"
    return f"line {one.place.line}" if one.place.path == other.place.path else f"{one.place.path}:{one.place.line}"


def path_notes(case: Case, gap: Gap) -> Iterator[str]:
    """The instructions on the shortest way, a line each; a long way loses its middle."""
    instructions = case.timings.graph.program.instructions
    lines = [_line(instructions[index]) for index in gap.path]
    if len(lines) > _MOST_NOTES:
        half = _MOST_NOTES // 2
        lines = [*lines[:half], f"... {len(lines) - 2 * half} instructions ...", *lines[-half:]]
    yield from lines


def _line(instruction: Instruction) -> str:
    origin = instruction.origin
    statement = origin.statement
    spans = (statement.label, statement.operation, statement.operand)
    text = " ".join(origin.source.of(span) for span in spans if span is not None)
    return f"{origin.path}:{origin.line}: {text}"
