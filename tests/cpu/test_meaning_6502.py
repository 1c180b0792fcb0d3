"""The meaning of every 6502 and 65C02 opcode against the independent simulator py65, from seeded random states."""

from random import Random
from typing import Any

import pytest
from clockhop import cpu
from clockhop.cpu import Machine
from py65.devices.mpu65c02 import MPU as Cmos
from py65.devices.mpu6502 import MPU as Nmos
from witness import notes, opcode

SIMULATORS = {"6502": Nmos, "w65c02s": Cmos}
# (table, opcode) -> what is not compared: everything, or what it does in decimal mode.
EXCEPTIONS = {
    (entry["table"].text(), code): entry["without"].text()
    for entry in (
        node.fields(("table", "opcodes", "without", "reason"))
        for node in notes("simulator-exceptions-6502").sequence()
    )
    for code in entry["opcodes"].text().split()
}
KNOWN = [
    (name, opcode(row))
    for name, simulator in SIMULATORS.items()
    for row in cpu.load(name).rows
    if not row.mark and simulator.disassemble[row.code[0]][0] != "???"
]
STATES = 40
BITS = {"N": 128, "V": 64, "D": 8, "I": 4, "Z": 2, "C": 1}


def differences(name: str, code: str, seed: int) -> set[str]:
    """What is not equal after one step of both from one random state."""
    random = Random(f"{code} {seed}")
    memory = bytearray(random.randbytes(0x10000))
    address = random.randrange(0x0200, 0xFF00)
    memory[address] = int(code, 16)
    start = {register: random.randrange(256) for register in "AXYS"}
    start |= {flag: random.randrange(2) for flag in BITS}
    other = SIMULATORS[name](memory=list(memory), pc=address)
    other.a, other.x, other.y, other.sp = (start[register] for register in "AXYS")
    other.p = 0x30 | sum(bit for flag, bit in BITS.items() if start[flag])
    other.step()
    machine = Machine(cpu.load(name), memory, start | {"PC": address})
    assert machine.step() is not None
    ours: dict[str, Any] = {register: machine[register] for register in ("A", "X", "Y", "S", "PC")}
    theirs = dict(zip(ours, (other.a, other.x, other.y, other.sp, other.pc), strict=True))
    found = {register for register in ours if ours[register] != theirs[register]}
    found |= {flag for flag, bit in BITS.items() if machine[flag] != (other.p & bit != 0)}
    if bytes(memory) != bytes(other.memory):
        found.add("memory")
    if start["D"] and found:
        found.add("decimal")
    return found


@pytest.mark.parametrize(("name", "code"), [each for each in KNOWN if EXCEPTIONS.get(each) != "everything"])
def test_registers_flags_and_memory_are_as_in_the_simulator(name: str, code: str) -> None:
    for seed in range(STATES):
        found = differences(name, code, seed)
        assert not found or (EXCEPTIONS.get((name, code)) == "decimal" and "decimal" in found)


def test_the_simulator_knows_151_and_195_opcodes() -> None:
    assert [sum(name == each for name, _ in KNOWN) for each in SIMULATORS] == [151, 195]


@pytest.mark.parametrize(("name", "code"), EXCEPTIONS)
def test_each_opcode_set_aside_still_differs(name: str, code: str) -> None:
    assert any(differences(name, code, seed) for seed in range(STATES))
