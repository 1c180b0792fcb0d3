"""Every published single-step vector of the 6502 and 65C02: state, memory, cycle count and every named bus access."""

import pytest
from clockhop import cpu
from vector import Case, cases, step
from witness import notes

STATUS = "NV--DIZC"
FILES = {"6502": "6502", "6502-undocumented": "6502", "65c02": "w65c02s"}
ALL = [(file, code) for file in FILES for code in cases(file, STATUS)]
# What the vectors are not taken for, with the reason: (file, opcode) -> memory and bus, or registers.
EXCEPTIONS = {
    (entry["file"].text(), code): entry["without"].text()
    for entry in (
        node.fields(("file", "opcodes", "without", "reason"))
        for node in notes("vector-exceptions").sequence()
    )
    for code in entry["opcodes"].text().split()
}


def crosses(case: Case) -> bool:
    """Whether the last read of the case is at an address without the carry of an index."""
    return case.cycles[-1][0] - case.cycles[-2][0] == 0x100


def differences(file: str, case: Case) -> list[str]:
    """What differs from the case: registers (and flags), memory, cycles, bus."""
    machine = step(cpu.load(FILES[file]), case)
    found = []
    if {name: machine[name] for name in case.after} != case.after:
        found.append("registers")
    if any(machine.state.memory[address] != value for address, value in case.memory_after.items()):
        found.append("memory")
    if machine.fewest != len(case.cycles) or machine.most != len(case.cycles):
        found.append("cycles")
    named = {event.first: (event.address, event.value, event.kind) for event in machine.log}
    if any(case.cycles[cycle - 1 : cycle] != [event] for cycle, event in named.items()):
        found.append("bus")
    writes = {place for place, cycle in enumerate(case.cycles, 1) if cycle[2] == "write"}
    if writes != {event.first for event in machine.log if event.kind == "write"}:
        found.append("writes")
    return found


@pytest.mark.parametrize(("file", "code"), ALL)
def test_state_memory_cycles_and_bus_are_as_in_every_vector(file: str, code: str) -> None:
    without = EXCEPTIONS.get((file, code), "").split()
    for case in cases(file, STATUS)[code]:
        if "crossed" in without and crosses(case):
            continue
        assert set(differences(file, case)) <= set(without)


def test_there_are_1510_516_and_2100_vectors() -> None:
    counts = [sum(len(each) for each in cases(file, STATUS).values()) for file in FILES]
    assert counts == [1510, 516, 2100]


def test_the_vectors_are_set_aside_for_11_opcodes_in_part_and_each_still_needs_it() -> None:
    assert len(EXCEPTIONS) == 11
    for (file, code), without in EXCEPTIONS.items():
        found = {each for case in cases(file, STATUS)[code] for each in differences(file, case)}
        assert found
        assert "crossed" in without or found <= set(without.split())
