"""Delay routines for the Z80, the 8080 and the 8085, with T-states worked out by hand or published.

The instruction sequences are those of public sources; the figures come with each. Texts and names are our own.
"""

from collections.abc import Callable

import pytest
from clockhop.address import port
from clockhop.timing import Exact, Formula, Query, Range, Timings, Total, Unknown

Routine = Callable[..., Total]


def with_call(timings: Timings, name: str) -> Total:
    (found,) = [r for r in timings.routines if r.entry.name == name]
    return found.with_call


def between(timings: Timings, number: int) -> list[tuple[int, int | None]]:
    """Fewest and most T-states between accesses of a port, in the order of the source."""
    here = port(number)
    query = Query(lambda s: s.access.address == here, lambda s: s.access.address == here, lambda _: False)
    return [(gap.fewest, gap.most) for gap in timings.gaps(query)]


def test_an_edge_of_a_tape_takes_463_not_the_published_465(routine: Routine) -> None:
    # The published sum is 2 too many: 358 for the loop, 54 to the port's edge, 51 to the return.
    text = """\
EDGE:   LD A,22
TURN:   DEC A
        JR NZ,TURN
        AND A
        INC B
        JR Z,LATE
        RET
LATE:   RET
"""
    # 7 + 22*4 + 21*12 + 7 + 4 + 4 = 362 up to the test, then 7 + 10 or 12 + 10
    assert routine(text, "EDGE", cpu="z80") == Range(362 + 17, 362 + 22)


def test_returns_on_a_condition_cost_5_and_11(routine: Routine) -> None:
    text = "PAST: XOR A\n RET NZ\n OR 1\n RET Z\n RET NZ\n"
    assert routine(text, "PAST", cpu="z80") == Exact(4 + 5 + 7 + 5 + 11)


def test_calls_on_a_condition_cost_10_and_17_and_what_is_called(routine: Routine) -> None:
    text = "GO: XOR A\n CALL NZ,NEVER\n CALL Z,ONCE\n RET\nNEVER: LD B,200\nLONG: DJNZ LONG\n RET\nONCE: NOP\n RET\n"
    assert routine(text, "GO", cpu="z80") == Exact(4 + 10 + 17 + 4 + 10 + 10)


@pytest.mark.parametrize(("turns", "published"), [(164, 2168), (55, 735)])
def test_pulses_of_a_tape_leader_and_its_sync(
    timed: Callable[..., Timings], turns: int, published: int
) -> None:
    lead = "XOR 15\n LD B,164\n DEC L\n JR NZ,TURN\n NOP" if turns == 164 else "LD A,13\n LD B,55"
    text = f"PULSE: LD L,9\n OUT (254),A\n {lead}\nTURN: DJNZ TURN\n OUT (254),A\n RET\n"
    assert between(timed(text, cpu="z80", watched=(port(254),)), 254) == [(published, published)]


def test_the_longer_path_of_the_leader_is_paid_for_by_one_turn_less(timed: Callable[..., Timings]) -> None:
    text = """\
PULSE:  LD HL,0101H
        OUT (254),A
        XOR 15
        LD B,164
        DEC L
        JR NZ,TURN
        DEC B
        DEC H
        JP P,TURN
TURN:   DJNZ TURN
        OUT (254),A
        RET
"""
    assert between(timed(text, cpu="z80", watched=(port(254),)), 254) == [(2168, 2168)]


def test_half_a_0_bit_on_tape_is_855(timed: Callable[..., Timings]) -> None:
    text = """\
HALF:   LD A,1
        OR A
        OUT (254),A
        LD B,62
        JR NZ,ON
        NOP
ON:     LD A,C
        BIT 7,B
TURN:   DJNZ TURN
        JR NC,OVER
        NOP
OVER:   OUT (254),A
        RET
"""
    # Both branches are known to be taken: OR A leaves no carry and A is not zero.
    assert between(timed(text, cpu="z80", watched=(port(254),)), 254) == [(855, 855)]


