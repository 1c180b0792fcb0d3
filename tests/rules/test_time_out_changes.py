"""Polls that give up: how long they wait is counted in turns."""

from clockhop.rules import Holds, time_out_changes

TEXT = """\
GO      LDX #5000
WAIT    LDA $8000
        BITA #2
        BNE READY
        LEAX -1,X
        BNE WAIT
        ORCC #1
        RTS
READY   STA $8001
        RTS
"""
BOARD = "parts: {line: {family: 6850, at: $8000, clock: 1 MHz}}\n"


def test_5000_turns_of_18_cycles_give_up_after_90_ms_at_1_mhz_and_45_at_2(judge):
    (found,) = judge(time_out_changes, TEXT, "2 MHz", board=BOARD, written_for="1 MHz")
    assert found.message == (
        "WAIT gives up on $8000 after 90000 cycles at most, 90 ms at 1 MHz and 45 ms at 2 MHz; "
        "2 times its count keeps the time"
    )
    assert (found.severity, str(found.place)) == ("note", "tower.asm:2:9")


def test_at_the_old_clock_with_a_note_or_without_a_poll_there_is_nothing_to_say(judge):
    assert judge(time_out_changes, TEXT, "1 MHz", board=BOARD, written_for="1 MHz") == []
    noted = TEXT.replace("LEAX -1,X", "LEAX -1,X       ; timing: takes at most 100 ms")
    assert judge(time_out_changes, noted, "2 MHz", board=BOARD, written_for="1 MHz") == []
    for text, clocks in (("gives up after 90 ms", "1 MHz"), ("gives up after 45 ms", "2 MHz")):
        noted = TEXT.replace("LEAX -1,X", f"LEAX -1,X       ; timing: {text}")
        (holds,) = judge(time_out_changes, noted, clocks, board=BOARD, written_for="1 MHz")
        assert isinstance(holds, Holds)
    counted = TEXT.replace("BNE READY", "NOP")
    assert judge(time_out_changes, counted, "2 MHz", board=BOARD, written_for="1 MHz") == []


def test_a_note_of_90_ms_is_judged_without_an_old_clock(judge):
    noted = TEXT.replace("LEAX -1,X", "LEAX -1,X       ; timing: gives up after 90 ms")
    (found,) = judge(time_out_changes, noted, "2 MHz", board=BOARD)
    assert found.message == (
        "WAIT gives up on $8000 after 90000 cycles at most, 45 ms at 2 MHz; its note states 90 ms; "
        "2 times its count keeps the time"
    )
    assert found.severity == "warning"
    # One turn of 18 cycles more than 1 % over is still the same time-out, at half the clock it is not.
    assert [f.severity for f in judge(time_out_changes, noted, "500 kHz", board=BOARD)] == ["note"]
    (holds,) = judge(time_out_changes, noted, "990 kHz", board=BOARD)
    assert isinstance(holds, Holds)
