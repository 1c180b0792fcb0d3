"""The symbolic reading of meanings: registers and memory as terms over what they held at the start of a scope."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import count
from typing import Final, Literal

from ..address import port as port_address
from . import term
from .cpu import Cpu
from .meaning import Register
from .notation import COUNTER
from .term import Cell, Held, Input, Op, Slot, Term, Unsure

_serials: Final = count(1)


def serial() -> int:
    """A number not given before: for scopes, turns and values nobody knows."""
    return next(_serials)


def unsure(reason: str, low: int, high: int) -> Term:
    """A value between `low` and `high`, known no further for the reason given."""
    return term.atom(Input.fresh(Unsure(serial(), reason), low, high))


@dataclass(frozen=True, slots=True)
class Touch:
    """One data access of an instruction: `size` bytes at `address`, the value read or written."""

    way: Literal["read", "write"]
    address: Term
    size: int
    value: Term


Volatile = Callable[[int, int], "Term | None"]


class State:
    """Registers, flags and memory at one point, as terms.

    A register not written since the start of `scope` is that scope's `Held` input; the same for memory, whose scope
    moves on to a fresh one when something unknown may have written it. A store through a pointer whose place is not
    known is taken to miss named cells and the stack: who reports a figure that rests on memory says so.
    """

    __slots__ = ("cpu", "memory", "memory_scope", "registers", "scope")

    def __init__(self, cpu: Cpu, scope: int) -> None:
        self.cpu = cpu
        self.scope = scope
        self.memory_scope = scope
        self.registers: dict[str, Term] = {}
        self.memory: dict[Term, Term] = {}

    def copy(self) -> State:
        made = State(self.cpu, self.scope)
        made.memory_scope = self.memory_scope
        made.registers = dict(self.registers)
        made.memory = dict(self.memory)
        return made

    def get(self, name: str) -> Term:
        """A stored register or flag (no view)."""
        known = self.registers.get(name)
        return _held(name, self.scope, self.cpu.registers.get(name, 1)) if known is None else known

    def held(self, name: str) -> Term:
        """What the register held at the start of the scope."""
        return _held(name, self.scope, self.width(name))

    def width(self, name: str) -> int:
        """Bits of a stored register; a flag has one."""
        return self.cpu.registers.get(name, 1)

    def byte(self, address: Term) -> Term:
        """The byte at an address already cut to the bus width."""
        known = self.memory.get(address)
        return self.cell(address) if known is None else known

    def cell(self, address: Term) -> Term:
        """What the byte at the address held at the start of the memory's scope."""
        place = address.value
        origin = Slot(address, self.memory_scope) if place is None else Cell(place, self.memory_scope)
        return term.atom(Input(origin, 0, 255))

    def put(self, address: Term, value: Term) -> None:
        self.memory[address] = value

    def forget_memory(self) -> None:
        """Something unknown may have written anywhere."""
        self.memory.clear()
        self.memory_scope = serial()

    def address(self, value: Term) -> Term:
        return term.modulo(value, self.cpu.address_bits)

    def beside(self, start: Term, offset: int) -> Term:
        """The address of a byte of something that starts at an address already cut (a port is one byte)."""
        return self.address(term.add(start, term.number(offset))) if offset else start

    def port(self, value: Term) -> Term:
        return term.add(term.modulo(value, self.cpu.port_bits), term.number(port_address(0)))


# Scopes but the first are used up soon: what is kept longer is only in the way in a long session.
@lru_cache(maxsize=4096)
def _held(name: str, scope: int, width: int) -> Term:
    return term.atom(Input(Held(name, scope), 0, (1 << width) - 1))


class _Resolver:
    """A class and no function, which could only hold itself in a cycle: states are many and must go by themselves."""

    __slots__ = ("_at", "_scope")

    def __init__(self, scope: int, at: State) -> None:
        self._scope = scope
        self._at = at

    def __call__(self, given: Input) -> Term | None:
        match given.origin:
            case Held(name=name, scope=of) if of == self._scope:
                return self._at.get(name)
            case Cell(address=place, scope=of) if of == self._scope:
                return self._at.byte(term.number(place))
            case Slot(address=place, scope=of):
                inner = term.substitute(place, self)
                if of == self._scope:
                    return self._at.byte(inner)
                return None if inner == place else term.atom(Input(Slot(inner, of), 0, 255))
        return None


def resolver(scope: int, at: State) -> term.Replace:
    """What puts the values of the state `at` in for the inputs of `scope`."""
    return _Resolver(scope, at)


def resolve(value: Term, scope: int, at: State) -> Term:
    """A term over the inputs of `scope`, with what the state `at` holds put in for them."""
    return term.substitute(value, resolver(scope, at))


