"""Serial rates, timers and tones that follow the clock, and the numbers that would keep them."""

from fractions import Fraction

import pytest
from clockhop.quantity import parse_clock
from clockhop.rules import Finding, Holds, Open, rate_off, timer_changes, tone_changes

VIA = "written_for: 2 MHz\nparts: {via: {family: 6522, at: $8000}}\n"
FREE_RUNNING = "GO      LDA #$40\n        STA $800B\n"


def one_of(verdicts, kind):
    (found,) = [each for each in verdicts if isinstance(each, kind)]
    return found


def test_the_latch_of_a_6522_is_10_ms_at_2_mhz_and_39998_keep_it_at_4(judge):
    text = FREE_RUNNING + "        LDD #19998\n        STB $8004\n        STA $8005\nHERE    BRA HERE\n"
    (found,) = judge(timer_changes, text, "2 MHz", "4 MHz", board=VIA)
    assert found.message == ("via timer 1: 19998 makes 10 ms at 2 MHz and 5 ms at 4 MHz; 39998 keeps it")
    assert str(found.place) == "tower.asm:3:9"
    assert found.notes == (
        "N + 2 periods of the bus clock: R6522 VIA text transcription, timer 1/2",
        "low 1 is written at tower.asm:4",
        "high 1 is written at tower.asm:5",
    )
    # 39998 is $9C3E: both bytes of the operand of line 3 become others.
    assert [(each.index, each.shift, each.byte) for each in found.goal.constants] == [
        (2, 0, 0x3E),
        (2, 8, 0x9C),
    ]
    assert found.goal.complete
    assert isinstance(judge(timer_changes, text, "2 MHz", board=VIA)[0], Holds)


def test_where_the_latch_is_full_no_number_keeps_the_time(judge):
    text = FREE_RUNNING + (
        "        LDA #<LATCH\n        STA $8004\n        LDA #>LATCH\n        STA $8005\n"
        "HERE    BRA HERE\nLATCH   EQU 49998\n"
    )
    (found,) = judge(timer_changes, text, "4 MHz", board=VIA)
    assert "no number keeps it: 65535, the nearest, makes it 34.5 % too short" in found.message
    assert found.goal is None


def test_a_mode_set_earlier_by_a_constant_decides_and_one_set_by_a_variable_is_said(judge):
    once = "GO      CLR $800B\n        LDA #198\n        STA $8004\n        CLRA\n        STA $8005\nHERE    BRA HERE\n"
    (found,) = judge(timer_changes, once, "4 MHz", board=VIA)
    # One shot: 198 + 1.5 cycles are 99.75 us at 2 MHz.
    assert found.message.startswith("via timer 1 once: 198 makes 99.75 us at 2 MHz and 49.875 us at 4 MHz")
    told = judge(
        timer_changes,
        once.replace("CLR $800B", "LDA MODE\n        STA $800B") + "MODE RMB 1\n",
        "4 MHz",
        board=VIA,
    )
    assert {each.reason for each in told} == {"what auxiliary control holds there is not known"}


def test_a_number_that_is_not_known_is_an_open_requirement(judge):
    text = FREE_RUNNING + "        LDA ,X\n        STA $8004\n        STA $8005\nHERE    BRA HERE\n"
    (found,) = judge(timer_changes, text, "2 MHz", "4 MHz", board=VIA)
    assert (found.subject, found.reason) == ("via timer 1 at tower.asm:5", "the number written is not known")


SERIAL = "written_for: {old}\nparts: {{line: {{family: 6850, at: $8000, clock: {clock}, baud: 9600}}}}\n"
BY_64 = "GO      LDA #$03\n        STA $8000\n        LDA #$16\n        STA $8000\nHERE    BRA HERE\n"


def test_a_serial_port_clocked_from_the_bus_is_twice_too_fast_at_twice_the_clock(judge):
    board = SERIAL.format(old="0.6144 MHz", clock="bus")
    assert isinstance(judge(rate_off, BY_64, "0.6144 MHz", board=board)[0], Holds)
    (found,) = judge(rate_off, BY_64, "0.6144 MHz", "1.2288 MHz", board=board)
    assert found.message == (
        "line bit rate: 64 makes 19200 baud at 1.2288 MHz, 100 % fast for 9600; no receiver takes more than 4.6 %; "
        "no number keeps it"
    )
    assert (found.severity, str(found.place)) == ("error", "tower.asm:3:9")
    stays = SERIAL.format(old="0.6144 MHz", clock="614.4 kHz")
    assert isinstance(judge(rate_off, BY_64, "0.6144 MHz", "1.2288 MHz", board=stays)[0], Holds)


@pytest.mark.parametrize(
    ("clock", "kind"),
    [("626.6 kHz", Holds), ("626.8 kHz", Finding), ("602.2 kHz", Holds), ("602.0 kHz", Finding)],
)
def test_two_per_cent_of_the_rate_are_allowed_either_way(judge, clock, kind):
    # 614.4 kHz give 9600; 2 % more are 626.688 kHz, 2 % less 602.112 kHz.
    board = SERIAL.format(old="614.4 kHz", clock="bus")
    assert isinstance(judge(rate_off, BY_64, clock, board=board)[0], kind)


def test_without_a_clock_of_the_part_it_is_asked_for(judge):
    board = "written_for: 1 MHz\nparts: {line: {family: 6850, at: $8000, baud: 9600}}\n"
    assert one_of(judge(rate_off, BY_64, "2 MHz", board=board), Open).reason == (
        "state clock: to know whether it follows the bus clock"
    )


