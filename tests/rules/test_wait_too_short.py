"""Code that takes another time than its timing note states."""

from fractions import Fraction

import pytest
from clockhop.quantity import Duration
from clockhop.rules import Finding, Holds, Open, wait_too_short


def ms(text):
    return Duration(Fraction(text) / 1000)


def delay(note):
    return f"""\
DELAY   LDX   #25000      ; timing: {note}
LOOP    LEAX  -1,X
        BNE   LOOP
        RTS
"""


def test_a_delay_of_200008_cycles_is_200_ms_at_1_mhz_and_half_of_it_at_2_mhz(judge):
    (holds,) = judge(wait_too_short, delay("takes 200 ms"), "1 MHz")
    assert holds == Holds("DELAY", ms("200.008"), ms("200"), None)

    (finding,) = judge(wait_too_short, delay("takes 200 ms"), "1 MHz", "2 MHz")
    assert finding.message == (
        "DELAY takes 200008 cycles, 100.004 ms at 2 MHz; 200 ms stated; 199992 cycles short"
    )
    assert (finding.severity, finding.notes) == ("error", ("stated in tower.asm:1",))
    assert (finding.measured_cycles, finding.measured, finding.limit) == (200008, ms("100.004"), ms("200"))
    assert (finding.goal.index, finding.goal.loop, finding.goal.least) == (0, False, ms("200"))


def test_longer_than_stated_is_a_warning(judge):
    (finding,) = judge(wait_too_short, delay("takes 200 ms"), "900 kHz")
    # 200 ms are 180000 cycles, 1 % more is 181800
    assert finding.message == (
        "DELAY takes 200008 cycles, 222.231 ms at 900 kHz; 200 ms stated; 18208 cycles too long"
    )
    assert finding.severity == "warning"


def test_longer_than_at_most_is_an_error(judge):
    (finding,) = judge(wait_too_short, delay("takes at most 200 ms"), "2 MHz", "1 MHz")
    assert (finding.severity, finding.clock.text()) == ("error", "1 MHz")
    assert finding.message == (
        "DELAY takes 200008 cycles, 200.008 ms at 1 MHz; at most 200 ms stated; 8 cycles too long"
    )
    assert (finding.goal.least, finding.goal.most) == (None, ms("200"))


@pytest.mark.parametrize(
    ("note", "clock", "kind"),
    [
        ("takes at least 200 ms", "900 kHz", Holds),
        ("takes at least 200 ms", "1.001 MHz", Finding),
        ("takes at most 200 ms", "1.001 MHz", Holds),
        ("takes 200 ms within 1 ms", "1.004 MHz", Holds),
        ("takes 200 ms within 1 ms", "1.006 MHz", Finding),
        ("takes 200 ms within 1 ms", "994 kHz", Finding),
    ],
)
def test_which_side_is_stated_decides(judge, note, clock, kind):
    assert [type(verdict) for verdict in judge(wait_too_short, delay(note), clock)] == [kind]


def test_what_was_short_at_the_old_clock_says_so(judge):
    (finding,) = judge(wait_too_short, delay("takes 200 ms"), "3 MHz", written_for="2 MHz")
    assert finding.short_before
    (finding,) = judge(wait_too_short, delay("takes 200 ms"), "3 MHz", written_for="1 MHz")
    assert not finding.short_before


def test_a_note_in_a_loop_speaks_of_the_loop(judge):
    text = "GO LDA #5\n LDB #100\nWAIT DECB ; timing: takes 1 ms\n BNE WAIT\n STA $50\n RTS\n"
    (finding,) = judge(wait_too_short, text, "1 MHz")
    # 100 turns of 5
    assert finding.message == "WAIT takes 500 cycles, 500 us at 1 MHz; 1 ms stated; 500 cycles short"
    assert finding.goal.loop


def test_a_note_at_a_call_speaks_of_what_it_hands_over(judge):
    text = """\
GO      LDB   #100
        BSR   PAUSE         ; timing: takes at least 1 ms
        LDB   #200
        BSR   PAUSE         ; timing: takes at least 1 ms
        RTS
PAUSE   DECB
        BNE   PAUSE
        RTS
"""
    first, second = judge(wait_too_short, text, "1 MHz")
    assert (first.place.line, first.measured_cycles) == (2, 505)
    assert second == Holds("PAUSE", ms("1.005"), ms("1"), None)


def test_a_time_that_depends_on_the_caller_is_not_judged(judge):
    text = "PAUSE DECB ; timing: takes 1 ms\n BNE PAUSE\n RTS\n"
    assert judge(wait_too_short, text, "1 MHz") == [
        Open("PAUSE", "takes 5*B + 5 cycles, and B is not known; state it in a timing note")
    ]


def test_a_note_where_nothing_takes_time_says_so(judge):
    text = "GO NOP\n STA $50 ; timing: takes 1 ms\n BRA GO\nMORE RTS\n"
    verdicts = judge(wait_too_short, text.replace(" BRA GO\n", " JMP $F000\n"), "1 MHz")
    assert verdicts == [
        Open(
            "tower.asm:2",
            "the note speaks of nothing that takes time; put it at a routine's first line, a loop or a call",
        )
    ]


def test_a_wait_between_writes_of_a_striker_is_one_that_can_hurt(judge):
    text = "STRIKE EQU $8010\nGO LDA #1\n STA STRIKE\n BSR DELAY\n CLR STRIKE\n RTS\n" + delay("takes 200 ms")
    board = "parts: {{striker: {{family: output, at: STRIKE{}}}}}\n"
    (finding,) = judge(wait_too_short, text, "2 MHz", board=board.format(", hurts: true"))
    assert finding.hurts
    assert finding.notes[1] == "it times striker, which can hurt people or equipment"
    (finding,) = judge(wait_too_short, text, "2 MHz", board=board.format(""))
    assert not finding.hurts
