"""Delay routines for the 6502 and 65C02, with cycles worked out by hand from the makers' tables or published.

The instruction sequences are those of public sources; the figures come with each. Texts and names are our own.
"""

from collections.abc import Callable

import pytest
from clockhop.timing import Exact, Formula, Query, Range, Timings, Total

Routine = Callable[..., Total]
QUADRATIC = """\
        .org $0300
MAIN    LDA #{}
        JSR HOLD
        RTS
HOLD    SEC
OUTER   PHA
INNER   SBC #1
        BNE INNER
        PLA
        SBC #1
        BNE OUTER
        RTS
"""


@pytest.mark.parametrize("cpu", ["6502", "65c02"])
@pytest.mark.parametrize(("count", "cycles"), [(10, 398), (64, 11_117), (128, 42_701), (223, 127_346)])
def test_a_wait_whose_inner_loop_shrinks_is_quadratic_in_a(
    timed: Callable[..., Timings], cpu: str, count: int, cycles: int
) -> None:
    # Published as (26 + 27A + 5A^2)/2 with the call of 6.
    (call,) = timed(QUADRATIC.format(count), cpu=cpu).calls
    assert call.total == Exact(cycles - 6)


def test_the_quadratic_wait_is_the_published_polynomial_where_a_note_keeps_0_out(routine: Routine) -> None:
    # (26 + 27A + 5A^2)/2 less the call of 6; 1: 7 + 13.5 + 2.5, 255: 7 + 3442.5 + 162562.5
    text = QUADRATIC.format(10).replace("SEC", "SEC ; timing: with A = 1 to 255")
    assert routine(text, "HOLD", cpu="6502") == Formula("(5/2)*A^2 + (27/2)*A + 7", 23, 166_012, ("A",))
    # 0 is another case: the first SBC borrows. An independent simulator counts 167293.
    assert routine(QUADRATIC.format(10), "HOLD", cpu="6502") == Range(23, 167_293)


def test_a_note_bounds_what_the_caller_hands_over_and_leaves_the_formula(routine: Routine) -> None:
    text = " .org $0300\nSHORT TAX ; timing: with A = 1 to 20\nTURN DEX\n BNE TURN\n RTS\n"
    assert routine(text, "SHORT", cpu="6502") == Formula("5*A + 7", 12, 107, ("A",))


def test_two_saved_levels_take_4064_cycles_and_not_the_published_4075(routine: Routine) -> None:
    # Published with 400 for each inner call of 399, and 3 for the last BNE of 2; with the outer call of 6.
    text = """\
        .org $0300
MS      TXA
        PHA
        LDX #10
M1      JSR TENTH
        DEX
        BNE M1
        PLA
        TAX
        RTS
TENTH   TXA
        PHA
        LDX #75
T1      DEX
        BNE T1
        PLA
        TAX
        RTS
"""
    assert routine(text, "MS", cpu="6502") == Exact(4064 - 6)
    assert routine(text, "TENTH", cpu="6502") == Exact(399 - 6)


def test_half_a_period_of_a_tone_is_500_cycles_from_store_to_store(timed: Callable[..., Timings]) -> None:
    text = """\
        .org $0300
TONE    LDA #1
        STA $8000
        LDX #98
T1      DEX
        BNE T1
        JMP TONE
"""
    at = frozenset({0x8000})
    timings = timed(text, cpu="6502", watched=(0x8000,))
    (gap,) = timings.gaps(
        Query(lambda s: s.access.address in at, lambda s: s.access.address in at, lambda _: False)
    )
    # 2 + 4 + 2 + 98*5 - 1 + 3
    assert (gap.fewest, gap.most) == (500, 500)


def test_an_inner_count_that_is_not_loaded_again_takes_193288_cycles_and_not_the_published_99994(
    routine: Routine,
) -> None:
    # The published formula loads X again for each turn of Y; both branches go behind the load.
    text = """\
        .org $0300
DWELL   PHX
        PHY
        LDX #131
        LDY #151
D1      DEX
        BNE D1
        DEY
        BNE D1
        PLY
        PLX
        RTS
"""
    assert routine(text, "DWELL", cpu="65c02") == Exact(193_288 - 6)


def test_200_microseconds_at_4_mhz_are_788_cycles_and_the_call(routine: Routine) -> None:
    text = "        .org $0300\nFIFTH PHX\n LDX #156\nF1 DEX\n BNE F1\n PLX\n RTS\n"
    assert routine(text, "FIFTH", cpu="65c02") == Exact(800 - 6)


