"""Every Z80 opcode against single-step vectors (tests/reference/vectors): meaning, T-states, places of all accesses."""

import gzip
import json
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from clockhop import cpu
from clockhop.address import port
from clockhop.cpu import Action, Machine

CPU = cpu.load("z80")
VECTORS = Path(__file__).parents[1] / "reference" / "vectors" / "z80.jsonl.gz"
REGISTERS = {
    name.lower(): name for name in ("A", "B", "C", "D", "E", "H", "L", "I", "F", "IX", "IY", "PC", "SP")
}
REGISTERS |= {name.lower(): name for name in ("AF_", "BC_", "DE_", "HL_", "IM")}
# Not compared: R, since the refresh counter is not followed.

Case = dict[str, Any]


class Space(dict[int, int]):
    """Memory and ports that are zero where a case says nothing."""

    def __missing__(self, address: int) -> int:
        return 0


class Everything:
    def __contains__(self, address: object) -> bool:
        return True


@cache
def cases() -> dict[str, list[Case]]:
    found: dict[str, list[Case]] = {}
    with gzip.open(VECTORS, "rt", encoding="utf-8") as file:
        for line in file:
            case = json.loads(line)
            found.setdefault(case["op"], []).append(case)
    return found


def ignored(op: str) -> bool:
    """A prefix that changes nothing, or an opcode that nothing is assigned to: neither has a row."""
    return CPU.decoder.read(lambda place: memory_of(op)[place], 0) is None


def memory_of(op: str) -> bytes:
    return bytes.fromhex(op.replace("__", "00").replace(" ", "")) + bytes(4)


ROWS = [op for op in cases() if not ignored(op)]


def after(case: Case, fill: int) -> tuple[Machine, Action]:
    """One instruction, with undefined results zeros or ones."""
    before = case["initial"]
    space = Space(dict(before["ram"]))
    space |= {port(number & 0xFF): value for number, value, way in case.get("ports", ()) if way == "r"}
    registers = {name: before[key] for key, name in REGISTERS.items()}
    registers |= {"masked": 1 - before["iff1"], "masked2": 1 - before["iff2"], "R": before["r"]}
    machine = Machine(CPU, space, registers, Everything(), fill)
    action = machine.step()
    assert action is not None
    return machine, action


def test_1268_of_1604_opcodes_have_rows_and_the_others_are_ignored_prefixes_and_ed_holes() -> None:
    others = Counter(op[:2] for op in cases() if op not in ROWS)
    assert (len(cases()), len(ROWS), others) == (1604, 1268, {"dd": 167, "fd": 167, "ed": 2})


@pytest.mark.parametrize("page", ["", "cb", "ed", "dd", "fd", "dd cb", "fd cb"])
def test_registers_memory_and_t_states_are_as_in_the_vectors(page: str) -> None:
    for op in ROWS:
        if op.rpartition(" ")[0].removesuffix(" __") == page:
            for case in cases()[op]:
                check(case)


def check(case: Case) -> None:
    zeros, action = after(case, 0)
    ones, _ = after(case, -1)
    final = case["final"]
    for key, name in REGISTERS.items():
        defined = ~(zeros[name] ^ ones[name])
        assert zeros[name] & defined == final[key] & defined, (case["name"], name)
    assert (zeros["masked"], zeros["masked2"]) == (1 - final["iff1"], 1 - final["iff2"]), case["name"]
    memory = zeros.state.memory
    assert all(memory[address] == value for address, value in final["ram"]), case["name"]
    for number, value, _ in case.get("ports", ()):
        assert memory[port(number & 0xFF)] == value, case["name"]
    most = None if action.flow == "wait" else zeros.fewest
    assert (zeros.fewest, zeros.most) == (len(case["cycles"]), most), case["name"]
    assert sorted((bus.kind, bus.address, bus.first) for bus in zeros.log) == sorted(
        accesses(case, action.size)
    ), case["name"]


def accesses(case: Case, size: int) -> list[tuple[str, int, int]]:
    """Kind, address and T-state of every data access; the first reads at the program counter are the instruction."""
    found = []
    fetched = 0
    for number, (address, _, pins) in enumerate(case["cycles"], 1):
        read, write, _, in_port = pins
        if pins == "----":
            continue
        if read == "r" and in_port != "i" and fetched < size:
            assert address == (case["initial"]["pc"] + fetched) & 0xFFFF
            fetched += 1
            continue
        place = port(address & 0xFF) if in_port == "i" else address
        found.append(("write" if write == "w" else "read", place, number))
    return found


def test_only_bits_5_and_3_and_block_input_and_output_leave_flags_undefined() -> None:
    loose: dict[str, int] = {}
    for op in ROWS:
        for case in cases()[op]:
            zeros, ones = after(case, 0)[0], after(case, -1)[0]
            loose[op] = loose.get(op, 0) | zeros["F"] ^ ones["F"]
    others = {op for op, bits in loose.items() if bits & ~0x28}
    assert others == {"ed 5f", "ed b2", "ed b3", "ed ba", "ed bb"}


def test_one_wait_for_each_opcode_fetch_adds_1_and_with_a_prefix_2() -> None:
    waiting = cpu.load("z80-m1wait")

    def states(name: cpu.Cpu, code: str) -> int:
        memory = bytearray(0x10000)
        memory[: len(code) // 2] = bytes.fromhex(code)
        machine = Machine(name, memory, {"PC": 0})
        machine.step()
        return machine.fewest

    assert [(states(CPU, code), states(waiting, code)) for code in ("00", "3E05", "CB07", "DDCB0546")] == [
        (4, 5),
        (7, 8),
        (8, 10),
        (20, 22),
    ]
