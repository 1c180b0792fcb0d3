"""Which registers are stack pointers, and what of a stack is free: what a call moves beside the program counter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from ..cpu import Action, Cpu, run, term
from ..cpu.notation import COUNTER
from ..cpu.symbolic import Reader, State
from ..cpu.term import Term


@cache
def stack_pointers(cpu: Cpu) -> frozenset[str]:
    """The registers that the processor's calls push through, read off its table."""
    return frozenset(name for call in _calls(cpu) for name in call.used.writes - {COUNTER})


@dataclass(frozen=True, slots=True)
class Frame:
    """What a call puts on a stack: `size` bytes, the lowest of them `low` above where the pointer then points."""

    low: int
    size: int


@cache
def frames(cpu: Cpu) -> Mapping[str, Frame]:
    """By stack pointer, what the processor's calls put there."""
    found: dict[str, Frame] = {}
    for call in _calls(cpu):
        reader = Reader(State(cpu, 0), assumed=True)
        run(call.meaning, reader)
        for name in stack_pointers(cpu):
            moved = distance(reader.state.get(name), reader.state.held(name), reader.state.width(name))
            if moved:
                found[name] = Frame(_lowest(cpu).get(name, 0), -moved)
    return found


def distance(value: Term, start: Term, width: int) -> int | None:
    """How far a value of so many bits lies above another, below it where negative; None where it is not known."""
    above = term.modulo(term.add(value, start, -1), width).value
    return above if above is None or above < 1 << (width - 1) else above - (1 << width)


def is_free(address: Term, pointer: Term, name: str, cpu: Cpu) -> bool:
    """Whether an address surely lies where the stack pointer `name`, that holds `pointer`, would push next, or below.

    An interrupt may overwrite what is there at any time.
    """
    above = _distance(address, pointer, cpu)
    return above is not None and (above > 1 << (cpu.address_bits - 1) or above < _lowest(cpu).get(name, 0))


@cache
def _lowest(cpu: Cpu) -> Mapping[str, int]:
    """How far above each stack pointer the last byte pushed lies: 1 where it points at the next free one."""
    found: dict[str, int] = {}
    for call in _calls(cpu):
        reader = Reader(State(cpu, 0))
        run(call.meaning, reader)
        for name in stack_pointers(cpu):
            pointer = reader.state.get(name)
            above = [_distance(address, pointer, cpu) for address in reader.state.memory]
            found[name] = min((*(each for each in above if each is not None), found.get(name, 1)))
    return found


def _distance(address: Term, pointer: Term, cpu: Cpu) -> int | None:
    return term.modulo(term.add(address, pointer, -1), cpu.address_bits).value


def _calls(cpu: Cpu) -> Iterator[Action]:
    """Every call whose operand is a number or none and moves no register by itself, with some number."""
    for row in cpu.rows:
        for variant in row.form.variants if row.operation.flow == "call" else ():
            if variant.after:
                continue
            fields = {hole.name: 0 for hole in variant.holes if hole.registers is None}
            if len(fields) == len(variant.holes):
                yield cpu.bind(row, variant, fields, 0)
