"""The meaning of the 8080 and 8085: through the Z80's single-step vectors where they agree, else by definition.

Registers, memory, S, Z and carry come from the vectors; so do parity after logic and the auxiliary carry of additions.
Where the maker defines another result (parity after arithmetic, auxiliary carry of subtractions and of AND), it is
stated here; Intel, 8080/8085 Assembly Language Programming Manual (9800301), chapter 1, from memory.
"""

import pytest
from clockhop import cpu
from clockhop.address import port
from clockhop.cpu import Machine
from test_vectors_z80 import Case, Space, cases

# Opcodes the Z80 took for other instructions, and those whose result is compared below: DAA, PUSH and POP of the flags.
OTHERS = {0x08, 0x10, 0x18, 0x20, 0x28, 0x30, 0x38, 0xCB, 0xD9, 0xDD, 0xED, 0xFD, 0x27, 0xF1, 0xF5}
SHARED = [code for code in range(256) if code not in OTHERS]
REGISTERS = ("A", "B", "C", "D", "E", "H", "L", "SP", "PC")
LOGIC = range(0xA0, 0xB8)


def after(name: str, case: Case) -> Machine:
    before = case["initial"]
    space = Space(dict(before["ram"]))
    space |= {port(number & 0xFF): value for number, value, way in case.get("ports", ()) if way == "r"}
    flags = {
        flag: before["f"] >> bit & 1 for flag, bit in (("S", 7), ("Z", 6), ("AC", 4), ("P", 2), ("CY", 0))
    }
    machine = Machine(
        cpu.load(name), space, flags | {name: before[name.lower()] for name in REGISTERS}, fill=0
    )
    assert machine.step() is not None
    return machine


@pytest.mark.parametrize("name", ["8080", "8085"])
def test_241_opcodes_do_what_they_do_on_the_z80(name: str) -> None:
    assert len(SHARED) == 241
    for code in SHARED:
        for case in cases()[f"{code:02x}"]:
            machine, final = after(name, case), case["final"]
            assert [machine[r] for r in REGISTERS] == [final[r.lower()] for r in REGISTERS], case["name"]
            assert all(machine.state.memory[address] == value for address, value in final["ram"]), case[
                "name"
            ]
            for number, value, _ in case.get("ports", ()):
                assert machine.state.memory[port(number & 0xFF)] == value
            carry, sign, zero = final["f"] & 1, final["f"] >> 7, final["f"] >> 6 & 1
            assert (machine["CY"], machine["S"], machine["Z"]) == (carry, sign, zero), case["name"]


def test_parity_after_logic_and_the_auxiliary_carry_of_additions_are_those_of_the_z80() -> None:
    for code in (*LOGIC, 0xE6, 0xEE, 0xF6):
        for case in cases()[f"{code:02x}"]:
            assert after("8080", case)["P"] == case["final"]["f"] >> 2 & 1
    for code in (*range(0x80, 0x90), 0xC6, 0xCE, *range(0x04, 0x40, 8)):
        for case in cases()[f"{code:02x}"]:
            assert after("8080", case)["AC"] == case["final"]["f"] >> 4 & 1


@pytest.mark.parametrize(
    "code", [*range(0x90, 0xA0), *range(0xB8, 0xC0), 0xD6, 0xDE, 0xFE, *range(0x05, 0x40, 8)]
)
def test_the_auxiliary_carry_of_a_subtraction_is_the_z80_s_half_borrow_turned_round(code: int) -> None:
    for case in cases()[f"{code:02x}"]:
        assert after("8080", case)["AC"] == 1 - (case["final"]["f"] >> 4 & 1)


def result(name: str, code: str, registers: dict[str, int]) -> Machine:
    machine = Machine(cpu.load(name), Space(enumerate(bytes.fromhex(code))), registers | {"PC": 0}, fill=0)
    assert machine.step() is not None
    return machine


@pytest.mark.parametrize(
    ("a", "operand", "code", "parity"),
    [
        (0x01, 0x02, "80", 1),
        (0x01, 0x01, "80", 0),
        (0x7F, 0x01, "80", 0),
        (0x05, 0x02, "90", 1),
        (0, 1, "90", 1),
    ],
)
def test_arithmetic_sets_parity_not_overflow(a: int, operand: int, code: str, parity: int) -> None:
    assert result("8080", code, {"A": a, "B": operand})["P"] == parity