def applied(end: State, scope: int, at: State) -> State:
    """The state after something that, from the start of `scope`, ends in `end`, when it starts in the state `at`."""
    replace = resolver(scope, at)
    memo: dict[Term, Term] = {}
    made = at.copy()
    for name, value in end.registers.items():
        made.registers[name] = term.substitute(value, replace, memo)
    stores = [
        (term.substitute(a, replace, memo), term.substitute(v, replace, memo)) for a, v in end.memory.items()
    ]
    if end.memory_scope != end.scope:
        made.forget_memory()
    made.memory.update((made.address(address), value) for address, value in stores)
    return made


@dataclass(slots=True)
class Reader:
    """A `Domain` of terms: runs one instruction's meaning on a state and notes what it touches.

    `volatile` gives a value for a read of an address that does not keep what was written to it (a part's port).
    `assumed` is what alternatives of unknown outcome come to, where only one way is wanted.
    """

    state: State
    volatile: Volatile | None = None
    touches: list[Touch] = field(default_factory=list)
    assumed: bool | None = None
    goes: Term | None = None

    def number(self, value: int) -> Term:
        return term.number(value)

    def unary(self, op: str, operand: Term) -> Term:
        match op:
            case "-":
                return term.scale(operand, -1)
            case "~":
                return term.add(term.number(-1), operand, -1)
            case "parity":
                return term.parity(operand)
            case _:
                return term.negate_truth(operand)

    def binary(self, op: str, left: Term, right: Term) -> Term:
        return _BINARY[op](left, right)

    def bits(self, value: Term, high: int, low: int) -> Term:
        return term.bits(value, high, low)

    def signed(self, value: Term, width: int) -> Term:
        return term.signed(value, width)

    def choose(self, condition: Term, yes: Term, no: Term) -> Term:
        return term.choose(condition, yes, no)

    def undefined(self, width: int) -> Term:
        return unsure("the processor leaves it undefined", 0, (1 << width) - 1)

    def read(self, register: Register) -> Term:
        value = term.ZERO
        parts = iter(register.parts)
        name, width = next(parts)
        value = self.state.get(name)
        for name, width in parts:
            value = term.join(value, self.state.get(name), width)
        return value

    def write(self, register: Register, value: Term) -> None:
        if register.name == COUNTER:
            self.goes = self.state.address(value)
            return
        low = 0
        for name, width in reversed(register.parts):
            self.state.registers[name] = term.bits(value, low + width - 1, low)
            low += width

    def load(self, address: Term, size: int, port: bool) -> Term:
        if port:
            return self._in(self.state.port(address), size)
        start = self.state.address(address)
        value = self._byte(start)
        for offset in range(1, size):
            value = self._joined(value, self._byte(self._beside(start, offset)), offset)
        self.touches.append(Touch("read", start, size, value))
        return value

    def _in(self, start: Term, size: int) -> Term:
        """What a port gives: never what was written to it."""
        place = start.value
        value = None if self.volatile is None or place is None else self.volatile(place, len(self.touches))
        if value is None:
            value = unsure("it comes from a port", 0, (1 << 8 * size) - 1)
        self.touches.append(Touch("read", start, size, value))
        return value

    def _joined(self, before: Term, byte: Term, offset: int) -> Term:
        if self.state.cpu.endian == "big":
            return term.join(before, byte, 8)
        return term.join(byte, before, 8 * offset)

    def _beside(self, start: Term, offset: int) -> Term:
        return self.state.beside(start, offset)

    def _byte(self, address: Term) -> Term:
        place = address.value
        if place is not None and self.volatile is not None:
            given = self.volatile(place, len(self.touches))
            if given is not None:
                return given
        return self.state.byte(address)

    def store(self, address: Term, size: int, value: Term, port: bool) -> None:
        if port:
            self.touches.append(Touch("write", self.state.port(address), size, term.modulo(value, 8 * size)))
            return
        start = self.state.address(address)
        for offset in range(size):
            shift = 8 * (size - 1 - offset if self.state.cpu.endian == "big" else offset)
            byte = term.bits(value, shift + 7, shift)
            self.state.put(self._beside(start, offset) if offset else start, byte)
        self.touches.append(Touch("write", start, size, term.modulo(value, 8 * size)))

    def truth(self, condition: Term) -> bool | None:
        return term.decided(condition)

    def either(self, condition: Term, then: Callable[[], None], otherwise: Callable[[], None]) -> None:
        if self.assumed is not None:
            (then if self.assumed else otherwise)()
            return
        before, goes = self.state, self.goes
        ends: list[tuple[State, Term | None]] = []
        for way in (then, otherwise):
            self.state, self.goes = before.copy(), goes
            way()
            ends.append((self.state, self.goes))
        (yes, to), (no, past) = ends
        self.state = merge(yes, no, lambda a, b, _: term.choose(condition, a, b))
        before.registers, before.memory = self.state.registers, self.state.memory
        before.memory_scope = self.state.memory_scope
        self.state = before
        if to is not None or past is not None:
            here = term.number(-1)
            self.goes = term.choose(
                condition, to if to is not None else here, past if past is not None else here
            )

    def repeat(self, count: Term, body: Callable[[], None]) -> None:
        times = count.value
        if times is not None and times <= _MOST_REPEATS:
            for _ in range(times):
                body()
            return
        start = self.state.copy()
        body()
        for register in self.state.cpu.views.values():
            self._advance(register, start, count)
        self.state.forget_memory()

    def _advance(self, register: Register, start: State, count: Term) -> None:
        """What a register that moves by a constant each time holds after `count` times."""
        names = [name for name, _ in register.parts]
        after = self.read(register)
        if all(self.state.get(name) == start.get(name) for name in names):
            return
        change = term.modulo(term.add(after, Reader(start).read(register), -1), register.width).value
        if change is None:
            for name, width in register.parts:
                self.state.registers[name] = unsure("it is repeated too often", 0, (1 << width) - 1)
        else:
            before = Reader(start).read(register)
            self.write(register, term.add(before, term.multiply(count, term.number(change))))


