from collections.abc import Callable

import pytest
from clockhop.timing import Exact, Formula, Range, Timings, Total, Unknown

Loop = Callable[..., tuple[Total, Total]]
Routine = Callable[..., Total]


@pytest.mark.parametrize(
    ("load", "step", "branch", "trips"),
    [
        ("LDA #0", "DECA", "BNE", 256),
        ("LDA #1", "DECA", "BNE", 1),
        ("LDA #200", "INCA", "BNE", 56),
        ("LDA #10", "DECA", "BPL", 11),
        ("LDA #$90", "DECA", "BMI", 17),
        ("LDA #10", "SUBA #3", "BCC", 4),
        ("LDA #10", "SUBA #3", "BHI", 4),
        ("LDA #250", "ADDA #2", "BCC", 3),
        ("LDA #9", "SUBA #3", "BNE", 3),
        ("LDA #5", "CMPA #8", "BEQ", 1),
        ("LDB #0", "ADDB #16", "BVC", 8),
        ("LDX #0", "LEAX 1,X", "BNE", 65_536),
        ("LDX #1000", "LEAX -8,X", "BNE", 125),
        ("LDD #500", "SUBD #1", "BNE", 500),
        ("LDD #100", "SUBD #7", "BGE", 15),
        ("LDY #0", "LEAY 3,Y", "BNE", 65_536),
    ],
)
def test_trips_of_a_counter(load: str, step: str, branch: str, trips: int, loop: Loop) -> None:
    assert loop(f"START {load}\nTURN {step}\n {branch} TURN\n RTS\n", "TURN")[0] == Exact(trips)


def test_counting_up_to_a_compared_end_runs_80_times(loop: Loop) -> None:
    text = "CLEAR LDX #$400\nTURN CLR ,X+\n CMPX #$450\n BNE TURN\n RTS\n"
    # CLR ,X+ 8, CMPX 4, BNE 3
    assert loop(text, "TURN") == (Exact(80), Exact(80 * 15))


def test_a_signed_compare_ends_a_loop_of_20_turns(loop: Loop) -> None:
    text = "COUNT LDA #-10\nTURN INCA\n CMPA #10\n BLT TURN\n RTS\n"
    assert loop(text, "TURN")[0] == Exact(20)


def test_a_memory_counter_of_100_turns(loop: Loop) -> None:
    text = " ORG $20\nLEFT RMB 1\n ORG $E000\nGO LDA #100\n STA LEFT\nTURN DEC LEFT\n BNE TURN\n RTS\n"
    # DEC direct 6, BNE 3
    assert loop(text, "TURN") == (Exact(100), Exact(900))


def test_a_counter_on_the_stack(loop: Loop) -> None:
    text = "GO LDA #7\n PSHS A\nTURN DEC ,S\n BNE TURN\n LEAS 1,S\n RTS\n"
    assert loop(text, "TURN") == (Exact(7), Exact(63))


def test_a_16_bit_counter_in_memory(loop: Loop) -> None:
    text = " ORG $200\nN RMB 2\n ORG $E000\nGO LDD #300\n STD N\nT LDX N\n LEAX -1,X\n STX N\n BNE T\n RTS\n"
    # LDX extended 6, LEAX 5, STX extended 6, BNE 3; STX sets Z as well
    assert loop(text, "T") == (Exact(300), Exact(300 * 20))


def test_an_inner_counter_that_is_not_reloaded_runs_256_times_from_the_second_turn_on(
    routine: Routine,
) -> None:
    # 5 + 256 + 256 turns of 5, 3 outer turns of 5, loads 4, return 5
    text = "GO LDA #3\n LDB #5\nIN DECB\n BNE IN\n DECA\n BNE IN\n RTS\n"
    assert routine(text, "GO") == Exact(517 * 5 + 3 * 5 + 4 + 5)


