"""Which addresses a program stores to, and what follows: patched instructions, variables of handlers."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache

from ..assemble import OperandNumber, Program
from ..cpu import Action, Cpu, Store, run, term
from ..cpu.symbolic import Reader, State
from ..cpu.term import Term, Turn
from ..flow import Graph, LoopKey


@dataclass(frozen=True, slots=True)
class Stores:
    """Addresses stored to by an operand that names them; `patched` gives the line that stores into an instruction.

    What stores through pointers hit is added where counting shows it.
    """

    written: frozenset[int]
    by_handlers: frozenset[int]
    patched: Mapping[int, int]


def stores(graph: Graph, handlers: Iterable[int]) -> Stores:
    """What the program's stores to named addresses hit; stores through pointers are not in it."""
    program = graph.program
    targets = [_named_stores(program.cpu, instruction.action) for instruction in program.instructions]
    patched = {}
    for instruction, addresses in zip(program.instructions, targets, strict=True):
        for address in addresses & program.code.keys():
            for index in _around(graph, address):
                patched[index] = instruction.origin.line
    return Stores(
        frozenset(address for addresses in targets for address in addresses),
        frozenset(address for index in run_by(graph, handlers) for address in targets[index]),
        patched,
    )


def device_like(program: Program) -> frozenset[int]:
    """Addresses outside the program's own memory that are written by one name and read by another.

    A control register and the status behind it share an address, and so do a port's direction and its data. So are
    those that are written twice in a straight line and not read in between: in memory the first would be in vain.
    """
    shared = {address for address, names in program.names.items() if len(names) > 1}
    shared = {address for address in shared if not program.owns(address)}
    names: dict[tuple[int, str], set[str]] = {}
    for index, operand in _operands(program, shared) if shared else ():
        touched = _touched(program.cpu, program.instructions[index].action)
        # CLR reads what it clears, and nobody wants to know what that was.
        way = "write" if operand.value in touched["write"] else "read"
        if operand.value in touched[way] and operand.symbol is not None:
            names.setdefault((operand.value, way), set()).add(operand.symbol)
    return frozenset(
        address
        for address in shared
        if (read := names.get((address, "read"), set()))
        and (written := names.get((address, "write"), set()))
        and read - written
        and written - read
    ) | frozenset(_written_twice(program))


def _written_twice(program: Program) -> Iterator[int]:
    """Addresses beyond page zero that are not the program's own and get two bytes in a row."""
    before: dict[int, int] = {}
    seen: set[int] = set()
    for instruction in program.instructions:
        index = instruction.index
        for operand in instruction.operands:
            address = operand.value
            if address is None or address < 0x100 or address in seen:
                continue
            if address in before and all(_only_writes(program, i, address) for i in (index, before[address])):
                seen.add(address)
                if not program.owns(address):
                    yield address
            before[address] = index
        if instruction.action.flow != "next":
            before.clear()


def _only_writes(program: Program, index: int, address: int) -> bool:
    touched = _touched(program.cpu, program.instructions[index].action)
    return touched["write"] == {address} and address not in touched["read"]


def read_elsewhere(program: Program, waited: Iterable[tuple[int, LoopKey]]) -> frozenset[int]:
    """Of addresses that loops wait for, those that are read outside these loops too."""
    loops: dict[int, set[int]] = {}
    for address, loop in waited:
        loops.setdefault(address, set()).update(loop.nodes)
    found = _operands(program, loops.keys())
    return frozenset(
        operand.value
        for index, operand in found
        if operand.value is not None
        and index not in loops[operand.value]
        and operand.value in _touched(program.cpu, program.instructions[index].action)["read"]
    )


def _operands(program: Program, addresses: Collection[int]) -> Iterator[tuple[int, OperandNumber]]:
    for instruction in program.instructions:
        for operand in instruction.operands:
            if operand.value in addresses:
                yield instruction.index, operand


def through_pointers(program: Program, writes: Iterable[Term]) -> frozenset[int]:
    """The data that stores through pointers of known start may hit: from there on to the end of its stretch.

    How far such a store moves on is not followed, only which way.
    """
    found: set[int] = set()
    for address in writes:
        start, then = (_in_turn(address, turn).value for turn in (0, 1))
        if address.value is None and start is not None and then is not None and start not in found:
            found |= _stretch(program.data, start, then - start)
    return frozenset(found)


