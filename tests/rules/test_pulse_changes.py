"""Outputs that can hurt and stay on for another time at another clock."""

from clockhop.rules import pulse_changes

STRIKE = """\
STRIKE  EQU   $8010
GO      LDA   #1
        STA   STRIKE
        LDX   #2500
HOLD    LEAX  -1,X
        BNE   HOLD
        LDA   #{}
        STA   STRIKE
        RTS
"""
BOARD = "parts: {striker: {family: output, at: STRIKE, hurts: true, note: solenoid}}\n"


def test_a_striker_held_for_20010_cycles_is_held_half_as_long_at_2_mhz(judge):
    (finding,) = judge(pulse_changes, STRIKE.format(0), "1 MHz", "2 MHz", board=BOARD, written_for="1 MHz")
    # LDX 3, 2500 turns of 8, LDA 2, STA 5
    assert (
        finding.message
        == "STRIKE written 20010 cycles after line 3, 20.01 ms at 1 MHz and 10.005 ms at 2 MHz"
    )
    assert finding.notes[-1] == "striker can hurt people or equipment: solenoid"
    assert (finding.severity, finding.hurts, finding.place.line) == ("warning", True, 8)


def test_writing_the_same_value_again_is_no_pulse(judge):
    assert judge(pulse_changes, STRIKE.format(1), "2 MHz", board=BOARD, written_for="1 MHz") == []


def test_at_the_clock_it_was_written_for_nothing_changes(judge):
    assert judge(pulse_changes, STRIKE.format(0), "1 MHz", board=BOARD, written_for="1 MHz") == []
    assert judge(pulse_changes, STRIKE.format(0), "2 MHz", board=BOARD) == []


def test_an_output_that_hurts_nobody_may_change(judge):
    board = BOARD.replace(", hurts: true", "")
    assert judge(pulse_changes, STRIKE.format(0), "2 MHz", board=board, written_for="1 MHz") == []


def test_a_pulse_whose_wait_has_a_note_is_left_to_the_note(judge):
    text = STRIKE.format(0).replace("-1,X", "-1,X ; timing: takes 20 ms")
    assert judge(pulse_changes, text, "2 MHz", board=BOARD, written_for="1 MHz") == []
