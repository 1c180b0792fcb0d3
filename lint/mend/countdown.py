"""Ways to count a register down to nothing: found in the processor's own table by trying what instructions do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product
from random import Random
from typing import Final

from ..cpu import (
    Action,
    Concrete,
    Cpu,
    Hole,
    If,
    Load,
    OperandError,
    Register,
    Repeat,
    Row,
    Statement,
    Store,
    Undefined,
    Value,
    Variant,
    cost,
    evaluate,
    run,
)
from ..cpu.meaning import operands, registers, walk
from ..cpu.notation import COUNTER
from ..flow import stack_pointers
from .filler import Filler, Modes, deciding, masks, operand, spoils, truth

# In one page of 256 bytes.
_HERE: Final = 0x1010
_TARGET: Final = 0x1004
# Where carries go from byte to byte, where bytes are alike, and where they add up to nothing.
_SAMPLES: Final = (
    1,
    0,
    2,
    0x101,
    0x100,
    0x1FF,
    0x8000,
    0x8080,
    0x7F,
    0x80,
    0xFF,
    0x7FFF,
    0xFF00,
    0xFFFF,
    0x3412,
)
# A table of zeros and ones only: what a counter's instructions touch is no memory.
_NO_MEMORY: Final[dict[int, int]] = {}


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """An instruction with operands that goes straight on, at a fixed cost, and touches nothing but registers."""

    text: Filler
    action: Action


@dataclass(frozen=True, slots=True, eq=False)
class Loading:
    """An instruction that gives a register a count; its number is written for `hole`."""

    row: Row
    variant: Variant
    fields: Mapping[str, Value]
    hole: str
    register: Register
    cycles: int
    size: int
    spoils: frozenset[str]

    def text(self, cpu: Cpu, count: int | str) -> Filler:
        """The instruction with the count (2^width stands for itself as 0), or with other text in its place."""
        value = count % (1 << self.register.width) if isinstance(count, int) else count
        words = operand(cpu, self.variant, {**self.fields, self.hole: value})
        return Filler(self.row.mnemonics[0], words, self.cycles, self.size, self.spoils)


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """A branch back to a label: the operand up to the label and behind it, cycles when taken and when not."""

    action: Action
    before: str
    behind: str
    taken: int
    past: int
    spoils: frozenset[str]

    @property
    def asks(self) -> int:
        """How many registers and flags decide where it goes."""
        return len(self.action.used.reads)


@dataclass(frozen=True, slots=True, eq=False)
class Countdown:
    """A register that is loaded and then counted down once a turn, until it is zero.

    `orders` are the instructions between the head of the loop and its branch.
    """

    load: Loading
    orders: tuple[Order, ...]
    branch: Branch

    @property
    def turn(self) -> tuple[Filler, ...]:
        """The instructions between the head of the loop and its branch, as they are written."""
        return tuple(order.text for order in self.orders)

    @property
    def parts(self) -> frozenset[str]:
        """The stored registers that hold the count."""
        return frozenset(name for name, _ in self.load.register.parts)

    @property
    def spoils(self) -> frozenset[str]:
        """Registers and flags that hold something else afterwards."""
        turn = frozenset[str]().union(*(each.spoils for each in self.turn))
        return self.parts | self.load.spoils | turn | self.branch.spoils

    @property
    def most(self) -> int:
        """The largest count."""
        return 1 << self.load.register.width

    @property
    def cycles(self) -> int:
        """Cycles of a turn that goes back."""
        return sum(each.cycles for each in self.turn) + self.branch.taken

    @property
    def saved(self) -> int:
        """How much shorter the last turn is."""
        return self.branch.taken - self.branch.past

    @property
    def size(self) -> int:
        """Bytes, the load included."""
        return self.load.size + sum(each.size for each in self.turn) + self.branch.action.size

    @property
    def weight(self) -> tuple[int, ...]:
        """How far from the plainest: bytes, flags spoiled, flags the branch asks for, cycles."""
        return self.size, len(self.spoils), self.branch.asks, self.cycles


@cache
def flags(cpu: Cpu) -> frozenset[str]:
    """The flags, and single bits that the table keeps apart from them, but none that decides on cycles."""
    bits = (name for name, width in cpu.registers.items() if width == 1)
    return frozenset((*cpu.flags, *bits)) - deciding(cpu)


@cache
def countdowns(cpu: Cpu, modes: Modes) -> tuple[Countdown, ...]:
    """For every register that can be counted down the shortest ways, one for each set of registers they spoil."""
    orders = tuple(_orders(cpu, modes))
    branches = tuple(_branches(cpu))
    found: list[Countdown] = []
    for load in _loads(cpu, modes).values():
        best: dict[frozenset[str], Countdown] = {}
        for made in _of(cpu, modes, load, orders, branches):
            scratch = made.spoils - flags(cpu)
            before = best.get(scratch)
            if before is None or made.weight < before.weight:
                best[scratch] = made
        found += [made for scratch, made in best.items() if not any(other < scratch for other in best)]
    return tuple(sorted(found, key=lambda made: (made.size, made.cycles, made.load.register.name)))


def counted(
    cpu: Cpu, modes: Modes, load: Action, hole: str, step: Action | None, branch: Action
) -> Countdown | None:
    """The countdown that a program's own load, step and branch are (no step: the branch counts); None for any other."""
    number = next(each for each in load.variant.holes if each.name == hole)
    rest = {name: value for name, value in load.fields.items() if name != hole}
    kept = stack_pointers(cpu) | deciding(cpu)
    loading = _load(cpu, modes, load.row, load.variant, rest, number, kept)
    order = None if step is None else _order(cpu, modes, step.row, step.variant, step.fields, kept)
    there = _rebound(cpu, branch)
    if loading is None or there is None or (step is not None and (order is None or touches(step.meaning))):
        return None
    return _Trial(cpu, modes, loading.register).countdown(loading, () if order is None else (order,), there)


