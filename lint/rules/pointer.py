"""Accesses through pointers of which it is not known where they point: they may be a part's, and no rule sees them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..assemble import Program
from ..board import Board
from ..cpu import Cpu, term
from ..cpu.term import Held, Input, Term, Turn
from ..errors import Place
from ..flow import stack_pointers
from ..timing import Timings

# An offset below zero reads as an address near the top.
_NEGATIVE = 0xFF80


@dataclass(frozen=True, slots=True)
class Astray:
    """How many instructions access something `through` one kind of pointer whose place is not known; the first."""

    through: str
    count: int
    first: Place


def astray(timings: Timings, board: Board) -> tuple[Astray, ...]:
    """The accesses that may be to a part of the board and were not judged, by kind of pointer, the most first.

    A stack and a table or buffer of the program's own, in which an index counts, are taken not to reach a part. Empty
    where no part is on the board.
    """
    found: dict[str, set[int]] = {}
    for context in timings.contexts() if board.watched else ():
        for index, fact in timings.analysis.outcome(context).facts.items():
            for address in fact.reads | fact.writes:
                if address.value is None and _may_be_a_part(timings.graph.program, board, address):
                    found.setdefault(_through(timings.graph.program.cpu, address), set()).add(index)
    rows = sorted(found.items(), key=lambda row: (-len(row[1]), row[0]))
    instructions = timings.graph.program.instructions
    return tuple(Astray(name, len(each), instructions[min(each)].origin.place) for name, each in rows)


def _may_be_a_part(program: Program, board: Board, address: Term) -> bool:
    low, high = address.bounds
    inputs = term.inputs([address])
    if not any(low <= each <= high for each in board.watched) or _on_stack(program.cpu, inputs):
        return False
    base = term.substitute(address, lambda _: term.number(0)).value
    if all(isinstance(given.origin, Turn) for given in inputs):
        return base is None or base in board.watched
    return base is None or base >= _NEGATIVE or base < 0x100 or not program.owns(base)


def _on_stack(cpu: Cpu, inputs: frozenset[Input]) -> bool:
    return any(isinstance(i.origin, Held) and i.origin.name in stack_pointers(cpu) for i in inputs)


def _through(cpu: Cpu, address: Term) -> str:
    origins = [given.origin for given in term.inputs([address])]
    names = frozenset(o.name for o in origins if isinstance(o, Held) and o.name in cpu.registers)
    return _spelt(cpu, names) if names else "pointers that are computed or kept in memory"


def _spelt(cpu: Cpu, names: frozenset[str]) -> str:
    """The registers by the name of the pair that they make, if they make one."""
    pairs: Iterator[str] = (
        name for name, register in cpu.views.items() if frozenset(part for part, _ in register.parts) == names
    )
    return next(pairs, " and ".join(sorted(names)))
