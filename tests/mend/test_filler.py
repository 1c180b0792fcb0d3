"""Pads: cycles from the makers' tables (NOP 2, or 1 in native mode; TFR 6 or 4; EXG 8 or 5)."""

import pytest
from clockhop.cpu import Machine, load
from clockhop.mend.filler import fillers, padding, shortest_padding

NONE = frozenset()
BINARY = frozenset({("D", 0)})
MODES = {"6809": NONE, "6309": frozenset({("MD", 0)}), "6309-native": frozenset({("MD", 1)})}
SMALL = {"6801": NONE, "6303": NONE, "68hc11": frozenset({("stop", 1)})}
MODES |= {"6800": NONE, "6502": BINARY, "w65c02s": BINARY} | SMALL


def spelled(found):
    return None if found is None else [f"{f.mnemonic} {f.operand}".strip() for f in found]


@pytest.mark.parametrize(
    ("cpu", "cycles", "expected"),
    [
        ("6809", 1, None),
        ("6809", 2, ["NOP"]),
        ("6809", 3, ["ORCC #0"]),
        ("6809", 4, ["LEAU ,U"]),
        ("6809", 6, ["TFR A,A"]),
        ("6809", 8, ["EXG A,A"]),
        ("6309", 1, None),
        ("6309", 2, ["NOP"]),
        ("6309", 6, ["TFR A,A"]),
        ("6309-native", 1, ["NOP"]),
        ("6309-native", 2, ["NOP", "NOP"]),
        ("6309-native", 4, ["TFR A,A"]),
        ("6309-native", 5, ["EXG A,A"]),
        ("6800", 2, ["NOP"]),
        ("6800", 3, ["JMP *+3"]),
        ("6801", 3, ["BRN *"]),
        ("6801", 5, ["BRN *", "NOP"]),
        ("6303", 1, ["NOP"]),
        ("6303", 3, ["BRN *"]),
        ("68hc11", 3, ["BRN *"]),
        ("6502", 1, None),
        ("6502", 2, ["NOP"]),
        ("6502", 3, ["JMP *+3"]),
        ("6502", 7, ["JMP *+3", "NOP", "NOP"]),
        ("w65c02s", 1, None),
        ("w65c02s", 3, ["JMP *+3"]),
    ],
)
def test_pads_that_spoil_nothing(cpu, cycles, expected):
    assert spelled(padding(load(cpu), MODES[cpu], cycles, NONE)) == expected


def test_an_odd_length_on_a_6800_takes_a_jump_to_what_comes_next():
    assert spelled(padding(load("6800"), NONE, 7, NONE)) == ["JMP *+3", "NOP", "NOP"]
    # CPX #0 would take 3 cycles as well, and spoil flags.
    assert spelled(padding(load("6800"), NONE, 7, frozenset("NZV"))) == ["JMP *+3", "NOP", "NOP"]


@pytest.mark.parametrize("cpu", MODES)
def test_every_length_from_2_to_64_cycles_is_padded_exactly(cpu):
    for cycles in range(2, 65):
        found = padding(load(cpu), MODES[cpu], cycles, NONE)
        assert sum(filler.cycles for filler in found) == cycles


def test_one_cycle_on_a_6809_is_padded_with_two():
    assert spelled(shortest_padding(load("6809"), NONE, 1, NONE)) == ["NOP"]


def test_nothing_is_spoilt_where_nothing_has_to_be():
    cpu = load("6809")
    # ABX takes 3 cycles in one byte and changes X.
    assert "ABX" in {filler.mnemonic for filler in fillers(cpu, NONE)}
    everything = frozenset({*cpu.registers, *cpu.flags})
    used = [f for cycles in range(2, 65) for f in padding(cpu, NONE, cycles, everything)]
    assert {name for filler in used for name in filler.spoils} == set()


@pytest.mark.parametrize("cpu", MODES)
def test_no_filler_spoils_a_stack_pointer_a_mode_or_an_interrupt_mask(cpu):
    for filler in fillers(load(cpu), MODES[cpu]):
        assert not filler.spoils & {"S", "MD", "irqmask", "firqmask", "I", "xirqmask", "stop"}


@pytest.mark.parametrize("cpu", MODES)
@pytest.mark.parametrize("fill", [0x00, 0xFF, 0x5A])
def test_every_filler_does_in_the_executor_what_it_says(cpu, fill, encoded):
    """Its cycles, its bytes, no memory touched, and nothing changed but what it spoils."""
    table = load(cpu)
    for filler in fillers(table, MODES[cpu]):
        memory = bytearray([fill]) * 0x10000
        code = encoded(cpu, f"{filler.mnemonic} {filler.operand}")
        memory[0xC000 : 0xC000 + len(code)] = code
        stored = [name for name in (*table.registers, *table.flags) if name != "PC"]
        start = {name: fill * 0x101 % (1 << table.register(name).width) for name in stored}
        machine = Machine(table, memory, {**start, **dict(MODES[cpu]), "S": 0x8000, "PC": 0xC000})
        before = {name: machine[name] for name in stored}
        machine.step()
        assert (machine.counter, machine.fewest, machine.most) == (
            0xC000 + filler.size,
            filler.cycles,
            filler.cycles,
        )
        assert {name for name in stored if machine[name] != before[name]} <= filler.spoils
        assert machine.state.touched == []
