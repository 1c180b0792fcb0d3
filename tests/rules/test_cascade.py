"""Dividers one behind the other: the output of one channel is the clock of the next."""

import pytest
from clockhop.errors import ClockhopError
from clockhop.rules import rate_off, timer_changes
from clockhop.rules.base import Holds, Open

TWO_COUNTERS = """\
        ORG $C000
GO      LDA #$36
        STA $8003
        LDA #2000&255
        STA $8000
        LDA #2000>>8
        STA $8000
        LDA #$76
        STA $8003
        LDA #1000&255
        STA $8001
        LDA #1000>>8
        STA $8001
HERE    BRA HERE
"""
TICK = "written_for: 2 MHz\nparts: {{tick: {{family: 8254, grade: 8254-2, at: $8000, inputs: {{{}}}}}}}\n"
CASCADED = "clock 0: {}, clock 1: {{part: tick, output: counter 0}}"


def test_2000_and_1000_of_two_counters_are_a_second_at_2_mhz_and_the_first_is_changed(judge):
    (found,) = judge(timer_changes, TWO_COUNTERS, "4 MHz", board=TICK.format(CASCADED.format("bus")))
    assert found.message == (
        "tick counter 1: 1000 behind 2000 of tick counter 0 makes 1 s at 2 MHz and 0.5 s at 4 MHz; "
        "4000 of tick counter 0 keeps it"
    )
    assert found.measured.seconds * 2 == 1
    assert [(each.index, each.byte) for each in found.goal.constants] == [(2, 4000 & 255), (4, 4000 >> 8)]
    assert "tick counter 1: N periods of clock 1: from memory" in found.notes
    assert "tick counter 0: low 0 is written at tower.asm:5" in found.notes


def test_a_chain_from_a_clock_of_its_own_stays_and_its_first_counter_alone_is_not_judged(judge):
    # 8 MHz / 12 / 2000 / 1000, exactly three seconds.
    board = "oscillators: {dots: 8 MHz}\n" + TICK.format(CASCADED.format("dots / 12"))
    (found,) = judge(timer_changes, TWO_COUNTERS, "4 MHz", board=board)
    assert isinstance(found, Holds)
    assert found.measured.seconds == 3


def test_where_the_first_counter_is_not_known_that_is_said(judge):
    (found,) = judge(
        timer_changes,
        TWO_COUNTERS.replace("LDA #2000>>8", "LDA $9000"),
        "4 MHz",
        board=TICK.format(CASCADED.format("bus")),
    )
    assert isinstance(found, Open)
    assert found.reason == "tick counter 0 makes its clock: the number written is not known"


PULSES = """\
        ORG $C000
GO      LDA #$E0
        STA $900B
        LDA #4998&255
        STA $9004
        LDA #4998>>8
        STA $9005
        LDA #99
        STA $9008
        LDA #0
        STA $9009
HERE    BRA HERE
"""


def test_timer_2_counts_the_wave_of_timer_1_on_pb7(judge):
    board = (
        "written_for: 1 MHz\nparts: {via: {family: 6522, grade: W65C22, at: $9000, "
        "inputs: {PB6: {part: via, output: PB7}}}}\n"
    )
    (found,) = judge(timer_changes, PULSES, "2 MHz", board=board)
    # 2 * 5000 cycles a wave, 100 waves.
    assert found.message == (
        "via timer 2 counting: 99 behind 4998 of via timer 1 wave makes 1 s at 1 MHz and 0.5 s at 2 MHz; "
        "9998 of via timer 1 wave keeps it"
    )
    # At 16 MHz timer 1 would need 79998, more than it holds: the second takes all of it.
    (found,) = judge(timer_changes, PULSES, "16 MHz", board=board)
    assert found.message.endswith("1599 of via timer 2 counting keeps it")


