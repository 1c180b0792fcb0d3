"""Every opcode of the 8080 against an independent simulator (the i8080 of z80 1.2.0) from random states.

Where the simulator is wrong by the maker's table the opcode stands in tests/reference/cpus/simulator-exceptions.yaml.
"""

from collections.abc import Iterator
from random import Random
from typing import Any

import pytest
from clockhop import cpu
from clockhop.address import port
from clockhop.cpu import Machine
from witness import notes

z80 = pytest.importorskip("z80", reason="PyPI's z80 has no wheel for this machine")
CPU = cpu.load("8080")
REGISTERS = ("A", "B", "C", "D", "E", "H", "L", "SP", "PC")
FLAGS = {"S": 7, "Z": 6, "AC": 4, "P": 2, "CY": 0}
SLOW = {
    node.fields(("opcode", "reason"))["opcode"].text()
    for node in notes("simulator-exceptions").mapping()["i8080"].sequence()
}
TIMES = 6


def states(code: int) -> Iterator[tuple[bytes, dict[str, int], int]]:
    """Memory with the opcode at PC, registers and flags, and the byte that every port gives."""
    random = Random(code)
    for _ in range(TIMES):
        held = {name: random.randrange(256) for name in "ABCDEHL"}
        held |= {flag: random.randrange(2) for flag in FLAGS}
        held |= {name: random.randrange(0x100, 0xFF00) for name in ("SP", "PC")}
        memory = bytearray(random.randbytes(0x10000))
        memory[held["PC"]] = code
        yield bytes(memory), held, random.randrange(256)


def simulated(memory: bytes, held: dict[str, int], given: int) -> tuple[Any, int, dict[int, int]]:
    """The simulator after one instruction, its T-states, and what it put out."""
    machine = z80.I8080Machine()
    machine.memory[:] = memory
    put: dict[int, int] = {}
    machine.set_input_callback(lambda _: given)
    machine.set_output_callback(lambda address, value: put.update({address & 0xFF: value}))
    for name in REGISTERS:
        setattr(machine, name.lower(), held[name])
    machine.f = 2 | sum(held[flag] << place for flag, place in FLAGS.items())
    machine.ticks_to_stop = 1
    machine.run()
    return machine, machine.frame_tick, put


@pytest.mark.parametrize("first", range(0, 256, 32))
def test_registers_flags_memory_ports_and_t_states_after_one_step(first: int) -> None:
    for code in range(first, first + 32):
        for memory, held, given in states(code):
            theirs, states_taken, put = simulated(memory, held, given)
            space = dict(enumerate(memory)) | {port(number): given for number in range(256)}
            ours = Machine(CPU, space, held, fill=0)
            assert ours.step() is not None
            found = {name: ours[name] for name in (*REGISTERS, *FLAGS)}
            expected = {name: getattr(theirs, name.lower()) for name in REGISTERS}
            expected |= {flag: theirs.f >> place & 1 for flag, place in FLAGS.items()}
            assert found == expected, f"{code:02X}"
            written = {a: v for a, v in ours.state.memory.items() if a < 0x10000 and memory[a] != v}
            assert written == {a: v for a, v in enumerate(theirs.memory) if memory[a] != v}
            assert all(ours.state.memory[port(number)] == value for number, value in put.items())
            if f"{code:02X}" not in SLOW:
                assert ours.fewest == states_taken, f"{code:02X}"


def test_15_opcodes_take_a_state_more_there_than_in_the_maker_s_table() -> None:
    assert len(SLOW) == 15
    for code in SLOW:
        memory, held, given = next(states(int(code, 16)))
        assert simulated(memory, held, given)[1] == {"EB": 5}.get(code, 8)
