"""Waits that last another time at another clock."""

from clockhop.rules import delay_changes

DELAY = "DELAY   LDX   #25000{}\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n"

REMEDY = "; mend keeps its time, or state in a timing note what it has to last"


def test_a_delay_of_200008_cycles_takes_half_the_time_at_2_mhz(judge):
    (note,) = judge(delay_changes, DELAY.format(""), "1 MHz", "2 MHz", written_for="1 MHz")
    assert note.message == "DELAY takes 200008 cycles, 200.008 ms at 1 MHz and 100.004 ms at 2 MHz" + REMEDY
    assert (note.severity, note.clock.text(), note.limit.text()) == ("note", "2 MHz", "200.008 ms")
    assert (note.goal.index, note.goal.loop, note.goal.least.text()) == (0, False, "200.008 ms")


def test_every_other_clock_is_named(judge):
    (note,) = judge(delay_changes, DELAY.format(""), "2 MHz", "500 kHz", written_for="1 MHz")
    assert (
        note.message
        == ("DELAY takes 200008 cycles, 200.008 ms at 1 MHz, 100.004 ms at 2 MHz and 400.016 ms at 500 kHz")
        + REMEDY
    )


def test_without_another_clock_there_is_nothing_to_say(judge):
    assert judge(delay_changes, DELAY.format(""), "2 MHz") == []
    assert judge(delay_changes, DELAY.format(""), "1 MHz", written_for="1 MHz") == []


def test_a_timing_note_speaks_for_the_wait(judge):
    for note in ("takes 200 ms", "leave because it only has to be long enough"):
        text = DELAY.format(f" ; timing: {note}")
        assert judge(delay_changes, text, "2 MHz", written_for="1 MHz") == []


def test_a_loop_that_does_something_else_is_no_wait(judge):
    text = "GO LDX #100\nFILL CLR ,Y+\n LEAX -1,X\n BNE FILL\n RTS\n"
    assert judge(delay_changes, text, "2 MHz", written_for="1 MHz") == []


def test_a_call_that_hands_over_a_count_is_a_wait_of_its_own(judge):
    text = "GO LDB #100\n BSR PAUSE\n STA $50\n RTS\nPAUSE DECB\n BNE PAUSE\n RTS\n"
    (note,) = judge(delay_changes, text, "2 MHz", written_for="1 MHz")
    # 100 turns of 5, RTS 5
    assert (
        note.message == "PAUSE called here takes 505 cycles, 505 us at 1 MHz and 252.5 us at 2 MHz" + REMEDY
    )
    assert note.place.line == 2


def test_a_wait_whose_length_a_caller_decides_at_run_time_is_said(judge):
    text = "GO LDB $50\n BSR PAUSE\n STA $50\n RTS\nPAUSE DECB{}\n BNE PAUSE\n RTS\n"
    (note,) = judge(delay_changes, text.format(""), "2 MHz", written_for="1 MHz")
    assert note.message == (
        "PAUSE takes 5*B + 5 cycles, and a caller decides B at run time: at 2 MHz it lasts 1/2 of its time at 1 MHz; "
        "change its own count by hand, or what is handed over"
    )
    assert (
        judge(delay_changes, text.format(" ; timing: leave because of no use"), "2 MHz", written_for="1 MHz")
        == []
    )


def test_a_wait_that_refreshes_make_a_range_is_said(judge):
    # 3028 T-states, of each 10 clocks 7 are the program's: some 4326.
    text = "GO: CALL PAUSE\n JP GO\nPAUSE: LD B,200\nWAIT: DJNZ WAIT\n RET\n"
    (note,) = judge(delay_changes, text, "4 MHz", written_for="2 MHz", cpu="z180")
    assert note.message == (
        "PAUSE takes 4321 to 4330 cycles: at 4 MHz it lasts 1/2 of its time at 2 MHz; "
        "mend does not solve for a range: change its count by hand"
    )
