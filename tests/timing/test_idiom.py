"""Delay routines as people write them, with cycles worked out by hand from the maker's table or published.

The instruction sequences are those of public sources; the figures come with each. Texts and names are our own.
"""

from collections.abc import Callable

import pytest
from clockhop.timing import Exact, Formula, Timings, Total, Unknown

Routine = Callable[..., Total]


def test_a_16_bit_countdown_of_25000_takes_200008_cycles(routine: Routine) -> None:
    # 3 + 25000 * (5 + 3) + 5
    text = "DWELL LDX #25000\nTURN LEAX -1,X\n BNE TURN\n RTS\n"
    assert routine(text, "DWELL") == Exact(200_008)


def test_a_nest_in_a_saved_frame_takes_982_cycles_a_unit(timed: Callable[..., Timings]) -> None:
    # Published as 1 ms a unit at 1 MHz: 1006 cycles with the 8 of the call for one unit.
    text = """\
MAIN    LDA     #1
        JSR     PAUSE
        LDA     #100
        JSR     PAUSE
STOP    BRA     STOP
PAUSE   PSHS    B,CC
OUTER   LDB     #195
INNER   DECB
        BNE     INNER
        DECA
        BNE     OUTER
        PULS    B,CC,PC
"""
    timings = timed(text)
    (pause,) = [r for r in timings.routines if r.entry.name == "PAUSE"]
    assert pause.total == Formula("982*A + 16", 998, 251_408, ("A",))
    assert pause.with_call == Formula("982*A + 24", 1006, 251_416, ("A",))
    assert [call.total for call in timings.calls] == [Exact(998), Exact(98_216)]


def test_one_millisecond_in_a_saved_frame_takes_1003_with_the_call(timed: Callable[..., Timings]) -> None:
    # JSR 8, PSHS X 7, LDX 3, 122 * 8, PULS X,PC 9
    text = "MAIN JSR MS\nSTOP BRA STOP\nMS PSHS X\n LDX #122\nMSL LEAX -1,X\n BNE MSL\n PULS X,PC\n"
    (found,) = [r for r in timed(text).routines if r.entry.name == "MS"]
    assert found.with_call == Exact(1003)


def test_two_entries_share_a_loop_at_half_and_whole_bit_time(timed: Callable[..., Timings]) -> None:
    # Published for 110 baud at 1 MHz: 4546 and 9071 cycles with the BSR of 7.
    text = """\
MAIN    BSR     HALF
        BSR     BIT
STOP    BRA     STOP
HALF    LDX     #$236
        BRA     COUNT
BIT     LDX     #$46C
COUNT   LEAX    -1,X
        BNE     COUNT
        RTS
"""
    found = {r.entry.name: r.with_call for r in timed(text).routines}
    assert found["HALF"] == Exact(4546)
    assert found["BIT"] == Exact(9071)


def test_leau_leaves_zero_alone_so_a_compare_follows_and_0_means_65536(routine: Routine) -> None:
    # 3 + 65536 * (5 + 5 + 3) + 5 = 851976
    text = "SECOND LDU #0\nEACH LEAU -1,U\n CMPU #0\n BNE EACH\n RTS\n"
    assert routine(text, "SECOND") == Exact(851_976)


def test_a_count_in_memory_that_other_code_sets_is_not_exact(routine: Routine) -> None:
    text = """\
        ORG     $4000
UNIT    RMB     1
        ORG     $E000
SET     LDA     #200
        STA     UNIT
        RTS
PAUSE   LDA     UNIT
LOW     DECA
        BNE     LOW
        LEAX    -1,X
        BNE     PAUSE
        RTS
"""
    total = routine(text, "PAUSE")
    assert isinstance(total, Formula)
    assert total.inputs == ("UNIT", "X")
    # 5 for the load, 5 a turn, 8 for the rest of a unit; 256 turns for 0 give 1293 a unit.
    assert total.text == "5*UNIT*X + 13*X + 5"
    assert total.most == 65536 * 1293 + 5


def test_an_exchange_and_an_auto_decrement_count_milliseconds_of_1001(timed: Callable[..., Timings]) -> None:
    # PSHS of 4 bytes 9, EXG 8, each unit 2 + 198 * 5 + 6 + 3 = 1001, PULS of 6 bytes 11
    text = """\
MAIN    LDD     #1000
        JSR     PAUSE
STOP    BRA     STOP
PAUSE   PSHS    A,B,X
        EXG     D,X
UNIT    LDA     #198
LOW     DECA
        BNE     LOW
        LEAX    ,-X
        BNE     UNIT
        PULS    A,B,X,PC
"""
    (call,) = timed(text).calls
    assert call.total == Exact(9 + 8 + 1000 * 1001 + 11)


def test_an_in_line_wait_of_36_turns_takes_182_cycles(routine: Routine) -> None:
    text = "GAP LDA #36\nTURN DECA\n BNE TURN\n LDA $2000\n RTS\n"
    assert routine(text, "GAP") == Exact(182 + 5 + 5)


def test_pads_behind_a_countdown_make_35557_cycles(routine: Routine) -> None:
    # 3 + 4441 * 8 + 3 NOP + BRN 3 + PULS of 12 bytes 17; the comment in the source said 39999.
    text = """\
STEP    LDX     #4441
SPIN    LEAX    -1,X
        BNE     SPIN
        NOP
        NOP
        NOP
        BRN     STEP
        PULS    X,Y,U,A,B,DP,CC,PC
"""
    assert routine(text, "STEP") == Exact(35_557)