def test_two_loops_at_one_label_are_a_nest(routine: Routine, timed: Callable[..., Timings]) -> None:
    text = "GO LDD #$FF10\nL DECB\n BNE L\n DECA\n BNE L\n RTS\n"
    # 16 + 254 * 256 turns of 5, 255 outer turns of 5; load 3, return 5
    assert routine(text, "GO") == Exact(65040 * 5 + 255 * 5 + 3 + 5)
    outer, inner = timed(text).loops
    assert (outer.name, outer.trips) == ("L", Exact(255))
    assert (inner.name, inner.trips) == ("L", Range(16, 256))


def test_a_poll_that_begins_each_turn_leaves_the_count_of_512_exact(timed: Callable[..., Timings]) -> None:
    text = "PORT EQU $FFD9\nGO LDA #1\n STA PORT\n LDY #512\n"
    text += "L LDA PORT\n CMPA #$A0\n BNE L\n LEAY -1,Y\n BNE L\n RTS\n"
    outer, poll = timed(text).loops
    assert outer.trips == Exact(512)
    assert isinstance(outer.total, Unknown)
    assert isinstance(poll.trips, Unknown)


def test_a_port_compared_with_what_it_gave_before_is_a_poll(loop: Loop) -> None:
    text = (
        "PORT EQU $20\nGO LDA PORT\n CMPA #$FF\n BEQ GO\n PSHS A\nL LDA PORT\n CMPA ,S\n BEQ L\n PULS A,PC\n"
    )
    trips, _ = loop(text, "L")
    assert isinstance(trips, Unknown)
    assert trips.reason.startswith("loops until PORT ($0020) changes, which nothing in this program writes")


def test_an_inner_count_that_follows_the_outer_one_sums_to_392(routine: Routine, loop: Loop) -> None:
    text = "GO LDA #10\nOUT TFR A,B\nIN DECB\n BNE IN\n DECA\n BNE OUT\n RTS\n"
    # sum over A = 10 .. 1 of (6 + 5 A + 5), + 2 + 5
    assert routine(text, "GO") == Exact(10 * 11 + 5 * 55 + 7)
    assert loop(text, "IN") == (Range(1, 10), Range(5, 50))