@pytest.mark.parametrize(("name", "auxiliary"), [("8080", (0, 1, 1)), ("8085", (1, 1, 1))])
def test_and_sets_the_auxiliary_carry_from_bits_3_on_the_8080_and_always_on_the_8085(
    name: str, auxiliary: tuple[int, ...]
) -> None:
    pairs = ((0x00, 0x00), (0x08, 0x00), (0x00, 0x08))
    assert tuple(result(name, "A0", {"A": a, "B": b})["AC"] for a, b in pairs) == auxiliary


@pytest.mark.parametrize(
    ("a", "auxiliary", "carry", "adjusted", "carry_after"),
    [
        (0x9B, 0, 0, 0x01, 1),
        (0x15, 0, 0, 0x15, 0),
        (0x12, 1, 0, 0x18, 0),
        (0x30, 0, 1, 0x90, 1),
        (0x0A, 0, 0, 0x10, 0),
    ],
)
def test_daa_adds_6_to_each_digit_that_needs_it(
    a: int, auxiliary: int, carry: int, adjusted: int, carry_after: int
) -> None:
    for name in ("8080", "8085"):
        machine = result(name, "27", {"A": a, "AC": auxiliary, "CY": carry})
        assert (machine["A"], machine["CY"]) == (adjusted, carry_after)


def test_the_flag_byte_of_the_8080_has_bit_1_set_and_bits_3_and_5_clear() -> None:
    machine = result("8080", "F5", {"SP": 0x100, "A": 0x12, "S": 1, "Z": 1, "AC": 1, "P": 1, "CY": 1})
    assert (machine.state.memory[0xFF], machine.state.memory[0xFE], machine["SP"]) == (0x12, 0xD7, 0xFE)
    back = Machine(cpu.load("8080"), Space({0: 0xF1, 0x80: 0x93, 0x81: 0x34}), {"PC": 0, "SP": 0x80})
    assert back.step() is not None
    assert [back[r] for r in ("A", "S", "Z", "AC", "P", "CY", "SP")] == [0x34, 1, 0, 1, 0, 1, 0x82]


def test_the_seven_spare_opcodes_of_the_8080_do_nothing_and_its_copies_jump_call_and_return() -> None:
    for code in ("08", "10", "18", "20", "28", "30", "38"):
        assert result("8080", code, {})["PC"] == 1
    for code in ("CB", "DD", "ED", "FD"):
        assert result("8080", code + "3412", {"SP": 0x100})["PC"] == 0x1234
    assert result("8080", "D9", {"SP": 0x100})["PC"] == 0


def test_what_only_the_8085_has() -> None:
    assert result("8085", "08", {"H": 0x12, "L": 0x34, "B": 0x02, "C": 0x35})["HL"] == 0x0FFF
    assert [result("8085", "10", {"H": 0x80, "L": 0x03})[r] for r in ("HL", "CY")] == [0xC001, 1]
    assert [result("8085", "18", {"D": 0x80, "E": 0x01, "CY": 1})[r] for r in ("DE", "CY")] == [0x0003, 1]
    assert result("8085", "2805", {"H": 0x12, "L": 0xFE})["DE"] == 0x1303
    assert result("8085", "3805", {"SP": 0x12FE})["DE"] == 0x1303
    stored = result("8085", "D9", {"D": 0x20, "H": 0x12, "L": 0x34}).state.memory
    assert (stored[0x2000], stored[0x2001]) == (0x34, 0x12)
    assert result("8085", "ED", {"D": 0, "E": 0})["HL"] == 0x00ED
    assert [result("8085", "DD3412", {"K": k})["PC"] for k in (0, 1)] == [0x1234, 3]
    assert [result("8085", "FD3412", {"K": k})["PC"] for k in (0, 1)] == [3, 0x1234]
    assert [result("8085", "CB", {"V": v, "SP": 0x100})["PC"] for v in (0, 1)] == [1, 0x40]
    assert [result("8085", "0B", {"B": 0, "C": c})["K"] for c in (0, 1)] == [1, 0]
    assert [result("8085", "03", {"B": 0xFF, "C": c})["K"] for c in (0xFF, 0xFE)] == [1, 0]


def test_rim_and_sim_move_the_interrupt_masks() -> None:
    told = result("8085", "30", {"A": 0x0D})
    assert [told[r] for r in ("mask75", "mask65", "mask55")] == [1, 0, 1]
    untold = result("8085", "30", {"A": 0x05, "mask65": 1})
    assert [untold[r] for r in ("mask75", "mask65", "mask55")] == [1, 1, 1]
    read = {"SID": 1, "masked": 0, "mask75": 1, "mask65": 0, "mask55": 1}
    assert result("8085", "20", read)["A"] == 0x8D