def test_what_counts_a_pin_of_which_nothing_is_said_is_asked_for(judge):
    board = "written_for: 1 MHz\nparts: {via: {family: 6522, grade: W65C22, at: $9000}}\n"
    found = [each for each in judge(timer_changes, PULSES, "2 MHz", board=board) if isinstance(each, Open)]
    assert [each.reason for each in found] == [
        "state inputs: {PB6: ...} to know whether it follows the bus clock"
    ]


def test_a_counter_of_the_ctc_counts_a_timer_of_it(judge):
    text = """\
        ORG 0
START:  LD A,27H
        OUT (88H),A
        LD A,125
        OUT (88H),A
        LD A,47H
        OUT (89H),A
        LD A,100
        OUT (89H),A
HERE:   JR HERE
"""
    board = (
        "written_for: 3.2 MHz\nparts: {ctc: {family: Z80CTC, grade: C, at: io:$88, "
        "inputs: {trigger 1: {part: ctc, output: channel 0}}}}\n"
    )
    (found,) = judge(timer_changes, text, "6.4 MHz", cpu="z80", board=board)
    # 256 * 125 * 100 periods of 3.2 MHz; twice 125 is 250.
    assert found.message == (
        "ctc counter 1: 100 behind N 125, P 256 of ctc timer 0 makes 1 s at 3.2 MHz and 0.5 s at 6.4 MHz; "
        "N 250, P 256 of ctc timer 0 keeps it"
    )


def test_a_6840_timer_counts_another_one_through_its_clock_pin(judge):
    text = """\
        ORG $C000
GO      LDA #$01
        STA $8001
        LDA #$82
        STA $8000
        LDX #499
        STX $8002
        LDA #$00
        STA $8001
        LDX #999
        STX $8004
HERE    BRA HERE
"""
    board = (
        "written_for: 1 MHz\nparts: {ptm: {family: 6840, grade: B, at: $8000, "
        "inputs: {clock 2: {part: ptm, output: output 1}}}}\n"
    )
    (found,) = judge(timer_changes, text, "2 MHz", board=board)
    # 2 * 500 * 1000 cycles.
    assert found.message == (
        "ptm timer 2 counting: 999 behind 499 of ptm timer 1 wave makes 1 s at 1 MHz and 0.5 s at 2 MHz; "
        "999 of ptm timer 1 wave keeps it"
    )


def test_a_6850_clocked_by_a_counter_is_judged_over_both(judge):
    text = """\
        ORG $C000
GO      LDA #$96
        STA $8003
        LDA #13
        STA $8002
        LDA #$15
        STA $A000
HERE    BRA HERE
"""
    board = (
        "written_for: 2 MHz\nparts:\n  pit: {family: 8254, grade: 8254-2, at: $8000, inputs: {clock 2: bus}}\n"
        "  line: {family: 6850, at: $A000, baud: 9600, rate_clock: {part: pit, output: counter 2}}\n"
    )
    (found,) = judge(rate_off, text, "4 MHz", board=board)
    # 2 MHz / 13 / 16 are 9615.38 baud.
    assert found.message == (
        "line bit rate: 16 behind 13 of pit counter 2 by its low byte makes 19230.8 baud at 4 MHz, "
        "100 % fast for 9600; no receiver takes more than 4.6 %; 26 of pit counter 2 by its low byte keeps it to 0.16 %"
    )


@pytest.mark.parametrize(
    ("inputs", "words"),
    [
        ("clock 0: {part: tick, output: counter 0}", "counts what it makes itself; correct inputs:"),
        ("clock 7: bus", 'unknown key "clock 7"'),
        ("clock 1: {part: tick, output: counter 9}", "counter 9"),
        ("clock 1: {part: tack, output: counter 0}", "tack"),
    ],
)
def test_a_chain_that_can_not_be_is_refused(judge, inputs, words):
    with pytest.raises(ClockhopError, match=words):
        judge(timer_changes, TWO_COUNTERS, "4 MHz", board=TICK.format(inputs))
