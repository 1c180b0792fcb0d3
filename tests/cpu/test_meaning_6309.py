"""Opcodes of the 6309 alone: cases worked by hand from the words of Atkinson's programmers reference (2009).

No simulator stands behind them. Where the reference is silent or at odds with itself the table says undefined, and
no case is made of it.
"""

import pytest
from clockhop import cpu
from clockhop.cpu import Machine, Undefined


def after(code: str, memory: dict[int, int] | None = None, **registers: int) -> Machine:
    space = bytearray(0x10000)
    for address, byte in (memory or {}).items():
        space[address] = byte
    space[0x4000 : 0x4000 + len(code.split())] = bytes.fromhex(code)
    machine = Machine(cpu.load("6309"), space, {"PC": 0x4000, "S": 0x1000} | registers)
    assert machine.step() is not None
    return machine


def seen(machine: Machine, *names: str) -> tuple[int, ...]:
    return tuple(machine[name] for name in names)


@pytest.mark.parametrize(
    ("dividend", "divisor", "remainder", "quotient", "nzvc"),
    [
        (100, 7, 2, 14, "0000"),
        (-100 & 0xFFFF, 7, -2 & 0xFF, -14 & 0xFF, "1000"),  # the remainder has the sign of the dividend
        (100, -7 & 0xFF, 2, -14 & 0xFF, "1000"),
        (-101 & 0xFFFF, -2 & 0xFF, -1 & 0xFF, 50, "0000"),
        (3, 7, 3, 0, "0100"),
        (301, 2, 1, 150, "1010"),  # 150 reads as -106: two's complement overflow
    ],
)
def test_divd_gives_quotient_in_b_and_remainder_in_a(
    dividend: int, divisor: int, remainder: int, quotient: int, nzvc: str
) -> None:
    divided = after(f"11 8D {divisor:02X}", D=dividend)
    assert seen(divided, "A", "B") == (remainder, quotient)
    assert "".join(str(divided[flag]) for flag in "NZVC") == nzvc


def test_divd_leaves_900_by_3_alone_and_sets_v_since_300_does_not_fit() -> None:
    divided = after("11 8D 03", D=900, CC=0x0D)
    assert seen(divided, "D", "N", "Z", "V", "C") == (900, 0, 0, 1, 0)
    assert divided.fewest == 25 - 13


def test_divd_takes_a_cycle_more_for_each_negative_operand_and_one_less_when_it_wraps() -> None:
    assert after("11 8D 07", D=100).fewest == 25
    assert after("11 8D 07", D=-100 & 0xFFFF).fewest == 26
    assert after("11 8D F9", D=-100 & 0xFFFF).fewest == 27
    assert after("11 8D 02", D=300).fewest == 24


def test_divq_gives_quotient_in_w_and_remainder_in_d() -> None:
    divided = after("11 8E 00 02", Q=80_001)
    assert seen(divided, "D", "W", "N", "Z", "V", "C") == (1, 40_000, 1, 0, 1, 0)
    divided = after("11 8E 03 E8", Q=-1_234_567 & 0xFFFFFFFF)
    assert seen(divided, "D", "W", "V", "C") == (-567 & 0xFFFF, -1234 & 0xFFFF, 0, 0)
    assert divided.fewest == 35


def test_divq_leaves_210000_by_3_alone_since_70000_does_not_fit() -> None:
    divided = after("11 8E 00 03", Q=210_000)
    assert seen(divided, "Q", "N", "Z", "V", "C") == (210_000, 0, 0, 1, 0)
    assert divided.fewest == 34 - 21


def test_a_division_by_zero_has_no_result_the_table_vouches_for() -> None:
    processor = cpu.load("6309")
    (row, *_) = processor.mnemonics["DIVD"]
    action = processor.bind(row, row.form.variants[0], {"n8": 0}, 0x4000)
    last = action.meaning[-1]
    assert isinstance(last, cpu.If)
    assert last.condition == cpu.Binary("==", cpu.Temp("m"), cpu.Number(0))
    assert last.then[0] == cpu.Assign(processor.register("D"), Undefined(16))


def test_muld_multiplies_with_sign_into_q() -> None:
    product = after("11 8F FF FE", D=300)
    assert seen(product, "Q", "N", "Z") == (-600 & 0xFFFFFFFF, 1, 0)
    assert product.fewest == 28
    assert seen(after("11 8F 00 00", D=300), "Q", "N", "Z") == (0, 0, 1)