@pytest.mark.parametrize(("given", "cycles"), [(0, 25), (6, 31)])
def test_a_delay_of_25_cycles_and_a(timed: Callable[..., Timings], given: int, cycles: int) -> None:
    text = f"""\
        .org $0300
MAIN    LDA #{given}
        JSR DWELL
        RTS
D0      SBC #7
DWELL   CMP #7
        BCS D0
        LSR A
        BCS D1
D1      BEQ D2
        LSR A
        BEQ D3
        BCC D3
D2      BNE D3
D3      RTS
"""
    (call,) = timed(text, cpu="6502").calls
    assert call.total == Exact(cycles - 6)


def test_a_unit_of_1020_cycles_in_two_registers(routine: Routine) -> None:
    # LDY 2, 202*5 - 1, NOP 4, DEX 2, BNE 3: 1020 a unit; LDX 2, RTS 6.
    text = " .org $0300\nUNITS LDX #4\nU1 LDY #202\nU2 DEY\n BNE U2\n NOP\n NOP\n DEX\n BNE U1\n RTS\n"
    assert routine(text, "UNITS", cpu="6502") == Exact(2 + 4 * 1020 - 1 + 6)


def test_eleven_idle_instructions_in_a_loop_of_65536_turns_take_1771009_cycles(routine: Routine) -> None:
    # 256 * (256 * 27 - 1 + 5) - 1: the inner count starts at 0 each time; LDX and LDY 4, RTS 6.
    nops = " NOP\n" * 11
    text = f" .org $0300\nSECOND LDY #0\n LDX #0\nS1\n{nops} DEX\n BNE S1\n DEY\n BNE S1\n RTS\n"
    assert routine(text, "SECOND", cpu="6502") == Exact(4 + 256 * (256 * 27 + 4) - 1 + 6)


def test_a_byte_in_memory_that_starts_anywhere_counts_1_to_256_turns(routine: Routine) -> None:
    # 2 + (8*n - 1 + 5) + 99 * (8*256 - 1 + 5) - 1 + 6, n turns the first time.
    text = """\
        .org $0300
QUARTER LDX #$64
Q1      DEC $10
        BNE Q1
        DEX
        BNE Q1
        RTS
"""
    first = Formula("8*[$0010] + 203159", 203_167, 205_207, ("[$0010]",))
    assert routine(text, "QUARTER", cpu="6502") == first
    assert routine(text, "QUARTER", cpu="w65c02s") == first


def test_a_count_through_zero_makes_101_turns_for_100(routine: Routine) -> None:
    # 101 * 5 - 1 + 2 and RTS 6; published as half a second, it is half a millisecond.
    text = " .org $0300\nDIGIT LDY #$64\nD1 DEY\n BPL D1\n RTS\n"
    assert routine(text, "DIGIT", cpu="6502") == Exact(506 + 6)


def test_a_unit_of_100_cycles_with_branches_to_the_next_instruction(routine: Routine) -> None:
    # LDA 2, LDX 2, 18*5 - 1, BRA to what follows 3, NOP 2, DEC A 2, BNE 3, RTS 6.
    text = " .org $0300\nUNIT LDA #5\nU0 LDX #18\nU1 DEX\n BNE U1\n BRA U2\nU2 NOP\n DEC A\n BNE U0\n RTS\n"
    assert routine(text, "UNIT", cpu="65c02") == Exact(2 + 5 * (2 + 89 + 3 + 2 + 2 + 3) - 1 + 6)


def test_what_a_table_costs_depends_on_the_index_and_the_page_it_lies_in(routine: Routine) -> None:
    # LDX 2, LDA 4 or 5, DEX 2, BPL 3, RTS 6: $10 entries cross the page at $40F0.
    text = " .org $0300\nSUM LDX #31\nS1 LDA {},X\n DEX\n BPL S1\n RTS\n"
    assert routine(text.format("$4000"), "SUM", cpu="6502") == Exact(2 + 32 * 9 - 1 + 6)
    assert routine(text.format("$40F0"), "SUM", cpu="6502") == Exact(2 + 32 * 9 + 16 - 1 + 6)


def test_a_pointer_that_nobody_knows_costs_5_or_6(routine: Routine) -> None:
    assert routine(" .org $0300\nPEEK LDA ($10),Y\n RTS\n", "PEEK", cpu="6502") == Range(11, 12)
    assert routine(" .org $0300\nPEEK LDY #0\n LDA ($10),Y\n RTS\n", "PEEK", cpu="6502") == Exact(13)


def test_decimal_mode_costs_a_cycle_on_a_65c02_only_and_only_where_it_is_set(routine: Routine) -> None:
    text = " .org $0300\nADD {}\n CLC\n LDA #9\n ADC #1\n CLD\n RTS\n"
    assert routine(text.format("SED"), "ADD", cpu="6502") == Exact(16)
    assert routine(text.format("SED"), "ADD", cpu="65c02") == Exact(17)
    assert routine(text.format("CLD"), "ADD", cpu="65c02") == Exact(16)


