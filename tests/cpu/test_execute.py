"""The executor: cases worked by hand, where no simulator is the witness, and whole runs with their cycles."""

import pytest
from clockhop import cpu
from clockhop.cpu import Bus, Machine, Stop

SIGNAL = 0x8001


def machine(name: str, code: str, watched: tuple[int, ...] = (), **registers: int) -> Machine:
    memory = bytearray(0x10000)
    memory[0x4000 : 0x4000 + len(code.split())] = bytes.fromhex(code)
    memory[0xFFF2:0xFFFC] = bytes.fromhex("5100 5000 5201 5202 5300")
    return Machine(cpu.load(name), memory, {"PC": 0x4000, "S": 0x1000} | registers, watched)


def stepped(name: str, code: str, **registers: int) -> Machine:
    made = machine(name, code, **registers)
    assert made.step() is not None
    return made


def test_the_classic_delay_of_25000_turns_takes_200008_cycles() -> None:
    delay = machine("6809", "8E 61 A8 30 1F 26 FC 39")  # LDX #25000 / LEAX -1,X / BNE / RTS
    assert delay.run(lambda made: made["S"] == 0x1002, 100_000) is Stop.REACHED
    assert (delay.fewest, delay.most) == (200_008, 200_008)


def test_the_same_delay_takes_200007_cycles_in_native_mode() -> None:
    # LDX 3, then 25000 turns of LEAX 5 and BNE 3 as before; RTS takes 4 in place of 5.
    delay = machine("6309-native", "8E 61 A8 30 1F 26 FC 39")
    assert delay.run(lambda made: made["S"] == 0x1002, 100_000) is Stop.REACHED
    assert (delay.fewest, delay.most) == (200_007, 200_007)


def test_two_strikes_of_the_bell_are_62_cycles_apart() -> None:
    # STA $8001 / LDB #11 / DECB / BNE / STA $8001: the write is in the fifth cycle of its store.
    code = "B7 80 01 C6 0B 5A 26 FD B7 80 01"
    strikes = machine("6809", code, (SIGNAL,), A=3)
    strikes.run(lambda made: made.counter == 0x400B, 100)
    assert strikes.log == [Bus("write", SIGNAL, 3, 5, 5), Bus("write", SIGNAL, 3, 67, 67)]


def test_a_clear_reads_the_bell_before_it_writes() -> None:
    clear = machine("6809", "7F 80 01", (SIGNAL,))
    clear.step()
    assert clear.log == [Bus("read", SIGNAL, 0, 5, 5), Bus("write", SIGNAL, 0, 7, 7)]


def test_a_run_ends_at_its_bound_at_a_wait_and_where_there_is_no_instruction() -> None:
    assert machine("6809", "20 FE").run(lambda _: False, 10) is Stop.BOUND
    assert machine("6809", "13").run(lambda _: False, 10) is Stop.WAITING
    assert machine("6809", "02").run(lambda _: False, 10) is Stop.NO_INSTRUCTION


def test_a_program_that_changes_its_own_code_runs_the_new_code() -> None:
    # LDA #$12 / STA $4006 / NOP / INCB, which has become NOP
    changed = machine("6809", "86 12 B7 40 06 12 5C")
    changed.run(lambda made: made.counter == 0x4007, 10)
    assert changed["B"] == 0


@pytest.mark.parametrize(
    ("code", "vector", "masks"), [("3F", 0x5300, 1), ("10 3F", 0x5000, 0), ("11 3F", 0x5100, 0)]
)
def test_a_software_interrupt_stacks_12_bytes_and_takes_its_vector(
    code: str, vector: int, masks: int
) -> None:
    after = stepped("6809", code, A=1, B=2, DP=3, X=0x0405, Y=0x0607, U=0x0809, CC=0x05)
    size = len(code.split())
    assert after["S"] == 0x0FF4
    expected = bytes.fromhex("85 01 02 03 04 05 06 07 08 09 40") + bytes([size])
    assert bytes(after.state.memory[address] for address in range(0x0FF4, 0x1000)) == expected
    assert (after.counter, after["irqmask"], after["firqmask"], after["entire"]) == (vector, masks, masks, 1)


def test_native_mode_stacks_e_and_f_between_dp_and_b() -> None:
    after = stepped("6309-native", "3F", A=1, B=2, E=0x0E, F=0x0F, DP=3, CC=0)
    assert bytes(after.state.memory[address] for address in range(0x0FF2, 0x0FF8)) == bytes.fromhex(
        "80 01 02 0E 0F 03"
    )


def test_rti_in_native_mode_brings_back_what_swi_stacked() -> None:
    run = machine("6309-native", "3F", A=1, B=2, E=0x0E, F=0x0F, DP=3, X=0x0405, Y=6, U=7, CC=0x05)
    run.state.memory[0x5300] = 0x3B
    run.step()
    run.state.registers.update(A=0, B=0, E=0, F=0, DP=0, X=0, Y=0, U=0)
    run.step()
    names = ("A", "B", "E", "F", "DP", "X", "Y", "U", "S", "PC")
    assert [run[name] for name in names] == [1, 2, 0x0E, 0x0F, 3, 0x0405, 6, 7, 0x1000, 0x4001]
    assert run.fewest == 21 + 17


def test_cwai_stacks_12_bytes_with_the_masks_it_opened() -> None:
    after = stepped("6809", "3C EF", CC=0x51)
    assert (after["S"], after.state.memory[0x0FF4], after.most) == (0x0FF4, 0xC1, None)


@pytest.mark.parametrize(
    ("b", "d", "negative", "zero"), [(0x85, 0xFF85, 1, 0), (0x05, 0x0005, 0, 0), (0, 0, 0, 1)]
)
def test_the_sign_of_b_is_extended_into_a(b: int, d: int, negative: int, zero: int) -> None:
    after = stepped("6809", "1D", A=0x55, B=b)
    assert (after["D"], after["N"], after["Z"]) == (d, negative, zero)


@pytest.mark.parametrize(("code", "s", "u"), [("36 40", 0x1000, 0x2FFE), ("37 40", 0x1234, 0x3002)])
def test_the_user_stack_stacks_s_in_the_place_of_u(code: str, s: int, u: int) -> None:
    made = machine("6809", code, U=0x3000)
    made.state.memory[0x3000:0x3002] = bytes.fromhex("1234")  # type: ignore[index]
    made.step()
    assert (made["S"], made["U"]) == (s, u)


def test_undefined_results_can_be_filled_with_zeros_or_ones() -> None:
    for fill, expected in ((0, 0), (-1, 1)):
        memory = bytearray(0x10000)
        memory[0x4000:0x4002] = bytes.fromhex("8001")  # SUBA #1 leaves H undefined
        made = Machine(cpu.load("6809"), memory, {"PC": 0x4000}, fill=fill)
        made.step()
        assert made["H"] == expected