def test_nests_whose_first_pass_is_shorter(routine: Routine) -> None:
    # Published 3600002 takes 256*C + B inner turns; the first pass has only B, so there are 40174.
    text = """\
LONG:   LD BC,0EE9DH
TURN:   EX (SP),HL
        EX (SP),HL
        EX (SP),HL
        EX (SP),HL
        DJNZ TURN
        DEC C
        JR NZ,TURN
        RET
"""
    assert routine(text, "LONG", cpu="z80") == Exact(3_577_218 + 10)


def test_14_t_states_a_turn_and_256_where_b_starts_at_0(routine: Routine) -> None:
    text = "WAIT: LD B,0\nTURN: DEC B\n JP NZ,TURN\n RET\n"
    assert routine(text, "WAIT", cpu="z80") == Exact(7 + 256 * 14 + 10)


def test_a_djnz_to_itself_16_times_with_its_load(routine: Routine) -> None:
    # Published 16 * 13 + 8 = 216 counts a last turn of 13 and a load of 8: 7 + 15 * 13 + 8 is 210.
    assert routine("ITSELF: LD B,16\nTURN: DJNZ TURN\n RET\n", "ITSELF", cpu="z80") == Exact(210 + 10)


def test_16_us_and_3_at_8_mhz_from_a_count_in_memory(timed: Callable[..., Timings]) -> None:
    # Published 131 with 6 in the cell, the call of 17 included.
    text = """\
MAIN:   LD A,6
        LD (SCALE),A
        CALL DELAY
STOP:   JR STOP
DELAY:  LD A,(SCALE)
TURN:   DEC A
        JR NZ,TURN
        RET
SCALE   EQU 8000H
"""
    # 17 + 13 + 6*4 + 5*12 + 7 + 10
    timings = timed(text, cpu="z80")
    assert with_call(timings, "DELAY") == Formula("16*SCALE + 35", 51, 4131, ("SCALE",))
    assert [call.total for call in timings.calls] == [Exact(131 - 17)]


def test_a_push_and_a_pop_around_a_count_take_144(routine: Routine) -> None:
    text = "SHORT: PUSH AF\n LD A,7\nTURN: DEC A\n JP NZ,TURN\n NOP\n NOP\n POP AF\n RET\n"
    # 11 + 7 + 7*14 + 8 + 10 + 10 = 144; the call is not counted
    assert routine(text, "SHORT", cpu="z80") == Exact(144)


def test_256_turns_of_djnz_inside_a_count_in_a(routine: Routine) -> None:
    text = "LONG: LD A,40\nOUTER: LD B,0\nINNER: DJNZ INNER\n DEC A\n JR NZ,OUTER\n RET\n"
    # 7 + 40*(7 + 3323 + 4) + 39*12 + 7 + 10
    assert routine(text, "LONG", cpu="z80") == Exact(133_852)


def test_an_output_and_a_djnz_that_waits_for_the_video(timed: Callable[..., Timings]) -> None:
    text = "PUT: LD C,190\n LD B,6\n OUT (C),A\nTURN: DJNZ TURN\n OUT (C),A\n RET\n"
    assert between(timed(text, cpu="z80", watched=(port(190),)), 190) == [(12 + 5 * 13 + 8, 85)]


def test_39_t_states_a_byte_when_a_table_goes_to_a_port(timed: Callable[..., Timings]) -> None:
    text = """\
PUT:    LD C,190
        LD E,8
        LD HL,TABLE
TURN:   LD A,(HL)
        OUT (C),A
        INC HL
        DEC E
        JP NZ,TURN
        RET
TABLE:  DB 1,2,3,4,5,6,7,8
"""
    assert between(timed(text, cpu="z80", watched=(port(190),)), 190) == [(39, 39)]