@pytest.mark.parametrize(("w", "d", "negative", "zero"), [(0x8000, 0xFFFF, 1, 0), (1, 0, 0, 0), (0, 0, 0, 1)])
def test_sexw_fills_d_with_the_sign_of_w(w: int, d: int, negative: int, zero: int) -> None:
    assert seen(after("14", W=w, D=0x1234), "D", "W", "N", "Z") == (d, w, negative, zero)


@pytest.mark.parametrize(
    ("code", "memory", "a"),
    [
        ("11 36 69 40", 0xC6, 0x0D),  # LDBT A,5,1,$40: bit 5 of $C6 is 0
        ("11 36 71 40", 0xC6, 0x0F),  # LDBT A,6,1,$40: bit 6 is 1
        ("11 30 69 40", 0xC6, 0x0D),  # BAND A,5,1,$40
        ("11 31 69 40", 0xC6, 0x0F),  # BIAND A,5,1,$40
        ("11 32 74 40", 0xC6, 0x1F),  # BOR A,6,4,$40
        ("11 33 6C 40", 0xC6, 0x1F),  # BIOR A,5,4,$40
        ("11 34 71 40", 0xC6, 0x0D),  # BEOR A,6,1,$40
        ("11 35 69 40", 0xC6, 0x0D),  # BIEOR A,5,1,$40
    ],
)
def test_a_bit_of_memory_works_on_a_bit_of_a_register(code: str, memory: int, a: int) -> None:
    assert after(code, {0x0040: memory}, A=0x0F)["A"] == a


def test_stbt_stores_a_bit_of_a_into_a_bit_of_memory() -> None:
    stored = after("11 37 69 40", {0x0040: 0xC6}, A=0x0F)  # STBT A,5,1,$40: bit 5 of $0F is 0
    assert stored.state.memory[0x0040] == 0xC4
    assert stored.fewest == 8


@pytest.mark.parametrize(
    ("code", "x", "y", "moved"),
    [
        ("11 38 12", 0x1003, 0x2003, "01 02 03"),
        ("11 39 12", 0x0FFD, 0x1FFD, "01"),
        ("11 3A 12", 0x1003, 0x2000, "03"),
        ("11 3B 12", 0x1000, 0x2003, "01 01 01"),
    ],
)
def test_tfm_moves_w_bytes_and_ends_with_w_at_0(code: str, x: int, y: int, moved: str) -> None:
    done = after(code, {0x1000: 1, 0x1001: 2, 0x1002: 3}, X=0x1000, Y=0x2000, W=3)
    assert seen(done, "X", "Y", "W") == (x, y, 0)
    expected = bytes.fromhex(moved)
    assert bytes(done.state.memory[0x2000 + place] for place in range(len(expected))) == expected
    assert (done.fewest, done.most) == (15, 15)


@pytest.mark.parametrize(
    ("code", "d", "w", "nzvc"),
    [
        ("10 30 06", 0x1234, 0x2345, "0000"),  # ADDR D,W
        ("10 32 06", 0x1234, 0xFEDD, "1001"),  # SUBR D,W: W - D
        ("10 34 06", 0x1234, 0x1010, "0000"),  # ANDR D,W
        ("10 35 06", 0x1234, 0x1335, "0000"),  # ORR D,W
        ("10 36 06", 0x1234, 0x0325, "0000"),  # EORR D,W
        ("10 37 06", 0x1234, 0x1111, "1001"),  # CMPR D,W leaves both
        ("10 31 06", 0x1234, 0x2346, "0000"),  # ADCR D,W with carry
        ("10 33 06", 0x1234, 0xFEDC, "1001"),  # SBCR D,W with borrow
    ],
)
def test_two_registers_give_their_result_in_the_second(code: str, d: int, w: int, nzvc: str) -> None:
    carry = int(code[4] in "13")
    done = after(code, D=0x1234, W=0x1111, CC=carry)
    assert seen(done, "D", "W") == (d, w)
    expected = nzvc if code[4] not in "456" else nzvc[:3] + str(carry)
    assert "".join(str(done[flag]) for flag in "NZVC") == expected


