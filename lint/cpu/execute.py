"""Runs a program instruction by instruction on known values: the evidence behind a count or a mend."""

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import Protocol

from ..address import port as port_address
from . import numbers
from .cost import BusAccess, Cost, Truth, accesses, cost
from .cpu import Cpu
from .evaluate import evaluate, run
from .meaning import Expr, Register, Undefined
from .model import Action
from .notation import COUNTER
from .step import Kind, Step


class Memory(Protocol):
    """Bytes by address: a bytearray, a dict, or an object that models a device. Ports lie at `address.port`."""

    def __getitem__(self, address: int, /) -> int: ...
    def __setitem__(self, address: int, value: int, /) -> None: ...


@dataclass(frozen=True, slots=True)
class Bus:
    """One byte read from or written to a watched address, between two cycles counted from the machine's start.

    Cycle 1 is the first of the first instruction; `first` and `last` differ where the place is not known.
    """

    kind: str  # read or write
    address: int
    value: int
    first: int
    last: int | None


class Stop(Enum):
    """Why a run ended."""

    REACHED = auto()  # the caller's condition came true
    BOUND = auto()  # the largest number of instructions was used up
    WAITING = auto()  # an instruction waits for an interrupt, or for ever
    NO_INSTRUCTION = auto()  # the bytes at the program counter are none


class Concrete:
    """Registers, flags and memory as known numbers: the Domain of int."""

    def __init__(self, cpu: Cpu, memory: Memory, registers: Mapping[str, int], fill: int = 0) -> None:
        """Registers not given start at 0; undefined results are zeros, or ones with `fill` -1."""
        self.registers = dict.fromkeys((*cpu.registers, *cpu.flags), 0) | dict(cpu.initial)
        self.memory = memory
        self.fill = fill
        self.touched: list[tuple[str, int, int]] = []
        self._mask = (1 << cpu.address_bits) - 1
        self._port_mask = (1 << cpu.port_bits) - 1
        self._big = cpu.endian == "big"
        for name, value in registers.items():
            self.write(cpu.register(name), value)

    def number(self, value: int) -> int:
        return value

    def unary(self, op: str, operand: int) -> int:
        return numbers.unary(op, operand)

    def binary(self, op: str, left: int, right: int) -> int:
        return numbers.binary(op, left, right)

    def bits(self, value: int, high: int, low: int) -> int:
        return numbers.bits(value, high, low)

    def signed(self, value: int, width: int) -> int:
        return numbers.signed(value, width)

    def choose(self, condition: int, yes: int, no: int) -> int:
        return yes if condition else no

    def undefined(self, width: int) -> int:
        return self.fill & ((1 << width) - 1)

    def truth(self, condition: int) -> bool:
        return condition != 0

    def either(self, condition: int, then: Callable[[], None], otherwise: Callable[[], None]) -> None:
        (then if condition else otherwise)()

    def repeat(self, count: int, body: Callable[[], None]) -> None:
        for _ in range(count):
            body()

    def read(self, register: Register) -> int:
        value = 0
        for name, width in register.parts:
            value = value << width | self.registers[name]
        return value

    def write(self, register: Register, value: int) -> None:
        for name, width in reversed(register.parts):
            self.registers[name] = value & ((1 << width) - 1)
            value >>= width

    def load(self, address: int, size: int, port: bool) -> int:
        value = 0
        for place in range(size):
            byte = self._read(self._place(address + place, port))
            value = value << 8 | byte if self._big else value | byte << 8 * place
        return value

    def store(self, address: int, size: int, value: int, port: bool) -> None:
        for place in range(size):
            shift = 8 * (size - 1 - place if self._big else place)
            self._write(self._place(address + place, port), value >> shift & 0xFF)

    def _place(self, address: int, port: bool) -> int:
        return port_address(address & self._port_mask) if port else address & self._mask

    def _read(self, address: int) -> int:
        value = self.memory[address]
        self.touched.append(("read", address, value))
        return value

    def _write(self, address: int, value: int) -> None:
        self.memory[address] = value
        self.touched.append(("write", address, value))