@pytest.mark.parametrize(
    ("text", "total"),
    [
        ("LD HL,8000H\n LD DE,9000H\n LD BC,100\n LDIR", 30 + 100 * 21 - 5),
        ("LD HL,8063H\n LD DE,9063H\n LD BC,100\n LDDR", 30 + 100 * 21 - 5),
        ("LD BC,0\n LD DE,0\n LD HL,0\n LDIR", 30 + 65536 * 21 - 5),
        ("LD HL,8000H\n LD BC,0519H\n OTIR", 20 + 5 * 21 - 5),
        ("LD HL,8000H\n LD BC,0019H\n INIR", 20 + 256 * 21 - 5),
    ],
)
def test_block_instructions_are_loops_in_one_instruction(routine: Routine, text: str, total: int) -> None:
    assert routine(f"BLOCK: {text}\n RET\n", "BLOCK", cpu="z80") == Exact(total + 10)


def test_a_block_search_ends_where_it_finds_or_where_the_count_ends(routine: Routine) -> None:
    text = "SEEK: LD HL,8000H\n LD BC,100\n LD A,13\n CPIR\n RET\n"
    assert routine(text, "SEEK", cpu="z80") == Range(27 + 16 + 10, 27 + 100 * 21 - 5 + 10)


@pytest.mark.parametrize(
    ("cpu", "count", "published"),
    [("8085", 255, 3584), ("8085", 0, 7 + 14 * 256 - 3 + 10), ("8080", 255, 3842)],
)
def test_a_count_in_c_on_8085_and_8080(routine: Routine, cpu: str, count: int, published: int) -> None:
    # 8085: 7 + 14*255 - 3 + 10; the page prints 1.18 ms at 3 MHz for what is 1.1947. 8080: 7 + 15*255 + 10.
    assert routine(f"WAIT: MVI C,{count}\nTURN: DCR C\n JNZ TURN\n RET\n", "WAIT", cpu=cpu) == Exact(
        published
    )


@pytest.mark.parametrize(
    ("cpu", "total"), [("8085", 1_572_857), ("8080", 10 + 24 * 65535 + 10), ("z80", 1_572_860)]
)
def test_a_pair_counted_down_and_tested_by_or(routine: Routine, cpu: str, total: int) -> None:
    # 8085: 10 + 24*65535 - 3 + 10; 8080: 5 + 5 + 4 + 10 a turn; Z80: 6 + 4 + 4 + 10, JP costs 10 both ways.
    turn = "DEC BC\n LD A,B\n OR C\n JP NZ,TURN" if cpu == "z80" else "DCX B\n MOV A,B\n ORA C\n JNZ TURN"
    load = "LD BC" if cpu == "z80" else "LXI B"
    assert routine(f"WAIT: {load},0FFFFH\nTURN: {turn}\n RET\n", "WAIT", cpu=cpu) == Exact(total)


def test_410_ms_that_were_meant_to_be_a_second(routine: Routine) -> None:
    # The count of the source is a digit off; its loop takes 24 a turn: 10 + 42C2H * 24 - 3 + 10.
    text = "SECOND: LXI H,42C2H\nTURN: DCX H\n MOV A,H\n ORA L\n JNZ TURN\n RET\n"
    assert routine(text, "SECOND", cpu="8085") == Exact(10 + 17090 * 24 - 3 + 10)


def test_a_millisecond_with_140_turns_of_14_and_what_stands_around(routine: Routine) -> None:
    # Published as T = 31 + 14 * count for the turn of the outer loop; the loop itself is 1971 with its load.
    assert routine("WAIT: MVI C,8CH\nTURN: DCR C\n JNZ TURN\n RET\n", "WAIT", cpu="8085") == Exact(
        7 + 1960 - 3 + 10
    )


def test_a_label_on_the_load_makes_the_loop_endless(timed: Callable[..., Timings]) -> None:
    timings = timed("WAIT: MVI B,35H\n DCR B\n JNZ WAIT\n RET\n", cpu="8085")
    (found,) = timings.routines
    assert isinstance(found.total, Unknown)
    assert "goes round for ever" in found.total.reason


