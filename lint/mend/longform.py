"""The long form of a short branch: found in the processor's own table by trying what its instructions do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Final

from ..cpu import Action, Concrete, Cpu, Hole, OperandError, Value, run
from ..cpu.notation import COUNTER
from ..cpu.symbolic import Reader, State
from ..flow import stack_pointers
from ..source import load_syntax
from .countdown import touches
from .filler import deciding, masks, operand

_HERE: Final = 0x4000
_TARGET: Final = 0x4020
# Registers that decide on a branch are tried with every value: of more bits than these none is.
_MOST_BITS: Final = 16
_NO_MEMORY: Final[dict[int, int]] = {}
# Stands in an operand for the text of the target.
TARGET: Final = "\0"


@dataclass(frozen=True, slots=True)
class LongForm:
    """Instructions in place of a branch, in order, each a mnemonic and an operand; TARGET stands for the target.

    `hop` is how far the branch itself goes from where it stands, where it is kept and jumps over the rest; it is then
    none of the `lines`. `spoils` are flags that hold something else afterwards.
    """

    lines: tuple[tuple[str, str], ...]
    hop: int | None
    spoils: frozenset[str]


def near(action: Action) -> Hole | None:
    """The hole of a target that has to lie near."""
    found = [hole for hole in action.variant.holes if hole.kind == "relative" and hole.width < 16]
    return found[0] if len(found) == 1 and action.flow in ("branch", "jump", "call") else None


def long_form(cpu: Cpu, action: Action, spare: frozenset[str]) -> LongForm | None:
    """What goes as far as needed and does the same, in the fewest bytes; None where the processor has nothing.

    `spare` are flags that nobody reads afterwards.
    """
    hole = near(action)
    if hole is None:
        return None
    short = cpu.bind(action.row, action.variant, {**action.fields, hole.name: _TARGET}, _HERE)
    for forms in (
        _one(cpu, short, spare),
        _inverted(cpu, short, spare),
        _stepped(cpu, short, spare),
        _hopping(cpu, short),
    ):
        found = min(forms, key=lambda form: form[0], default=None)
        if found is not None:
            return found[1]
    return None


_Weighed = tuple[int, LongForm]  # with its bytes


def _one(cpu: Cpu, short: Action, spare: frozenset[str]) -> Iterator[_Weighed]:
    """One instruction that goes further."""
    for far in _far(cpu):
        alike = far.flow == short.flow and len(far.variant.holes) == len(short.variant.holes)
        if alike and (_equal(cpu, short, far) or _agrees(cpu, short, (), far, spare)):
            yield far.size, LongForm((_line(cpu, far),), None, _spoiled(short, (far,)))


def _inverted(cpu: Cpu, short: Action, spare: frozenset[str]) -> Iterator[_Weighed]:
    """The branch of the opposite condition, over a jump."""
    jump = _jump(cpu)
    if short.flow != "branch" or jump is None:
        return
    for other in _branches(cpu):
        hole = near(other)
        if hole is not None and _agrees(cpu, short, (), other, spare, opposite=True):
            over = (
                other.mnemonic,
                operand(cpu, other.variant, other.fields, ahead(cpu, other.size + jump.size)),
            )
            yield other.size + jump.size, LongForm((over, _line(cpu, jump)), None, _spoiled(short, (other,)))


def _stepped(cpu: Cpu, short: Action, spare: frozenset[str]) -> Iterator[_Weighed]:
    """What a branch does besides as an instruction of its own, and one that asks what that left."""
    done = short.used.writes - {COUNTER}
    if short.flow != "branch" or not done:
        return
    for step in _steps(cpu):
        if (
            step.used.writes >= done
            and step.used.writes - done <= spare
            and step.used.reads <= short.used.reads
        ):
            for far in _far(cpu):
                if far.flow == "branch" and _agrees(cpu, short, (step,), far, spare):
                    lines = ((step.mnemonic, operand(cpu, step.variant, step.fields)), _line(cpu, far))
                    yield step.size + far.size, LongForm(lines, None, _spoiled(short, (step, far)))


def _hopping(cpu: Cpu, short: Action) -> Iterator[_Weighed]:
    """The branch to a jump beside it, which is passed otherwise."""
    jump = _jump(cpu)
    if short.flow != "branch" or jump is None:
        return
    past = min(_unconditional(cpu), key=lambda each: each.size)
    over = (past.mnemonic, operand(cpu, past.variant, past.fields, ahead(cpu, past.size + jump.size)))
    yield past.size + jump.size, LongForm((over, _line(cpu, jump)), short.size + past.size, frozenset())


def ahead(cpu: Cpu, distance: int) -> str:
    """The place so many bytes from the beginning of an instruction, as it is written in that."""
    return f"{load_syntax(cpu.syntax).here}+{distance}"


def _line(cpu: Cpu, action: Action) -> tuple[str, str]:
    return action.mnemonic, operand(cpu, action.variant, action.fields, TARGET)


def _spoiled(short: Action, forms: tuple[Action, ...]) -> frozenset[str]:
    return frozenset[str]().union(*(form.used.writes for form in forms)) - short.used.writes - {COUNTER}


# -- what the table has ------------------------------------------------------------------------------------------


@cache
def _branches(cpu: Cpu) -> tuple[Action, ...]:
    """Everything that goes to one place that its operand names, with every register the operand may name besides."""
    return tuple(_bound(cpu, ("branch", "jump", "call"), (_TARGET,)))


@cache
def _far(cpu: Cpu) -> tuple[Action, ...]:
    return tuple(each for each in _branches(cpu) if near(each) is None)


@cache
def _steps(cpu: Cpu) -> tuple[Action, ...]:
    """What changes nothing but registers and goes straight on."""
    kept = stack_pointers(cpu) | deciding(cpu) | masks(cpu) | cpu.outside
    found = _bound(cpu, ("next",), ())
    return tuple(each for each in found if not (touches(each.meaning) or each.used.writes & kept))


def _unconditional(cpu: Cpu) -> Iterator[Action]:
    return (each for each in _branches(cpu) if each.flow == "jump")


def _jump(cpu: Cpu) -> Action | None:
    found = (each for each in _unconditional(cpu) if near(each) is None)
    return min(found, key=lambda each: each.size, default=None)


def _bound(cpu: Cpu, flows: tuple[str, ...], places: tuple[int, ...]) -> Iterator[Action]:
    for row in cpu.rows:
        if row.mark or row.operation.flow not in flows:
            continue
        for variant in row.form.variants:
            aims = [hole for hole in variant.holes if hole.kind in ("relative", "address")]
            rest = [hole for hole in variant.holes if hole not in aims]
            if variant.after or len(aims) != len(places) or any(hole.registers is None for hole in rest):
                continue
            names = [tuple(hole.registers.codes) for hole in rest if hole.registers is not None]
            for values in product(*names):
                fields: dict[str, Value] = dict(zip((hole.name for hole in rest), values, strict=True))
                fields |= dict(zip((hole.name for hole in aims), places, strict=True))
                try:
                    action = cpu.bind(row, variant, fields, _HERE)
                except OperandError:
                    continue
                if action.flow in flows:
                    yield action


# -- what it does ------------------------------------------------------------------------------------------------


def _equal(cpu: Cpu, short: Action, far: Action) -> bool:
    """Whether both always go there, and leave the same; read with the same address behind both."""
    if short.flow == "branch" or far.flow != short.flow:
        return False
    there = cpu.bind(far.row, far.variant, far.fields, short.after - far.size)
    was, will = _reading(cpu, short), _reading(cpu, there)
    return (was.goes, was.state.registers, was.state.memory, was.touches) == (
        will.goes,
        will.state.registers,
        will.state.memory,
        will.touches,
    )


def _reading(cpu: Cpu, action: Action) -> Reader:
    reader = Reader(State(cpu, 0))
    run(action.meaning, reader)
    return reader


def _agrees(
    cpu: Cpu,
    short: Action,
    before: tuple[Action, ...],
    far: Action,
    spare: frozenset[str],
    opposite: bool = False,
) -> bool:
    """Whether `far` behind `before` goes where the branch goes (or where it does not), for all that can decide it.

    Every value of every register that the branch reads is tried. What it writes is the same afterwards, and
    nothing else is changed but what is spare.
    """
    names = sorted(short.used.reads - {COUNTER})
    decides = frozenset(names)
    for each in (*before, far):
        if not each.used.reads - {COUNTER} <= decides or touches(each.meaning):
            return False
        decides |= each.used.surely
    done = short.used.writes - {COUNTER}
    others = frozenset[str]().union(*(each.used.writes for each in (*before, far))) - done - {COUNTER}
    widths = [cpu.registers.get(name, 1) for name in names]
    if short.flow != "branch" or far.flow != "branch" or others - spare or touches(short.meaning):
        return False
    if sum(widths) > _MOST_BITS:
        return False
    for values in product(*(range(1 << width) for width in widths)):
        for fill in (0, -1):
            held = dict(zip(names, values, strict=True))
            was, will = _after(cpu, held, fill, (short,)), _after(cpu, held, fill, (*before, far))
            taken = (was[COUNTER] == _TARGET) != opposite
            if (will[COUNTER] == _TARGET) != taken or any(was[name] != will[name] for name in done):
                return False
    return True


def _after(cpu: Cpu, held: Mapping[str, int], fill: int, actions: tuple[Action, ...]) -> Mapping[str, int]:
    state = Concrete(cpu, _NO_MEMORY, held, fill)
    for action in actions:
        state.registers[COUNTER] = action.after
        run(action.meaning, state)
    return state.registers
