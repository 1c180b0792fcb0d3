"""What opcodes of the 6800 and its relatives mean, against the independent simulator m68hc11, from random states.

Its classes are the 68HC11 and the HD6303; the 6800 and the 6801 are compared through the first where they agree with
it. Its cycle counts are no witness: the second class has those of the first.
"""

from functools import cache
from random import Random

import pytest
from clockhop import cpu
from clockhop.cpu import Machine, Row, Value, Variant
from m68hc11 import HC11, HD6303
from witness import notes, opcode

SIMULATORS = {"6800": HC11, "6801": HC11, "6303": HD6303, "68hc11": HC11}
STATES = 12
EXCEPTIONS = {
    (entry["cpu"].text(), entry["opcode"].text()): entry["reason"].text()
    for entry in (
        node.fields(("cpu", "opcode", "reason"))
        for node in notes("simulator-exceptions").mapping()["m68hc11"].sequence()
    )
}
WAYS = [(name, opcode(row)) for name in SIMULATORS for row in cpu.load(name).rows]


@cache
def rows(name: str) -> dict[str, Row]:
    return {opcode(row): row for row in cpu.load(name).rows}


def fields(variant: Variant, address: int, random: Random) -> dict[str, Value]:
    return {
        hole.name: address + random.randrange(-100, 100)
        if hole.kind == "relative"
        else random.randrange(max(hole.low, 0), hole.high + 1)
        for hole in variant.holes
    }


def start(name: str, random: Random) -> dict[str, int]:
    state = {register: random.choice([random.randrange(256), 0, 0x7F, 0x80, 0xFF]) for register in "AB"}
    words = [register for register in ("X", "Y", "S") if register in cpu.load(name).registers]
    state |= {word: random.choice([random.randrange(0x0200, 0xFE00), 0x8000, 0xFFFF, 0]) for word in words}
    state["S"] = random.randrange(0x0200, 0xFE00)
    # STOP stays off, and two bits that only the largest of them has are ones on the others.
    return state | {"CC": random.randrange(64)}


def compare(name: str, row: Row, random: Random) -> None:
    """One step of both from one state: what is defined of registers, flags and memory is equal afterwards."""
    processor = cpu.load(name)
    address = random.randrange(0x1000, 0xE000)
    (variant,) = row.form.variants
    action = processor.bind(row, variant, fields(variant, address, random), address)
    memory = bytearray(random.randbytes(0x10000))
    memory[address : address + action.size] = action.code
    before = start(name, random)
    other = SIMULATORS[name]()
    other.mem[:] = memory
    names = {"A": "a", "B": "b", "X": "x", "Y": "y", "S": "sp"}
    ones = 0xC0
    other.set_regs(
        pc=address,
        ccr=before["CC"] | ones,
        **{names[key]: value for key, value in before.items() if key in names},
    )
    other.step()
    machines = []
    for fill in (0, -1):
        machine = Machine(
            processor, bytearray(memory), before | {"PC": address, "CC": before["CC"] | ones}, fill=fill
        )
        assert machine.step() is not None
        machines.append(machine)
    first, second = machines
    after = {**{key: getattr(other, names[key]) for key in names}, "PC": other.pc}
    after |= {flag: other.ccr >> place & 1 for place, flag in enumerate(reversed(processor.flags))}
    defined = [key for key in first.state.registers if first[key] == second[key]]
    assert {key: first[key] for key in defined} == {key: after[key] for key in defined}
    assert first.state.memory == other.mem


def compare_often(name: str, code: str, states: int) -> None:
    random = Random(code)
    for _ in range(states):
        compare(name, rows(name)[code], random)


@pytest.mark.parametrize(("name", "code"), [way for way in WAYS if way not in EXCEPTIONS])
def test_registers_flags_and_memory_are_as_in_the_simulator(name: str, code: str) -> None:
    compare_often(name, code, STATES)