def test_a_mode_that_a_program_sets_and_clears_elsewhere_is_not_known(routine: Routine) -> None:
    text = " .org $0300\nADD CLC\n LDA #9\n ADC #1\n RTS\nON SED\n RTS\n{}"
    assert routine(text.format("OFF CLD\n RTS\n"), "ADD", cpu="65c02") == Range(12, 13)
    # What the processor starts with counts as well: nobody says that ON comes first.
    assert routine(text.format(""), "ADD", cpu="65c02") == Range(12, 13)
    assert routine(text.replace("SED", "CLD").format(""), "ADD", cpu="65c02") == Exact(12)


@pytest.mark.parametrize(
    ("cpu", "code", "accesses"),
    [
        # A store through an index reads first, at once where the index leads nowhere else.
        ("6502", "LDX #1\n STA $8000,X", [("read", 0x8001, 4), ("write", 0x8001, 5)]),
        ("65c02", "LDX #1\n STA $8000,X", [("read", 0x8001, 4), ("write", 0x8001, 5)]),
        # Across a page the NMOS part reads 256 bytes too low: another port of the same part.
        ("6502", "LDX #$10\n LDA $80F8,X", [("read", 0x8008, 4)]),
        ("65c02", "LDX #$10\n LDA $80F8,X", []),
        # What is changed is written twice, or read twice.
        ("6502", "INC $8001", [("read", 0x8001, 4), ("write", 0x8001, 5), ("write", 0x8001, 6)]),
        ("65c02", "INC $8001", [("read", 0x8001, 4), ("read", 0x8001, 5), ("write", 0x8001, 6)]),
    ],
)
def test_accesses_that_nobody_wants_touch_a_part_all_the_same(
    timed: Callable[..., Timings], cpu: str, code: str, accesses: list[tuple[str, int, int]]
) -> None:
    watched = tuple(range(0x8000, 0x8010))
    sites = timed(f" .org $0300\nGO {code}\n RTS\n", cpu=cpu, watched=watched).sites()
    found = sorted((s.access.first, s.access.way, s.access.address) for s in sites)
    assert [(way, address, first) for first, way, address in found] == accesses


def test_a_unit_of_101_cycles_that_also_counts_a_word_in_memory_up(timed: Callable[..., Timings]) -> None:
    # LDX 2, 17 turns of 5 and one less, INC 5, BNE 3, SEC 2, SBC 2, BNE 3; where the low byte passes 0 BNE 2 and INC 5
    text = """\
        .org $0300
MAIN    LDA #10
        JSR UNITS
        RTS
UNITS   LDX #17
U1      DEX
        BNE U1
        INC $46
        BNE U2
        INC $47
U2      SEC
        SBC #1
        BNE UNITS
        RTS
"""
    (call,) = timed(text, cpu="6502").calls
    # Published as 100 a unit. What stands in memory is not known: none of the ten passes 0, or all as far as is known.
    assert call.total == Range(10 * 101 - 1 + 6, 10 * 105 - 1 + 6)


def test_28_calls_of_the_quadratic_wait_are_the_published_4648700_and_what_stands_around(
    routine: Routine,
) -> None:
    # 28 * (2 + 6 + 166012 + 2 + 3) = 4648700, with 2 for LDX, 1 less for the last branch, RTS 6
    text = QUADRATIC.format(1) + "LONG LDX #28\nL1 LDA #$FF\n JSR HOLD\n DEX\n BNE L1\n RTS\n"
    assert routine(text, "LONG", cpu="6502") == Exact(4_648_700 + 2 - 1 + 6)


def test_ten_milliseconds_that_are_closer_to_11_take_11419_and_not_the_published_10844(
    routine: Routine,
) -> None:
    # Published with 18 a turn and 14 around: a call of 14, DEY 2, and BNE taken is 3, not 2. NOP is the BNE passed by
    # in it. 12 * (2 + 6 + 49 * 19 - 1 + 2 + 6 + 2 + 3), with 2 for LDX, 1 less for the last branch, RTS 6.
    text = """\
        .org $0300
TENMS   LDX #12
        LDY #$31
        JSR DELAY
        DEX
        BNE TENMS+2
        RTS
DELAY   JSR SHORT
        DEY
        BNE DELAY
        NOP
        RTS
SHORT   NOP
        RTS
"""
    assert routine(text, "TENMS", cpu="6502") == Exact(2 + 12 * (8 + 49 * 19 - 1 + 8 + 5) - 1 + 6)