class Machine:
    """A processor with its memory, run from a start state.

    `fewest` and `most` are the cycles so far, without those of a refresh that come between; they differ where the
    sources of a count do, and `most` is None once an instruction has waited. `log` holds the accesses to watched
    addresses, in order.
    """

    def __init__(
        self,
        cpu: Cpu,
        memory: Memory,
        registers: Mapping[str, int],
        watched: Container[int] = (),
        fill: int = 0,
    ) -> None:
        """`registers` gives the start state, PC among it; what is not given is as after reset, else 0."""
        self.cpu = cpu
        self.state = Concrete(cpu, memory, registers, fill)
        self.watched = watched
        self.fewest = 0
        self.most: int | None = 0
        self.log: list[Bus] = []
        self._decoded: dict[int, Action] = {}
        self._fixed: dict[Action, Cost] = {}

    def __getitem__(self, name: str) -> int:
        """The value of a register, flag or view."""
        return self.state.read(self.cpu.register(name))

    @property
    def counter(self) -> int:
        """The program counter."""
        return self.state.registers[COUNTER]

    def run(self, until: Callable[["Machine"], bool], bound: int) -> Stop:
        """Steps until `until` holds after an instruction, but at most `bound` instructions."""
        for _ in range(bound):
            action = self.step()
            if action is None:
                return Stop.NO_INSTRUCTION
            if action.flow in ("wait", "halt"):
                return Stop.WAITING
            if until(self):
                return Stop.REACHED
        return Stop.BOUND

    def step(self) -> Action | None:
        """Carries out one instruction and returns it; None, with nothing changed, where there is none."""
        action = self._decode()
        if action is None:
            return None
        state = self.state
        truth, count = self._asked(action)
        spent = self._cost(action, truth, count)
        places = None
        if self.watched:
            # Asked before anything changes: the conditions are about the state before the instruction.
            places = accesses(action, truth, count)
        state.touched.clear()
        state.registers[COUNTER] = action.after & ((1 << self.cpu.address_bits) - 1)
        run(action.meaning, state)
        if places is not None:
            self._record(places)
        self.fewest += spent.fewest
        self.most = None if self.most is None or spent.most is None else self.most + spent.most
        return action

    def _decode(self) -> Action | None:
        address, memory = self.counter, self.state.memory
        known = self._decoded.get(address)
        mask = (1 << self.cpu.address_bits) - 1
        if known and all(memory[(address + place) & mask] == byte for place, byte in enumerate(known.code)):
            return known
        action = self.cpu.decode(lambda place: memory[place & mask], address)
        if action is not None:
            self._decoded[address] = action
        return action

    def _asked(self, action: Action) -> tuple[Truth, Callable[[Expr], int | None]]:
        """What the steps ask of this state. The reads it takes to find out are not on the bus."""
        state = self.state

        def truth(name: str) -> bool | None:
            condition = action.conditions[name]
            return None if isinstance(condition, Undefined) else evaluate(condition, state) != 0

        return truth, lambda count: evaluate(count, state)

    def _cost(self, action: Action, truth: Truth, count: Callable[[Expr], int | None]) -> Cost:
        known = self._fixed.get(action)
        if known is None:
            known = cost(action, truth, count)
            if _fixed(action):
                self._fixed[action] = known
        return known

    def _record(self, places: tuple[BusAccess, ...]) -> None:
        """Joins what was touched with its cycles: data accesses come in the order of their steps."""
        wanted = [place for place in places if place.kind != "dummy"]
        for (kind, address, value), place in zip(self.state.touched, wanted, strict=True):
            if address in self.watched:
                last = None if self.most is None or place.last is None else self.most + place.last
                self.log.append(Bus(kind, address, value, self.fewest + place.first, last))


def _fixed(action: Action) -> bool:
    """Whether an action costs the same in every state."""
    return all(
        isinstance(step, Step) and not step.guards and step.kind is not Kind.WAIT for step in action.steps
    )
