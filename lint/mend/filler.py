"""Instructions that only pass time: found in the processor's own table by reading what they do, none listed here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from ..cpu import (
    Action,
    Concrete,
    Cpu,
    Expr,
    Fields,
    Hole,
    Kind,
    Number,
    OperandError,
    Row,
    Step,
    Undefined,
    Variant,
    cost,
    evaluate,
    run,
)
from ..cpu.meaning import registers
from ..cpu.notation import COUNTER
from ..cpu.symbolic import Reader, State, changed
from ..flow import stack_pointers
from ..source import load_syntax


@dataclass(frozen=True, slots=True)
class Filler:
    """An instruction, its cycles, its bytes, and the registers and flags it spoils."""

    mnemonic: str
    operand: str
    cycles: int
    size: int
    spoils: frozenset[str]


Modes = frozenset[tuple[str, int]]


@cache
def fillers(cpu: Cpu, modes: Modes, waits: int = 0) -> tuple[Filler, ...]:
    """Every instruction of a fixed cost that touches no memory, goes straight on, and how much it spoils.

    `modes` is what the registers that decide on cycles hold, `waits` the wait cycles of each access where it is to
    stand. Left out are those that move a register on the way, and those that write a stack pointer or change what
    masks an interrupt: one may come between two of them. Registers that work outside the program are neither read nor
    written.
    """
    found: dict[tuple[int, int, frozenset[str]], Filler] = {}
    for filler in _candidates(cpu, modes, waits):
        found.setdefault((filler.cycles, filler.size, filler.spoils), filler)
    return tuple(
        sorted(found.values(), key=lambda f: (len(f.spoils), f.size, f.cycles, f.mnemonic, f.operand))
    )


def _candidates(cpu: Cpu, modes: Modes, waits: int) -> Iterator[Filler]:
    kept = stack_pointers(cpu) | deciding(cpu)
    for row in cpu.rows:
        if row.mark:
            continue
        for variant in row.form.variants:
            if variant.after:
                continue
            for fields in _fields(row, variant, cpu.size(row, variant)):
                filler = _filler(cpu, modes, waits, row, variant, fields, kept)
                if filler is not None:
                    yield filler


def deciding(cpu: Cpu) -> frozenset[str]:
    """Registers that decide how many cycles other instructions take."""
    return cpu.deciding


@cache
def masks(cpu: Cpu) -> frozenset[str]:
    """Flags that keep interrupts out: nobody is seen to read them, and they are never dead."""
    found = (interrupt.mask for interrupt in cpu.interrupts.values())
    return frozenset(name for mask in found if mask is not None for name, _ in mask.parts)


def _fields(row: Row, variant: Variant, after: int) -> Iterator[dict[str, int | str | tuple[str, ...]]]:
    """A few operands that can leave things as they are: 0, all ones, a register with itself, this place or the next."""
    holes = variant.holes
    if not holes:
        yield {}
        return
    if all(hole.kind == "register" for hole in holes):
        for name in sorted(_shared(holes)):
            yield {hole.name: name for hole in holes}
    elif variant.pattern == holes[0].name and holes[0].kind == "relative":
        yield {holes[0].name: 0}  # where the instruction is bound
    elif len(holes) == 1 and holes[0].kind == "number":
        yield {holes[0].name: 0}
        yield {holes[0].name: (1 << holes[0].width) - 1}
    elif len(holes) == 1 and holes[0].kind == "address" and row.operation.flow == "jump":
        yield {holes[0].name: after}


def _shared(holes: tuple[Hole, ...]) -> set[str]:
    """Registers that fit every hole; a name such as 0, which is read as a number, is none of them."""
    names = [set(hole.registers.codes) for hole in holes if hole.registers is not None]
    return {name for name in set.intersection(*names) if name.isalpha()} if names else set()


def _filler(
    cpu: Cpu,
    modes: Modes,
    waits: int,
    row: Row,
    variant: Variant,
    fields: dict[str, int | str | tuple[str, ...]],
    kept: frozenset[str],
) -> Filler | None:
    try:
        action = cpu.bind(row, variant, fields, 0)
    except OperandError:
        return None
    used = action.used
    if not _goes_on(action) or used.writes & kept or (used.reads | used.writes) & cpu.outside:
        return None
    changed_by = spoils(cpu, action)
    steps = cost(action, lambda name: truth(cpu, modes, action.conditions[name]))
    if changed_by is None or changed_by & masks(cpu) or steps.most != steps.fewest:
        return None
    cycles = steps.fewest + waits * _on_the_bus(action)
    return Filler(row.mnemonics[0], operand(cpu, variant, fields), cycles, action.size, changed_by)


def _on_the_bus(action: Action) -> int:
    return sum(isinstance(step, Step) and step.kind in (Kind.FETCH, Kind.DUMMY) for step in action.steps)


def _goes_on(action: Action) -> bool:
    """Whether the next instruction is the one behind it: a jump there is one, too."""
    if action.flow == "jump":
        return action.target == Number(action.after)
    return action.flow == "next" and COUNTER not in action.used.writes


def truth(cpu: Cpu, modes: Modes, condition: Expr | Undefined) -> bool | None:
    """Whether a condition about modes alone holds; None for any other."""
    if isinstance(condition, Undefined) or not registers(condition) <= {name for name, _ in modes}:
        return None
    return evaluate(condition, Concrete(cpu, {}, dict(modes))) != 0


def spoils(cpu: Cpu, action: Action) -> frozenset[str] | None:
    """Registers and flags that hold something else afterwards; None where memory or the bus is touched."""
    reader = Reader(State(cpu, 0))
    run(action.meaning, reader)
    if reader.touches:
        return None
    return frozenset(name for name, _ in changed(reader.state))


def operand(cpu: Cpu, variant: Variant, fields: Fields, label: str = "") -> str:
    """The operand as the table's pattern spells it, with its holes filled; places are `label`, else count from here."""
    text = variant.pattern
    here = load_syntax(cpu.syntax).here
    for hole in sorted(variant.holes, key=lambda hole: -len(hole.name)):
        value = fields[hole.name]
        places = {"relative": label or here, "address": label or f"{here}+{value}"}
        place = places.get(hole.kind, str(value))
        text = text.replace(hole.name, place)
    return text


def padding(
    cpu: Cpu, modes: Modes, cycles: int, dead: frozenset[str], waits: int = 0
) -> tuple[Filler, ...] | None:
    """Fillers that last exactly `cycles` and spoil only what is dead, as little of that as can be, in the fewest bytes.

    None where the processor has none.
    """
    usable = [
        filler for filler in fillers(cpu, modes, waits) if filler.spoils <= dead and filler.cycles <= cycles
    ]
    best: list[tuple[tuple[int, int, int], tuple[Filler, ...]] | None] = [((0, 0, 0), ())]
    for total in range(1, cycles + 1):
        found = None
        for filler in usable:
            before = best[total - filler.cycles] if filler.cycles <= total else None
            if before is None:
                continue
            (spoiled, size, number), sequence = before
            weight = (spoiled + len(filler.spoils), size + filler.size, number + 1)
            if found is None or weight < found[0]:
                found = (weight, (*sequence, filler))
        best.append(found)
    last = best[cycles]
    return None if last is None else last[1]


def shortest_padding(
    cpu: Cpu, modes: Modes, cycles: int, dead: frozenset[str], waits: int = 0
) -> tuple[Filler, ...] | None:
    """Padding of at least `cycles`, as little more as the processor allows."""
    for total in range(cycles, cycles + 4 + 2 * waits):
        found = padding(cpu, modes, total, dead, waits)
        if found is not None:
            return found
    return None