def with_branch(cpu: Cpu, modes: Modes, way: Countdown, branch: Action) -> Countdown | None:
    """The same countdown with a program's own branch at its end; None where that does not decide alike."""
    there = _rebound(cpu, branch)
    return (
        None
        if there is None
        else _Trial(cpu, modes, way.load.register).countdown(way.load, way.orders, there)
    )


def _rebound(cpu: Cpu, branch: Action) -> Action | None:
    """A program's branch, bound as the branches of the table are; None for one without a place to go to."""
    places = [hole for hole in branch.variant.holes if hole.kind in ("relative", "address")]
    if branch.flow != "branch" or len(places) != 1:
        return None
    return cpu.bind(branch.row, branch.variant, {**branch.fields, places[0].name: _TARGET}, _HERE)


def _orders(cpu: Cpu, modes: Modes) -> Iterator[Order]:
    kept = stack_pointers(cpu) | deciding(cpu)
    for row, variant in _unmarked(cpu):
        for fields in _fields(variant):
            try:
                action = cpu.bind(row, variant, fields, _HERE)
            except OperandError:
                continue
            if touches(action.meaning):
                break  # and so it does with any other operand
            order = _order(cpu, modes, row, variant, fields, kept)
            if order is not None:
                yield order


def touches(meaning: tuple[Statement, ...]) -> bool:
    """Whether an instruction reads or writes memory or a port."""
    for statement in meaning:
        match statement:
            case Store() | Repeat():
                return True
            case If() if touches((*statement.then, *statement.otherwise)):
                return True
        if any(isinstance(part, Load) for expr in operands(statement) for part in walk(expr)):
            return True
    return False


def _unmarked(cpu: Cpu) -> Iterator[tuple[Row, Variant]]:
    for row in cpu.rows:
        if not row.mark:
            for variant in row.form.variants:
                if not variant.after:
                    yield row, variant


def _fields(variant: Variant) -> Iterator[dict[str, Value]]:
    """Operands that a step or a test may have: registers, and numbers that step by one or test for zero."""
    choices = [tuple(_choices(hole)) for hole in variant.holes]
    for values in product(*choices):
        yield {hole.name: value for hole, value in zip(variant.holes, values, strict=True)}


def _choices(hole: Hole) -> Iterator[Value]:
    match hole.kind:
        case "register" if hole.registers is not None:
            yield from (name for name in hole.registers.codes if name.isalpha())
        case "number" | "signed":
            yield from (value for value in (0, 1, -1) if hole.low <= value <= hole.high)


def _order(
    cpu: Cpu, modes: Modes, row: Row, variant: Variant, fields: Mapping[str, Value], kept: frozenset[str]
) -> Order | None:
    try:
        action = cpu.bind(row, variant, fields, _HERE)
    except OperandError:
        return None
    used = action.used
    outside = (used.reads | used.writes) & cpu.outside
    if action.flow != "next" or COUNTER in used.writes or used.writes & kept or outside:
        return None
    changed = spoils(cpu, action)
    steps = cost(action, lambda name: truth(cpu, modes, action.conditions[name]))
    if not changed or changed & masks(cpu) or steps.fewest != steps.most:
        return None
    words = operand(cpu, variant, fields)
    return Order(Filler(row.mnemonics[0], words, steps.fewest, action.size, changed), action)