def patched_through_pointers(graph: Graph, writes: Iterable[tuple[int, Term]]) -> Mapping[int, int]:
    """The instructions that stores through pointers of known start hit, each with the line of the store.

    `writes` are the addresses by the instruction that stores there. A pointer that moves on hits all code from its
    start on. An instruction of which the source does not say where it lies is hit by none.
    """
    found: dict[int, int] = {}
    code = graph.program.code
    for index, address in writes:
        start, then = (_in_turn(address, turn).value for turn in (0, 1))
        if start is None or start not in code:
            continue
        hit = {start} if address.value is not None or then is None else _stretch(code, start, then - start)
        for each in hit:
            line = graph.program.instructions[index].origin.line
            for instruction in _around(graph, each):
                hurt = graph.program.instructions[instruction]
                if hurt.placed and hurt.certain:
                    found[instruction] = min(line, found.get(instruction, line))
    return found


def _in_turn(address: Term, turn: int) -> Term:
    return term.substitute(
        address, lambda given: term.number(turn) if isinstance(given.origin, Turn) else None
    )


def _stretch(claimed: Collection[int], address: int, way: int) -> set[int]:
    """The addresses in a row from one on, up or down."""
    found: set[int] = set()
    while address in claimed:
        found.add(address)
        address += 1 if way >= 0 else -1
    return found


def _named_stores(cpu: Cpu, action: Action) -> frozenset[int]:
    if not any(isinstance(statement, Store) for statement in action.meaning):
        return frozenset()
    return _touched(cpu, action)["write"]


@lru_cache(maxsize=65536)
def _touched(cpu: Cpu, action: Action) -> Mapping[str, frozenset[int]]:
    """The addresses an instruction reads and writes that its operand alone tells."""
    reader = Reader(State(cpu, 0))
    with page(reader.state, action):
        run(action.meaning, reader)
    found: dict[str, set[int]] = {"read": set(), "write": set()}
    for touch in reader.touches:
        place = touch.address.value
        if place is not None:
            found[touch.way].update(range(place, place + touch.size))
    return {way: frozenset(addresses) for way, addresses in found.items()}


def _around(graph: Graph, address: int) -> list[int]:
    """The instructions one of whose bytes stands at the address."""
    program = graph.program
    return [
        index
        for start in range(max(0, address - 8), address + 1)
        for index in program.by_address.get(start, ())
        if program.instructions[index].end > address
    ]


def run_by(graph: Graph, entries: Iterable[int]) -> frozenset[int]:
    """The instructions that run from some entries, in what they call too."""
    seen: set[int] = set()
    work = list(entries)
    while work:
        index = work.pop()
        if index in seen:
            continue
        seen.add(index)
        work += [edge.target for edge in graph.edges[index]]
        call = graph.calls.get(index)
        if call is not None and call.target is not None:
            work.append(call.target)
    return frozenset(seen)


@contextmanager
def page(state: State, action: Action) -> Iterator[None]:
    """For one instruction, the page of a direct operand in the page register where nothing says what that holds.

    The assembler went by the source's own directive; the whole address of the operand carries it.
    """
    put = dict(_pages(state, action))
    before = {name: state.registers.get(name) for name in put}
    state.registers.update(put)
    yield
    for name, value in before.items():
        if state.registers[name] == put[name]:
            del state.registers[name]
            if value is not None:
                state.registers[name] = value


def _pages(state: State, action: Action) -> Iterator[tuple[str, Term]]:
    for hole in action.variant.holes:
        value = action.fields.get(hole.name)
        if hole.kind == "direct" and isinstance(value, int):
            for name in _page_registers(state.cpu, action.variant.ea or ""):
                if state.get(name).value is None:
                    yield name, term.number(value >> hole.width)


@cache
def _page_registers(cpu: Cpu, ea: str) -> tuple[str, ...]:
    return tuple(name for name in re.findall(r"[A-Za-z]\w*", ea) if name in cpu.registers)