def test_3574_t_states_and_the_count_71(routine: Routine) -> None:
    text = "WAIT: MVI B,{}\nTURN: DCR B\n JNZ TURN\n RET\n"
    assert routine(text.format(255), "WAIT", cpu="8085") == Exact(3574 + 10)
    # 14N + 9 = 1003 with HLT at 5 in place of RET at 10
    assert routine(text.format(71), "WAIT", cpu="8085") == Exact(1003 - 5 + 10)


def test_a_turn_of_the_loop_that_measures_the_baud_rate_is_84(timed: Callable[..., Timings]) -> None:
    text = "TURN: INX H\n MVI E,4\nINNER: DCR E\n JNZ INNER\n RIM\n ORA A\n JP TURN\n RET\n"
    timings = timed(text, cpu="8085")
    (inner,) = [loop for loop in timings.loops if loop.name == "INNER"]
    assert inner.total == Exact(14 * 4 - 3)
    # a turn: 6 + 7 + 53 + 4 + 4 + 10; the last one 3 less, and the return
    (found,) = timings.routines
    assert isinstance(found.total, Unknown)
    assert found.total.fewest == 84 - 3 + 10


@pytest.mark.parametrize(("cpu", "total"), [("8080", 32_529), ("z80", 30_369)])
def test_the_same_bytes_on_8080_and_z80(routine: Routine, cpu: str, total: int) -> None:
    intel = "HALF: MVI A,16\nOUTER: MVI C,134\nINNER: DCR C\n JNZ INNER\n DCR A\n JNZ OUTER\n RET\n"
    zilog = "HALF: LD A,16\nOUTER: LD C,134\nINNER: DEC C\n JP NZ,INNER\n DEC A\n JP NZ,OUTER\n RET\n"
    assert routine(intel if cpu == "8080" else zilog, "HALF", cpu=cpu) == Exact(total)


def test_a_bit_from_two_counts_packed_in_a_pair_is_315(routine: Routine) -> None:
    # 0112H: H is 1, L is 18; each bit 83 + 14 * (counts) less the shorter last turns of JNZ, see AP-29.
    text = "BIT: LXI H,0112H\nLOW: DCR L\n JNZ LOW\nHIGH1: DCR H\n JNZ HIGH1\n RET\n"
    assert routine(text, "BIT", cpu="8085") == Exact(10 + 14 * 18 - 3 + 14 - 3 + 10)


def test_a_count_in_de_that_the_caller_hands_over(timed: Callable[..., Timings]) -> None:
    text = """\
MAIN:   LD DE,6250
        CALL LONG
STOP:   JR STOP
LONG:   CALL UNIT
        DEC DE
        LD A,D
        OR E
        JP NZ,LONG
        RET
UNIT:   LD A,6
TURN:   DEC A
        JR NZ,TURN
        NOP
        RET
"""
    # UNIT with its call: 17 + 7 + 6*4 + 5*12 + 7 + 4 + 10 = 129; a turn: 129 + 6 + 4 + 4 + 10
    assert [call.total for call in timed(text, cpu="z80").calls] == [Exact(6250 * 153 + 10)]


def test_one_wait_for_each_opcode_fetch_lengthens_a_djnz_to_14_and_9(routine: Routine) -> None:
    assert routine("WAIT: LD B,10\nTURN: DJNZ TURN\n RET\n", "WAIT", cpu="z80-m1wait") == Exact(
        8 + 9 * 14 + 9 + 11
    )


def test_parity_is_what_the_count_leaves_in_it(routine: Routine) -> None:
    # The count of 24 a turn ends on 0, whose parity is even: what waits for odd is passed by.
    text = "W: LXI D,100\nT: DCX D\n MOV A,D\n ORA E\n JNZ T\n JPO W\n RET\n"
    # 10, 100 turns of 24 and 3 less, JPO 7, RET 10
    assert routine(text, "W", cpu="8085") == Exact(10 + 2400 - 3 + 7 + 10)