def test_14_opcodes_are_set_aside_and_the_simulator_differs_for_each() -> None:
    assert len(EXCEPTIONS) == 14
    for name, code in EXCEPTIONS:
        with pytest.raises(AssertionError):
            compare_often(name, code, 40)


def after(name: str, code: str, memory: dict[int, int] | None = None, **registers: int) -> Machine:
    space = bytearray(0x10000)
    for address, byte in (memory or {}).items():
        space[address] = byte
    space[0x4000 : 0x4000 + len(code.split())] = bytes.fromhex(code)
    machine = Machine(cpu.load(name), space, {"PC": 0x4000, "S": 0x1000} | registers)
    assert machine.step() is not None
    return machine


def stacked(machine: Machine) -> str:
    """The 7 bytes below $1001."""
    return " ".join(f"{machine.state.memory[address]:02X}" for address in range(0x0FFA, 0x1001))


@pytest.mark.parametrize("name", ["6800", "6801", "6303"])
def test_swi_stacks_7_bytes_and_rti_takes_them_back(name: str) -> None:
    start = {"A": 0x12, "B": 0x34, "X": 0x5678, "CC": 0x01}
    trapped = after(name, "3F", {0xFFFA: 0x60, 0xFFFB: 0x00}, **start)
    assert stacked(trapped) == "C1 34 12 56 78 40 01"
    assert (trapped["S"], trapped["PC"], trapped["I"]) == (0x0FF9, 0x6000, 1)
    kept = dict(enumerate(bytes.fromhex(stacked(trapped)), 0x0FFA))
    back = after(name, "3B", kept, S=0x0FF9)
    held = [f"{back[register]:X}" for register in ("A", "B", "X", "CC", "PC", "S")]
    assert " ".join(held) == "12 34 5678 1 4001 1000"


@pytest.mark.parametrize("name", ["6800", "6801", "6303"])
def test_wai_stacks_7_bytes_and_leaves_the_mask_to_the_interrupt(name: str) -> None:
    waiting = after(name, "3E", A=0x12, B=0x34, X=0x5678, CC=0x02)
    assert stacked(waiting) == "C2 34 12 56 78 40 01"
    assert (waiting["S"], waiting["I"]) == (0x0FF9, 0)


@pytest.mark.parametrize(
    ("x", "operand", "nzvc"),
    [
        (0x1234, "12 34", "0101"),
        (0x1234, "92 34", "1011"),
        (0x0001, "10 00", "1001"),
    ],
)
def test_cpx_of_the_6800_leaves_the_carry_alone(x: int, operand: str, nzvc: str) -> None:
    compared = after("6800", f"8C {operand}", X=x, CC=0x01)
    assert "".join(str(compared[flag]) for flag in "NZVC") == nzvc


@pytest.mark.parametrize(
    ("d", "x", "quotient", "rest", "zvc"),
    [
        (0x4000, 0x8000, 0x8000, 0, "000"),
        (1, 3, 0x5555, 1, "000"),
        (0, 5, 0, 0, "100"),
        (5, 5, 0xFFFF, None, "010"),
        (5, 0, 0xFFFF, None, "011"),
    ],
)
def test_fdiv_gives_a_fraction_of_65536_and_ones_where_it_is_none(
    d: int, x: int, quotient: int, rest: int | None, zvc: str
) -> None:
    divided = after("68hc11", "03", D=d, X=x)
    assert divided["X"] == quotient
    assert rest is None or divided["D"] == rest
    assert "".join(str(divided[flag]) for flag in "ZVC") == zvc


def test_a_program_can_clear_the_mask_of_xirq_but_not_set_it() -> None:
    assert after("68hc11", "06", A=0x40, xirqmask=0)["xirqmask"] == 0
    assert after("68hc11", "06", A=0x40, xirqmask=1)["xirqmask"] == 1
    assert after("68hc11", "06", A=0x00, xirqmask=1)["xirqmask"] == 0
    assert after("68hc11", "3B", {0x1001: 0x40}, xirqmask=0)["xirqmask"] == 0