def test_a_chain_of_calls_that_fall_into_each_other_takes_54_cycles(timed: Callable[..., Timings]) -> None:
    # BSR 7, LBSR 9 and LBSR 9 with three returns of 5, and the last pass: published as 54 with the BSR.
    text = """\
MAIN    BSR     WASTE2
STOP    BRA     STOP
WASTE2  LBSR    WASTE3
WASTE3  LBSR    WASTE4
WASTE4  RTS
"""
    (found,) = [r for r in timed(text).routines if r.entry.name == "WASTE2"]
    # 9 + (9 + 5 + 5) + (9 + 5 + 5) with the BSR of 7
    assert found.with_call == Exact(54)


def test_a_countdown_of_8750_takes_70003_with_its_load(routine: Routine) -> None:
    text = "SPINUP LDX #8750\nROUND LEAX -$01,X\n BNE ROUND\n RTS\n"
    assert routine(text, "SPINUP") == Exact(70_003 + 5)


def test_comments_that_look_like_operands_do_not_change_573440_cycles(loop: Callable[..., object]) -> None:
    text = """\
THIRD   LDX     #40960
EACH    NOP     2  cycles
        NOP     2  cycles
        NOP     2  cycles
        LEAX    -1,X  5 cycles
        BNE     EACH  3 cycles
        RTS
"""
    assert loop(text, "EACH") == (Exact(40_960), Exact(573_440))


def test_a_saved_count_takes_168_cycles_on_the_6809_and_136_native(timed: Callable[..., Timings]) -> None:
    text = """\
MAIN    BSR     SHORT
STOP    BRA     STOP
SHORT   PSHS    A
        LDA     #29
FEW     DECA
        BNE     FEW
        PULS    A,PC
"""
    # 7 + 6 + 2 + 29 * 5 + 8; native 6 + 5 + 2 + 29 * 4 + 7
    (plain,) = [r for r in timed(text).routines if r.entry.name == "SHORT"]
    (native,) = [r for r in timed(text, cpu="6309-native").routines if r.entry.name == "SHORT"]
    assert (plain.with_call, native.with_call) == (Exact(168), Exact(136))


def test_120_turns_take_963_with_the_load(routine: Routine) -> None:
    text = "DEBOUNCE LDX #120\nWAIT LEAX -1,X\n BNE WAIT\n RTS\n"
    assert routine(text, "DEBOUNCE") == Exact(963 + 5)


def test_four_published_delays_of_30_25_20_and_12_cycles(routine: Routine) -> None:
    # Published as 30, 25 and 20 cycles with the return, the branch goes to the count.
    text = """\
D3      LDB     #3
        BRA     LOW
D2      LDB     #2
        BRA     LOW
D1      LDB     #1
        BRA     LOW
D0      LDB     #0
LOW     DECB
        BPL     LOW
        RTS
"""
    assert [routine(text, f"D{n}") for n in (3, 2, 1, 0)] == [Exact(30), Exact(25), Exact(20), Exact(12)]


def test_a_published_unit_of_1_wraps_round_to_65536_turns(timed: Callable[..., Timings]) -> None:
    # Published for 1 to 256 ms; the sequence with a unit of 1 multiplies 0 and then counts 65536 turns of 20.
    text = """\
MAIN    LDA     #1
        JSR     UNITS
STOP    BRA     STOP
UNITS   PSHS    A,B,X
        LDB     #50
        DECA
        MUL
        TFR     D,X
        JSR     TURNS
        LDX     #46
        JSR     TURNS
        PULS    A,B,X
        RTS
TURNS   BRA     T1
T1      BRA     T2
T2      BRA     T3
T3      BRA     T4
T4      LEAX    -1,X
        BNE     TURNS
        RTS
"""
    (call,) = [c for c in timed(text).calls if c.name == "UNITS"]
    assert call.total == Exact(1_311_721 - 8)


@pytest.mark.parametrize(
    ("cpu", "text", "least"),
    [
        # LEAS 5, RTS 5; PHA 3 twice, RTS 6; PUSH 11, RET 10.
        ("6809", "MAIN    JSR   BACK\n        RTS\nBACK    LEAS  2,S\n        RTS\n", 10),
        ("6502", "MAIN    JSR   BACK\n        RTS\nBACK    PHA\n        PHA\n        RTS\n", 12),
        ("z80", "MAIN    CALL  BACK\n        RET\nBACK    PUSH  HL\n        RET\n", 21),
    ],
)
def test_a_return_to_what_the_routine_put_on_the_stack_has_no_known_end(routine, cpu, text, least):
    total = routine(text, "BACK", cpu=cpu)
    line = text.count("\n")
    assert total == Unknown(f"line {line} returns to what was put on the stack, not to its caller", least)


def test_a_routine_that_takes_its_return_address_off_and_puts_it_back_is_counted(routine):
    # POP 10 twice, PUSH 11, RET 10.
    text = (
        "MAIN    CALL  ARGS\n        RET\nARGS    POP   HL\n        POP   DE\n        PUSH  HL\n        RET\n"
    )
    assert routine(text, "ARGS", cpu="z80") == Exact(41)


@pytest.mark.parametrize("store", ["LDX   #WAIT+1\n        STB   ,X", "LDX   #WAIT\n        STB   1,X"])
def test_a_count_that_is_stored_into_the_instruction_is_not_the_one_in_the_text(loop, store):
    text = f"""\
        ORG   $C000
START   LDB   $9000
        {store}
WAIT    LDB   #10
SPIN    DECB
        BNE   SPIN
        RTS
"""
    line = text.count("\n", 0, text.index("STB")) + 1
    trips, _ = loop(text, "SPIN")
    assert trips == Unknown(
        f"line {line} writes into this instruction; state how often it runs in a timing note", 1
    )