def _loads(cpu: Cpu, modes: Modes) -> dict[str, Loading]:
    """The shortest load of each register that a number can be loaded into."""
    found: dict[str, Loading] = {}
    kept = stack_pointers(cpu) | deciding(cpu)
    for row, variant in _unmarked(cpu):
        numbers = [hole for hole in variant.holes if hole.kind == "number"]
        if len(numbers) != 1:
            continue
        (hole,) = numbers
        rest = [each for each in variant.holes if each is not hole]
        for values in product(*(tuple(_choices(each)) for each in rest)):
            fields = {each.name: value for each, value in zip(rest, values, strict=True)}
            load = _load(cpu, modes, row, variant, fields, hole, kept)
            if load is not None:
                before = found.get(load.register.name)
                if before is None or load.size < before.size:
                    found[load.register.name] = load
    return found


def _load(
    cpu: Cpu,
    modes: Modes,
    row: Row,
    variant: Variant,
    fields: Mapping[str, Value],
    hole: Hole,
    kept: frozenset[str],
) -> Loading | None:
    wanted = 0x5AC3 % (1 << hole.width)
    order = _order(cpu, modes, row, variant, {**fields, hole.name: wanted}, kept)
    if order is None:
        return None
    stored = order.action.used.writes - flags(cpu)
    for register in (*cpu.views.values(), *map(cpu.register, cpu.registers)):
        if register.width != hole.width or {name for name, _ in register.parts} != stored:
            continue
        if all(_gives(cpu, modes, order, register, fill) == wanted for fill in (0, 0x5555, -1)):
            text = order.text
            return Loading(row, variant, fields, hole.name, register, text.cycles, text.size, text.spoils)
    return None


def _gives(cpu: Cpu, modes: Modes, order: Order, register: Register, fill: int) -> int:
    """What the register holds after the instruction, all others having been filled so."""
    held = dict.fromkeys((*cpu.registers, *cpu.flags), fill)
    state = Concrete(cpu, _NO_MEMORY, held | dict(modes))
    run(order.action.meaning, state)
    return state.read(register)


def _branches(cpu: Cpu) -> Iterator[Action]:
    """Branches to an address, each with every register it may name."""
    for row, variant in _unmarked(cpu):
        places = [hole for hole in variant.holes if hole.kind in ("relative", "address")]
        if row.operation.flow not in ("branch", "jump") or len(places) != 1:
            continue
        rest = [hole for hole in variant.holes if hole is not places[0]]
        names = [tuple(h.registers.codes) if h.registers is not None else () for h in rest]
        for values in product(*names):
            fields: dict[str, Value] = {h.name: value for h, value in zip(rest, values, strict=True)}
            try:
                action = cpu.bind(row, variant, {**fields, places[0].name: _TARGET}, _HERE)
            except OperandError:
                continue
            if action.flow == "branch":
                yield action


def _of(
    cpu: Cpu, modes: Modes, load: Loading, orders: tuple[Order, ...], branches: tuple[Action, ...]
) -> Iterator[Countdown]:
    """All ways to count the register down: a branch that does it, a step and a branch, tests between them."""
    trial = _Trial(cpu, modes, load.register)
    found = False
    for turn in ((), *_steps(trial, load.register, orders)):
        for branch in branches:
            made = trial.countdown(load, turn, branch)
            if made is not None:
                found = True
                yield made
    if found:
        return
    parts = frozenset(name for name, _ in load.register.parts)
    for step in _steps(trial, load.register, orders):
        for tests in _tests(cpu, parts, orders):
            for branch in branches:
                made = trial.countdown(load, (*step, *tests), branch)
                if made is not None:
                    yield made


def _steps(trial: _Trial, register: Register, orders: tuple[Order, ...]) -> Iterator[tuple[Order, ...]]:
    """What takes one from the register: one instruction, else a copy, one from that, and back."""
    single = [order for order in orders if trial.steps((order,))]
    if single:
        yield from ((order,) for order in single)
        return
    for there in orders:
        if not _copies(there, register):
            continue
        for back in orders:
            if back.text.spoils >= {name for name, _ in register.parts} and trial.copies(there, back):
                for step in orders:
                    if step.text.spoils & there.text.spoils and trial.steps((there, step, back)):
                        yield there, step, back