@pytest.mark.parametrize(
    ("code", "byte", "nzv"),
    [
        ("01 F0 40", 0xFC, "100"),
        ("02 08 40", 0x08, "000"),
        ("05 4C 40", 0x00, "010"),
        ("0B 80 40", 0x4C, "010"),
    ],
)
def test_a_mask_works_on_a_byte_of_memory(code: str, byte: int, nzv: str) -> None:
    done = after(code, {0x0040: 0x4C}, CC=0x02)  # OIM, AIM, EIM, TIM
    assert done.state.memory[0x0040] == byte
    assert "".join(str(done[flag]) for flag in "NZV") == nzv


def test_ldmd_sets_the_two_mode_bits_alone_and_bitmd_clears_what_it_tests() -> None:
    assert after("11 3D FF", MD=0x40)["MD"] == 0x43
    tested = after("11 3C FF", MD=0x81)
    assert seen(tested, "MD", "Z") == (0x01, 0)
    assert seen(after("11 3C 40", MD=0x81), "MD", "Z") == (0x81, 1)


def test_a_switch_to_native_mode_counts_from_the_next_instruction_on() -> None:
    machine = after("11 3D 01 12")
    assert machine.fewest == 5
    machine.step()
    assert machine.fewest == 6


def test_pshsw_and_puluw_move_w_with_e_at_the_lower_address() -> None:
    pushed = after("10 38", W=0x1234)
    assert (pushed["S"], pushed.state.memory[0x0FFE], pushed.state.memory[0x0FFF]) == (0x0FFE, 0x12, 0x34)
    assert seen(after("10 3B", {0x3000: 0x56, 0x3001: 0x78}, U=0x3000), "W", "U") == (0x5678, 0x3002)


def test_ldq_and_stq_move_4_bytes() -> None:
    assert seen(after("CD 12 34 56 78"), "A", "B", "E", "F", "N", "Z") == (0x12, 0x34, 0x56, 0x78, 0, 0)
    stored = after("10 DD 40", Q=0x89ABCDEF)
    assert bytes(stored.state.memory[0x40 + place] for place in range(4)) == bytes.fromhex("89ABCDEF")
    assert (stored["N"], stored.fewest) == (1, 8)


@pytest.mark.parametrize(
    ("code", "registers", "expected"),
    [
        ("10 40", {"D": 0x8000}, {"D": 0x8000, "N": 1, "V": 1, "C": 1}),
        ("10 43", {"D": 0x00FF}, {"D": 0xFF00, "N": 1, "C": 1}),
        ("10 44", {"D": 0x8001}, {"D": 0x4000, "N": 0, "C": 1}),
        ("10 56", {"W": 0x0001, "CC": 1}, {"W": 0x8000, "N": 1, "C": 1}),
        ("10 47", {"D": 0x8002}, {"D": 0xC001, "N": 1, "C": 0}),
        ("10 48", {"D": 0x4000}, {"D": 0x8000, "N": 1, "V": 1, "C": 0}),
        ("10 59", {"W": 0x8000, "CC": 1}, {"W": 0x0001, "V": 1, "C": 1}),
        ("10 5A", {"W": 0x8000}, {"W": 0x7FFF, "V": 1}),
        ("10 4C", {"D": 0x7FFF}, {"D": 0x8000, "V": 1}),
        ("10 5D", {"W": 0}, {"Z": 1, "V": 0}),
        ("10 4F", {"D": 5}, {"D": 0, "Z": 1, "C": 0}),
        ("10 89 00 01", {"D": 0xFFFF, "CC": 1}, {"D": 1, "C": 1, "Z": 0}),
        ("10 82 00 01", {"D": 0, "CC": 1}, {"D": 0xFFFE, "C": 1, "N": 1}),
        ("10 84 0F 0F", {"D": 0xFF00}, {"D": 0x0F00, "V": 0}),
        ("10 8A 0F 0F", {"D": 0xF000}, {"D": 0xFF0F, "N": 1}),
        ("10 88 FF FF", {"D": 0xFFFF}, {"D": 0, "Z": 1}),
        ("10 85 80 00", {"D": 0x8000}, {"D": 0x8000, "N": 1}),
        ("11 8B 01", {"E": 0x0F}, {"E": 0x10, "H": 1}),
        ("11 C0 01", {"F": 0}, {"F": 0xFF, "C": 1}),
        ("1F 67", {"W": 0x1234}, {"VR": 0x1234}),
        ("1F C1", {"X": 5}, {"X": 0}),
    ],
)
def test_its_wide_and_extra_accumulators_work_as_the_old_ones(
    code: str, registers: dict[str, int], expected: dict[str, int]
) -> None:
    done = after(code, **registers)
    assert {name: done[name] for name in expected} == expected