def test_a_quadratic_delay_is_a_polynomial_in_the_callers_a(routine: Routine) -> None:
    text = "GO TFR A,B\nIN DECB\n BNE IN\n DECA\n BNE GO\n RTS\n"
    total = routine(text, "GO")
    # 5/2 A (A + 1) + 11 A + 5
    assert total == Formula("(5/2)*A^2 + (27/2)*A + 5", 21, 5 * 256 * 257 // 2 + 11 * 256 + 5, ("A",))


def test_entry_in_the_middle_runs_the_count_once_less(routine: Routine) -> None:
    text = "GO LDB #4\n BRA TEST\nTURN NOP\nTEST DECB\n BNE TURN\n RTS\n"
    # 2 + 3 + 4 * 5 + 3 * 2 + 5
    assert routine(text, "GO") == Exact(36)


def test_equal_arms_stay_exact_and_unequal_ones_make_a_range(loop: Loop) -> None:
    equal = "GO LDA #8\nT BITB #1\n BEQ ODD\n BRA ON\nODD BRN ON\nON DECA\n BNE T\n RTS\n"
    assert loop(equal, "T") == (Exact(8), Exact(8 * 13))
    unequal = "GO LDA #8\nT BITB #1\n BEQ ON\n NOP\n NOP\nON DECA\n BNE T\n RTS\n"
    assert loop(unequal, "T") == (Exact(8), Range(8 * 10, 8 * 14))


def test_a_nest_of_ten_to_the_twelfth_turns_is_exact(routine: Routine) -> None:
    text = """\
AGES    LDY     #10000
A       LDX     #10000
B       LDU     #10000
C       LEAU    -1,U
        CMPU    #0
        BNE     C
        LEAX    -1,X
        BNE     B
        LEAY    -1,Y
        BNE     A
        RTS
"""
    inner = 3 + 10_000 * 13 + 8
    assert routine(text, "AGES") == Exact(4 + 10_000 * (3 + 10_000 * inner + 8) + 5)


def test_a_called_routine_is_counted_at_its_call_sites(timed: Callable[..., Timings]) -> None:
    text = """\
RING    LDB     #3
BLOW    BSR     REST
        DECB
        BNE     BLOW
        RTS
REST    LDX     #100
R       LEAX    -1,X
        BNE     R
        RTS
"""
    found = {r.entry.name: r.total for r in timed(text).routines}
    # a turn: BSR 7, routine 3 + 800 + 5, DECB 2, BNE 3
    assert found["RING"] == Exact(2 + 3 * (7 + 808 + 5) + 5)


def test_a_patched_count_is_never_exact(routine: Routine) -> None:
    text = """\
TUNE    STA     PAUSE+1
        RTS
PAUSE   LDB     #50
P       DECB
        BNE     P
        RTS
"""
    total = routine(text, "PAUSE")
    assert not isinstance(total, Exact | Formula)


def test_a_poll_says_what_it_waits_for(loop: Loop) -> None:
    text = "STATUS EQU $8000\nREADY LDA STATUS\n BPL READY\n RTS\n"
    trips, total = loop(text, "READY", watched=(0x8000,))
    assert trips == Unknown(
        "loops until what is read at STATUS changes; state how often it runs in a timing note", 1
    )
    assert isinstance(total, Unknown)


def test_a_flag_that_an_interrupt_sets_is_not_a_loop_without_end(timed: Callable[..., Timings]) -> None:
    text = """\
        ORG     $20
TICKED  RMB     1
        ORG     $E000
AWAIT   CLR     TICKED
W       TST     TICKED
        BEQ     W
        RTS
TICK    INC     TICKED
        RTI
"""
    timings = timed(text, handlers=("TICK",))
    (found,) = timings.loops
    assert isinstance(found.total, Unknown)
    assert found.count.never == ""


def test_a_reload_inside_the_loop_never_ends(timed: Callable[..., Timings]) -> None:
    text = "GO NOP\nTURN LDA #10\n DECA\n BNE TURN\n RTS\n"
    (found,) = timed(text).loops
    assert found.count.never == "test"


def test_a_timing_note_bounds_a_poll(loop: Loop) -> None:
    text = "STATUS EQU $8000\nREADY LDA STATUS ; timing: runs 1 to 20 times\n BPL READY\n RTS\n"
    # LDA extended 5, BPL 3
    assert loop(text, "READY", watched=(0x8000,)) == (Range(1, 20), Range(8, 160))


def test_a_timing_note_bounds_what_the_caller_hands_over(routine: Routine) -> None:
    text = "PAUSE DECA ; timing: with A = 10\n BNE PAUSE\n RTS\n"
    # The note holds at the line itself each time it is reached, so it stands before the loop.
    text = "PAUSE NOP ; timing: with A = 10\nT DECA\n BNE T\n RTS\n"
    assert routine(text, "PAUSE") == Exact(2 + 50 + 5)


def test_an_undefined_count_is_unknown_and_not_0(routine: Routine) -> None:
    total = routine("GO LDX #MISSING\nT LEAX -1,X\n BNE T\n RTS\n", "GO")
    assert isinstance(total, Unknown)
    assert "MISSING has no known value" in total.reason


def test_ldmd_switches_to_native_counts_from_there_on(routine: Routine) -> None:
    text = " ORG $E000\nBOOT LDMD #1\n LDA #10\nT DECA\n BNE T\n RTS\n END BOOT\n"
    # LDMD 5, LDA 2, native DECA 1 and BNE 3, RTS 4
    assert routine(text, "BOOT", cpu="6309") == Exact(5 + 2 + 40 + 4)


def test_a_poll_that_gives_up_after_200_turns_ends_after_1_to_200(loop: Loop) -> None:
    text = """\
        ORG   $C000
ASK     LDX   #200
LOOP    LDA   $9000
        BMI   DONE
        LEAX  -1,X
        BNE   LOOP
DONE    RTS
"""
    # LDA 5 and BMI 3 in the shortest case; LEAX 5 and BNE 3 more in each of 200 turns in the longest.
    assert loop(text, "LOOP", watched=(0x9000,)) == (Range(1, 200), Range(8, 3200))


def test_data_that_a_pointer_stores_to_is_not_constant(routine: Routine) -> None:
    text = """\
        ORG     $2000
TIMES   FCB     5,6,7
        ORG     $E000
FILL    LDX     #TIMES
F       CLR     ,X+
        CMPX    #TIMES+3
        BNE     F
        RTS
PAUSE   LDA     TIMES+1
P       DECA
        BNE     P
        RTS
"""
    total = routine(text, "PAUSE")
    assert isinstance(total, Formula)
    assert total.text == "5*[$2001] + 10"


def test_data_that_nothing_stores_to_is_constant(routine: Routine) -> None:
    text = " ORG $E000\nTIMES FCB 5,6,7\nPAUSE LDA TIMES+1\nP DECA\n BNE P\n RTS\n"
    assert routine(text, "PAUSE") == Exact(5 + 6 * 5 + 5)


def test_a_pair_of_registers_counts_as_one(loop: Loop, routine: Routine) -> None:
    text = "GO LDD #50000\nT SUBD #1\n BNE T\n RTS\n"
    # SUBD immediate 4, BNE 3
    assert loop(text, "T") == (Exact(50_000), Exact(350_000))
    given = routine("GO SUBD #1\n BNE GO\n RTS\n", "GO")
    assert given == Formula("7*D + 5", 12, 7 * 65_536 + 5, ("D",))


def test_a_word_in_memory_counts_as_one(loop: Loop) -> None:
    text = (
        " ORG $200\nN RMB 2\n ORG $E000\nGO LDD #30000\n STD N\nT LDX N\n LEAX -1,X\n STX N\n BNE T\n RTS\n"
    )
    assert loop(text, "T") == (Exact(30_000), Exact(30_000 * 20))


def test_a_port_that_was_written_before_is_still_polled_and_not_passed_at_once(loop: Loop) -> None:
    text = "CTRL EQU $A000\nGO LDA #0\n STA CTRL\nW LDA CTRL\n BITA #4\n BNE W\n RTS\n"
    trips, _ = loop(text, "W")
    assert isinstance(trips, Unknown)
    assert trips.reason.startswith("loops until CTRL changes")


def test_a_loop_that_two_routines_share_has_the_range_of_both(loop: Loop) -> None:
    text = (
        "GO BSR HALF\n BSR FULL\nS BRA S\nHALF LDX #566\n BRA T\nFULL LDX #1132\nT LEAX -1,X\n BNE T\n RTS\n"
    )
    assert loop(text, "T") == (Range(566, 1132), Range(566 * 8, 1132 * 8))


def test_a_sum_in_a_formula_stands_in_brackets(routine: Routine) -> None:
    text = " ORG $20\nN RMB 1\n ORG $E000\nSET STB N\n RTS\nGO LDB N\n LDA #1\nT SUBD #1\n BNE T\n RTS\n"
    total = routine(text, "GO")
    # LDB direct 4, LDA 2, a turn 7, RTS 5
    assert isinstance(total, Formula)
    assert total.text == "7*(N + 256) + 11"


def test_a_line_that_was_not_understood_makes_its_loop_unknown(loop: Loop) -> None:
    text = "GO LDX #5\nT LEAX -1,X\n FOO 3\n BNE T\n RTS\n"
    trips, total = loop(text, "T", opaque=(3,))
    assert isinstance(trips, Unknown)
    assert isinstance(total, Unknown)
    assert "line 3 was not understood" in total.reason


def test_a_text_that_a_call_hands_over_is_followed_to_its_end(timed: Callable[..., Timings]) -> None:
    text = "GO LDX #MSG\n BSR P\nS BRA S\nP LDA ,X+\n BEQ PX\n BRA P\nPX RTS\nMSG FCC 'BELL'\n FCB 0\n"
    (call,) = timed(text).calls
    # four bytes of 6 + 3 + 3, the last of 6 + 3, RTS 5
    assert call.total == Exact(4 * 12 + 9 + 5)


def test_a_register_written_by_one_name_and_read_by_another_holds_what_it_likes(loop: Loop) -> None:
    text = "DDR EQU $8000\nDATA EQU $8000\nGO CLR DDR\n LDA DATA\n LDB #$FF\nL INCB\n LSRA\n BCS L\n RTS\n"
    trips, _ = loop(text, "L")
    assert isinstance(trips, Unknown)


def test_what_one_loop_waits_for_is_not_what_the_program_stored_there(loop: Loop) -> None:
    text = (
        "PORT EQU $8000\nGO CLR PORT\nW TST PORT\n BEQ W\n LDA PORT\n LDB #$FF\nL INCB\n LSRA\n BCS L\n RTS\n"
    )
    trips, _ = loop(text, "L")
    assert isinstance(trips, Unknown)
    assert isinstance(loop(text.replace("W TST PORT\n BEQ W\n", ""), "L")[0], Exact)


def test_a_way_that_runs_into_data_may_come_back_with_anything(routine: Routine) -> None:
    text = "GO LDA $1000\n BSR TELL\n BCS BAD\n RTS\nBAD BRA BAD\n"
    text += "TELL CMPA #65\n BCS X\n SUBA #91\n FCB $80,$A5\nX RTS\n"
    total = routine(text, "GO")
    assert isinstance(total, Unknown)
    assert total.reason.startswith("line 8 runs on into data")


def test_a_call_of_a_line_that_was_not_understood_is_unknown(routine: Routine) -> None:
    text = "GO LDY #100\n BSR WAIT\n RTS\nWAIT FOO 1\nW BNE W\n RTS\n"
    total = routine(text, "GO", opaque=(4,))
    assert isinstance(total, Unknown)
    assert total.reason.startswith("line 2 calls to line 4, which was not understood")


def test_a_label_between_two_lines_that_were_not_understood_leads_over_the_second(routine: Routine) -> None:
    text = "GO BSR WAIT\n RTS\n FOO 1\nWAIT\n FOO 2\nW BNE W\n RTS\n"
    total = routine(text, "GO", opaque=(3, 5))
    assert isinstance(total, Unknown)
    assert total.reason.startswith("line 1 calls to line 5, which was not understood")


def test_a_loop_without_end_in_one_routine_ends_in_another_that_shares_it(
    timed: Callable[..., Timings],
) -> None:
    text = "GO LDB #1\n BRA L\nON LDB #2\nL SUBB #2\n BNE L\n RTS\n"
    (loop,) = timed(text).loops
    assert loop.count.never == ""


def test_a_loop_that_the_text_runs_into_as_well_is_known_only_where_both_are(loop: Loop) -> None:
    text = (
        "GO BSR F\n LDA #13\n STA S\nF LDX #S\n LDA #13\nK CMPA ,X+\n BNE K\n RTS\nS FCC 'RATHER'\n FCB 13\n"
    )
    trips, _ = loop(text, "K")
    assert isinstance(trips, Unknown)


def test_a_vector_to_the_reset_entry_is_no_handler_that_writes_a_counter(loop):
    # DEC zero page 5, BNE 3 taken and 2 not: 20 x 8 - 1.
    text = "        .org $8000\nRESET   LDA #20\n        STA $10\nTICKS   DEC $10\n        BNE TICKS\n"
    text += "STOP    JMP STOP\n        .org $FFFA\n        .word RESET, RESET, {}\n"
    assert loop(text.format("RESET"), "TICKS", cpu="6502") == (Exact(20), Exact(159))
    assert isinstance(loop(text.format("TICKS"), "TICKS", cpu="6502")[0], Unknown)