def _copies(order: Order, register: Register) -> bool:
    """Whether it may copy the register: it reads that alone."""
    return order.action.used.reads == {name for name, _ in register.parts}


def _tests(cpu: Cpu, parts: frozenset[str], orders: tuple[Order, ...]) -> Iterator[tuple[Order, ...]]:
    """What may set a flag from all of a counter, without changing it: one instruction, or a copy and one more."""
    usable = [order for order in orders if not order.action.used.writes & parts]
    reads = {order: order.action.used.reads - flags(cpu) for order in usable}
    for order in usable:
        if reads[order] == parts and order.text.spoils & flags(cpu):
            yield (order,)
    for first in usable:
        if len(reads[first]) != 1 or not reads[first] < parts:
            continue
        copied = first.text.spoils - flags(cpu)
        for then in usable:
            wanted = copied | parts - reads[first]
            if then.text.spoils & flags(cpu) and len(copied) == 1 and reads[then] == wanted:
                yield first, then


class _Trial:
    """Carries out a few instructions on many values of one register."""

    def __init__(self, cpu: Cpu, modes: Modes, register: Register) -> None:
        self.cpu = cpu
        self.modes = dict(modes)
        self.register = register
        size = 1 << register.width
        random = Random(1)
        values = [value % size for value in _SAMPLES] + [random.randrange(size) for _ in range(64)]
        names = (*cpu.registers, *cpu.flags)
        widths = {name: cpu.register(name).width for name in names}
        self.starts: list[dict[str, int]] = []
        for value in dict.fromkeys((*values, *range(min(size, 256)))):
            held = {name: random.randrange(1 << width) for name, width in widths.items()}
            state = Concrete(cpu, _NO_MEMORY, held | self.modes)
            state.write(register, value)
            self.starts.append(state.registers)
        self.state = Concrete(cpu, _NO_MEMORY, {})

    def states(self) -> Iterator[Concrete]:
        """The same state each time, with the next values in it."""
        for number, start in enumerate(self.starts):
            self.state.registers = dict(start)
            self.state.fill = -(number & 1)
            yield self.state

    def steps(self, orders: tuple[Order, ...]) -> bool:
        """Whether the register then holds one less, whatever it was."""
        size = 1 << self.register.width
        for state in self.states():
            wanted = (state.read(self.register) - 1) % size
            for order in orders:
                run(order.action.meaning, state)
            if state.read(self.register) != wanted:
                return False
        return True

    def copies(self, there: Order, back: Order) -> bool:
        """Whether the register holds what it did after a copy elsewhere, its own loss and a copy back."""
        for state in self.states():
            wanted = state.read(self.register)
            run(there.action.meaning, state)
            state.write(self.register, wanted ^ 0x55)
            run(back.action.meaning, state)
            if state.read(self.register) != wanted:
                return False
        return True

    def countdown(self, load: Loading, turn: tuple[Order, ...], action: Action) -> Countdown | None:
        """The loop of that turn and branch, where it goes on until the register is zero, and then ends."""
        spent: dict[bool, set[int]] = {True: set(), False: set()}
        size = 1 << self.register.width
        for state in self.states():
            wanted = (state.read(self.register) - 1) % size
            for order in turn:
                run(order.action.meaning, state)
            steps = cost(action, lambda name, at=state: _holds(action, name, at))  # type: ignore[misc]
            state.registers[COUNTER] = action.after
            run(action.meaning, state)
            goes_on = state.registers[COUNTER] == _TARGET
            if state.read(self.register) != wanted or goes_on != (wanted != 0) or steps.most is None:
                return None
            spent[goes_on] |= {steps.fewest, steps.most}
        if len(spent[True]) != 1 or len(spent[False]) != 1:
            return None
        before, _, behind = operand(self.cpu, action.variant, {**action.fields}, "\0").partition("\0")
        changed = frozenset(action.used.writes - {COUNTER})
        branch = Branch(action, before, behind, spent[True].pop(), spent[False].pop(), changed)
        return Countdown(load, turn, branch)


def _holds(action: Action, name: str, state: Concrete) -> bool | None:
    condition = action.conditions[name]
    if isinstance(condition, Undefined) or COUNTER in registers(condition):
        return None
    return evaluate(condition, state) != 0