def test_a_serial_port_behind_a_counter_is_judged_over_both_and_the_counter_is_changed(judge):
    text = """\
        ORG 0
START:  LD A,07H
        OUT (88H),A
        LD A,13
        OUT (88H),A
        LD A,4
        OUT (81H),A
        LD A,0C4H
        OUT (81H),A
HERE:   JR HERE
"""
    board = (
        "written_for: 2 MHz\nparts:\n  ctc: {family: Z80CTC, ports: {channel 0: io:$88}}\n  line: {family: Z80SIO, "
        "at: io:$80, clock: bus, baud: 150, rate_clock: {part: ctc, output: timer 0}}\n"
    )
    # 2 MHz / 16 / 13 / 64 are 150.24 baud.
    (found,) = judge(rate_off, text, "4 MHz", cpu="z80", board=board)
    assert found.message == (
        "line bit rate: 64 behind N 13, P 16 of ctc timer 0 makes 300.481 baud at 4 MHz, 100 % fast for 150; "
        "no receiver takes more than 4.6 %; "
        "N 26, P 16 of ctc timer 0 keeps it to 0.16 %"
    )
    assert [(each.index, each.byte) for each in found.goal.constants] == [(2, 26)]
    assert judge(timer_changes, text, "4 MHz", cpu="z80", board=board) == []


GONG = (
    "written_for: 1.7897725 MHz\nparts: {{gong: {{family: 76489, grade: SN76489, at: $8000, clock: {}}}}}\n"
)
NOTE = "GO      LDA #$8E\n        STA $8000\n        LDA #$0F\n        STA $8000\nHERE    BRA HERE\n"


def test_254_in_a_76489_sound_an_octave_higher_at_twice_the_clock_and_508_keep_them(judge):
    (found,) = judge(tone_changes, NOTE, "3.579545 MHz", board=GONG.format("bus * 2"))
    assert found.message == (
        "gong tone 1: 254 makes 440.397 Hz at 1.7897725 MHz and 880.794 Hz at 3.579545 MHz, 1200 cents higher; "
        "508 keeps it"
    )
    # 508 is $1FC: $8C and $1F.
    assert [each.byte for each in found.goal.constants] == [0x8C, 0x1F]


def test_a_tone_generator_with_a_clock_of_its_own_stays(judge):
    (found,) = judge(tone_changes, NOTE, "3.579545 MHz", board=GONG.format("3.579545 MHz"))
    assert isinstance(found, Holds)


def test_a_register_selected_by_an_index_port_is_told_from_the_others(judge):
    text = """\
GO      LDA #0
        STA $8000
        LDA #125
        STA $8001
        LDA #1
        STA $8000
        CLR $8001
        LDA #7
        STA $8000
        LDA #$3E
        STA $8001
HERE    BRA HERE
"""
    board = "written_for: 2 MHz\nparts: {gong: {family: 8910, at: $8000, clock: bus}}\n"
    (found,) = judge(tone_changes, text, "1 MHz", board=board)
    # 125 makes 1 kHz of 2 MHz (the sheet's own example); register 7 has no part in it.
    assert found.message == (
        "gong tone a: 125 makes 1 kHz at 2 MHz and 500 Hz at 1 MHz, 1200 cents lower; 63 keeps it to 0.8 %"
    )


def test_a_crystal_that_is_turned_takes_the_rate_of_the_part_on_it_along(judge):
    board = (
        "oscillators: {xtal: 4.9152 MHz}\nclock: xtal / 8\nwritten_for: xtal / 8\n"
        "parts: {line: {family: 6850, at: $8000, clock: xtal / 8, baud: 9600}}\n"
    )
    assert isinstance(judge(rate_off, BY_64, "1 MHz", board=board)[0], Holds)
    found = judge(rate_off, BY_64, "1 MHz", board=board, turned={"xtal": parse_clock("9.8304 MHz")})
    assert "makes 19200 baud at 1 MHz, 100 % fast for 9600" in found[0].message
    assert found[0].limit.seconds == Fraction(1, 9600)


def test_20000_on_top_of_the_counter_of_a_68hc11_are_10_ms_at_2_mhz_and_30000_at_3(judge):
    text = """\
TCNT    EQU $0E
TOC2    EQU $18
        ORG $0
GO      LDX #$1000
HERE    BRA HERE
OC2     LDX #$1000
        LDD TCNT,X
        ADDD #20000
        STD TOC2,X
        RTI
"""
    board = (
        "written_for: 2 MHz\ninterrupts: {OC2: {entry: OC2}}\nparts: {chip: {family: 68HC11io, at: $1000}}\n"
    )
    (found,) = judge(timer_changes, text, "3 MHz", cpu="68hc11", board=board)
    assert found.message == (
        "chip compare 2: N 20000, P 1 makes 10 ms at 2 MHz and 6.66667 ms at 3 MHz; N 30000, P 1 keeps it"
    )
    # 30000 is $7530.
    assert [each.byte for each in found.goal.constants] == [0x75, 0x30]
    # Written as it is, the number says nothing of how long after the last one it comes.
    plain = text.replace("ADDD #20000", "LDD #20000")
    assert isinstance(judge(timer_changes, plain, "3 MHz", cpu="68hc11", board=board)[0], Open)


def test_a_prescaler_that_is_not_known_says_nothing_of_counters_that_are_not_set(judge):
    text = "GO      LDX #$1000\n        LDAA $00\n        STAA $24,X\nHERE    BRA HERE\n"
    board = "written_for: 2 MHz\nparts: {chip: {family: 68HC11io, at: $1000}}\n"
    (found,) = judge(timer_changes, text, "3 MHz", cpu="68hc11", board=board)
    assert (found.subject, found.reason) == (
        "chip overflow of the counter at tower.asm:3",
        "the number written is not known",
    )
