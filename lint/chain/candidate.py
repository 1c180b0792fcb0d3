"""Which addresses of a program may belong to parts: accessed by name or number, but neither code, data nor memory."""

from collections.abc import Iterator, Mapping

from ..address import shown
from ..assemble import Program
from ..board import Candidate
from ..flow import Entry
from .chain import Chain


def candidates(chain: Chain) -> tuple[Candidate, ...]:
    """The addresses that may belong to parts, in order, each with the author's name for it and how it is accessed.

    An address that only arises on the way, such as what a stack pointer walks over, is none of them.
    """
    facts = [
        fact for outcome in chain.timings.analysis.outcomes().values() for fact in outcome.facts.values()
    ]
    reads = {term.value for fact in facts for term in fact.reads}
    writes = {term.value for fact in facts for term in fact.writes}
    names = _names(chain.program)
    memory = set(_memory(chain.program))
    return tuple(
        Candidate(names[address], address, address in reads, address in writes)
        for address in sorted(names.keys() - memory)
        if address in reads or address in writes
    )


def likely_entries(chain: Chain) -> tuple[str, ...]:
    """Where the program may be entered: its vectors and its start by label or address, else the labels of what nothing
    in the text reaches."""
    entries = chain.graph.entries
    program = chain.program
    known = [_entry(program, entry) for entry in entries if entry.kind in ("reset", "vector", "start")]
    found = known or [e.name for e in entries if e.kind == "unreached" and e.name in program.symbols]
    return tuple(dict.fromkeys(found))


def _entry(program: Program, entry: Entry) -> str:
    """The label of an entry, its address where it has none."""
    return entry.name if entry.name in program.symbols else shown(program.instructions[entry.index].address)


def _names(program: Program) -> Mapping[int, str]:
    """What the text calls each address it speaks of: the symbol in the operand, else any symbol, else the number."""
    found: dict[int, str] = {}
    for instruction in program.instructions:
        for operand in instruction.operands:
            address = instruction.address_of(operand)
            if address is not None:
                found.setdefault(address, operand.symbol or program.shown(address))
    return found


def _memory(program: Program) -> Iterator[int]:
    yield from program.code
    yield from program.data
    for reserved in program.reserved:
        yield from range(reserved.start, reserved.start + reserved.size)
