"""The meaning of every 6809 opcode against the independent simulator MC6809, from seeded random states."""

import logging
from functools import cache
from random import Random

import pytest
from clockhop import cpu
from clockhop.cpu import Machine, Row, Value, Variant
from MC6809.components.cpu6809 import CPU as Simulator
from MC6809.components.memory import Memory
from MC6809.core.configs import BaseConfig
from witness import flags, notes, opcode

CPU = cpu.load("6809")
ROWS = {opcode(row): row for row in CPU.rows}
EXCEPTIONS = {
    entry["opcode"].text(): entry["without"].text() if "without" in entry else None
    for entry in (
        node.fields(("opcode", "reason"), ("without",))
        for node in notes("simulator-exceptions").mapping()["MC6809"].sequence()
    )
}  # opcode -> the register it is compared without, or None where it is not compared at all
REGISTERS = ("A", "B", "DP", "X", "Y", "U", "S")
WORDS, BYTES = ("D", "X", "Y", "U", "S", "PC"), ("A", "B", "CC", "DP")
STATES = 12  # for each way to write an operand; an index mode has 2


class Board(BaseConfig):  # type: ignore[misc]
    RAM_START, RAM_END, ROM_START, ROM_END = 0x0000, 0x7FFF, 0x8000, 0xFFFF


@cache
def simulator() -> Simulator:
    logging.getLogger("MC6809").setLevel(logging.ERROR + 10)
    config = Board({"verbosity": None, "trace": None})
    made = Simulator(Memory(config), config)
    config.RAM_END, config.ROM_START, config.ROM_END = 0xFFFF, 0x10000, 0x10000  # all of it takes writes
    made.memory._mem[:] = type(made.memory._mem)("B", Random(6809).randbytes(0x10000))
    return made


def fields(variant: Variant, address: int, random: Random, without: str | None) -> dict[str, Value]:
    found: dict[str, Value] = {}
    words = random.random() < 0.5
    for hole in variant.holes:
        match hole.kind:
            case "register" if hole.name.startswith("r"):
                found[hole.name] = random.choice(WORDS if words else BYTES)
            case "register":
                found[hole.name] = random.choice(["X", "Y", "U", "S"])
            case "list":
                assert hole.registers is not None
                names = [name for name in hole.registers.codes if name != without]
                found[hole.name] = tuple(name for name in names if random.random() < 0.4)
            case "relative":
                found[hole.name] = address + random.randrange(-100, 100)
            case _:
                found[hole.name] = random.randrange(hole.low, hole.high + 1)
    return found


def start(random: Random) -> dict[str, int]:
    state = {name: random.choice([random.randrange(256), 0, 0x7F, 0x80, 0xFF]) for name in ("A", "B", "DP")}
    state |= {name: random.randrange(0x0200, 0xFE00) for name in ("X", "Y", "U", "S")}
    return state | {"CC": random.randrange(256)}


def compare(row: Row, variant: Variant, random: Random, without: str | None = None) -> None:
    """One step of both from one state: registers, defined flags and all memory are equal afterwards."""
    other = simulator()
    address = random.randrange(0x1000, 0xE000)
    action = CPU.bind(row, variant, fields(variant, address, random, without), address)
    before = start(random)
    other.memory._mem[address : address + action.size] = type(other.memory._mem)("B", action.code)
    memory = bytearray(other.memory._mem)
    other.set_state(before | {"PC": address, "cycles": 0, "RAM": ()})
    other.get_and_call_next_op()
    machine = Machine(CPU, memory, before | {"PC": address})
    done = machine.step()
    assert done is not None
    assert done.code == action.code
    after = other.get_state()
    assert {name: machine[name] for name in (*REGISTERS, "PC")} == {
        name: after[name] for name in (*REGISTERS, "PC")
    }
    undefined = sum(bit for bit, kind in zip((32, 8, 4, 2, 1), flags(action), strict=True) if kind == "u")
    assert machine["CC"] & ~undefined == after["CC"] & ~undefined
    assert bytes(memory) == other.memory._mem.tobytes()


@pytest.mark.parametrize("code", [code for code in ROWS if EXCEPTIONS.get(code, code)])
def test_registers_flags_and_memory_are_as_in_the_simulator(code: str) -> None:
    row = ROWS[code]
    random = Random(code)
    for variant in row.form.variants:
        for _ in range(STATES if len(row.form.variants) == 1 else 2):
            compare(row, variant, random, EXCEPTIONS.get(code))


def compare_all(row: Row) -> None:
    for seed in range(STATES):
        compare(row, row.form.variants[0], Random(seed))


def test_the_simulator_is_set_aside_for_6_opcodes_and_a_part_of_2_and_no_more() -> None:
    assert len(EXCEPTIONS) == 8
    for code in EXCEPTIONS:
        row = ROWS[code]
        with pytest.raises((AssertionError, NotImplementedError, TypeError)):
            compare_all(row)