_MOST_REPEATS: Final = 16


Merge = Callable[[Term, Term, str], Term]


def merge(a: State, b: State, different: Merge) -> State:
    """One state for two ways to the same point; `different(a, b, name)` gives a value where they differ."""
    made = State(a.cpu, a.scope)
    # In the order they were written, not in that of a set: what becomes unsure is numbered on the way.
    for name in a.registers | b.registers:
        x, y = a.get(name), b.get(name)
        made.registers[name] = x if x == y else different(x, y, name)
    if a.memory_scope != b.memory_scope:
        made.memory_scope = serial()
        shared = [address for address in a.memory if address in b.memory]
    else:
        made.memory_scope = a.memory_scope
        shared = [*(a.memory | b.memory)]
    for address in shared:
        x, y = a.byte(address), b.byte(address)
        made.memory[address] = x if x == y else different(x, y, "memory")
    return made


def granted(state: State, condition: Term) -> State:
    """The state where the condition (0 or 1) is known to be 1: what it says of single values is put in."""
    made = state.copy()
    known = told(condition)
    made.registers = {name: known(value) for name, value in state.registers.items()}
    made.memory = {address: known(value) for address, value in state.memory.items()}
    return made


def told(condition: Term) -> Callable[[Term], Term]:
    """What a condition (0 or 1) that is known to be 1 says of a value: a number, or nothing new."""
    test = condition.atom
    zero = test.args[0] if isinstance(test, Op) and test.name == "zero" else None

    spoken_of = {part for said in (condition, zero) if said is not None for part, _ in said.parts}

    def known(value: Term) -> Term:
        for part, _ in value.parts:
            if part in spoken_of:
                break
        else:
            return value
        for said, factor in ((condition, 1), (zero, 0)):
            if said is not None:
                for sign in (1, -1):
                    rest = term.add(value, said, -sign)
                    if not rest.parts:
                        return term.number(rest.constant + sign * factor)
        return value

    return known


def changed(state: State) -> Iterator[tuple[str, Term]]:
    """Registers and flags that differ from what they held at the start of the scope."""
    for name, value in state.registers.items():
        if value != state.held(name):
            yield name, value


_BINARY: Final[dict[str, Callable[[Term, Term], Term]]] = {
    "+": term.add,
    "-": lambda a, b: term.add(a, b, -1),
    "*": term.multiply,
    "/": lambda a, b: term.divide(a, b)[0],
    "%": lambda a, b: term.divide(a, b)[1],
    "&": lambda a, b: term.bitwise("and", a, b),
    "|": lambda a, b: term.bitwise("or", a, b),
    "^": lambda a, b: term.bitwise("xor", a, b),
    "<<": term.shift_left,
    ">>": term.shift_right,
    "==": term.equal,
    "!=": lambda a, b: term.negate_truth(term.equal(a, b)),
    "<": term.less,
    "<=": lambda a, b: term.negate_truth(term.less(b, a)),
    ">": lambda a, b: term.less(b, a),
    ">=": lambda a, b: term.negate_truth(term.less(a, b)),
}
