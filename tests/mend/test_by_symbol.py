"""Counts by a clock symbol: the same bytes at the old clock, the right time at every other."""

import pytest
from clockhop.errors import ClockhopError
from clockhop.quantity import parse_clock

DELAY = "DELAY   LDX   #25000        ; long\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n        END   MAIN\n"
TEXT = "        ORG   $C000\nMAIN    BSR   DELAY\n        CLRA\n        RTS\n" + DELAY
CLOCKS = tuple(map(parse_clock, ("1 MHz", "2 MHz", "4 MHz")))


def test_a_count_becomes_an_expression_that_keeps_the_bytes_and_200008_us_at_2_mhz(mend):
    mended = mend(TEXT, "2 MHz", "1 MHz", by_symbol="CLOCK_KHZ", clocks=CLOCKS[:2], states=1)
    assert mended.text.splitlines()[:2] == ["CLOCK_KHZ EQU 1000 ; the clock in kHz", "        ORG   $C000"]
    # 1000 * 50001 / 2000 = 25000.5, cut to the old count; at 2 MHz 3 + 50001 * 8 + 5 = 400016.
    assert mended.line(6) == "DELAY   LDX   #CLOCK_KHZ*50001/2000 ; long; timing: takes 200.008 ms"
    assert mended.old_cycles == mended.new_cycles == 200008 + 14
    (made,) = mended.plan.mends
    assert made.result == (
        "CLOCK_KHZ*50001/2000; 200008 cycles at 1 MHz, 200.008 ms: exact; 400016 cycles at 2 MHz, 200.008 ms: exact"
    )
    assert (made.evidence.grade, made.evidence.lines[0]) == ("proved", "at 1 MHz every byte is the same")


def test_a_stated_time_that_grows_with_the_clock_alone_needs_one_factor(mend):
    text = TEXT.replace("; long", "; timing: takes 200 ms")
    mended = mend(text, "2 MHz", "1 MHz", by_symbol="CLOCK_KHZ", clocks=CLOCKS[:2], states=0)
    assert "#CLOCK_KHZ*25 " in mended.line(6)


def test_a_text_by_symbol_is_left_at_another_clock_with_the_symbol_named(mend):
    text = "CLOCK_KHZ EQU 1000\n" + TEXT.replace("25000       ", "CLOCK_KHZ*25")
    mended = mend(text, "2 MHz", "1 MHz", states=0)
    ((_, reason),) = mended.left
    assert reason.endswith("scaled by CLOCK_KHZ already; give it the value for 2 MHz")
    again = mend(text, "2 MHz", "1 MHz", by_symbol="CLOCK_KHZ", clocks=CLOCKS, states=0)
    assert again.mends == []


def test_for_1_2_and_4_mhz_a_short_counter_gets_the_pads_that_the_fastest_needs(mend):
    text = (
        "TOWER_CLOCK EQU 1000000\n        ORG   $C000\nMAIN    LDB   #200\nM1      DECB\n        BNE   M1\n"
        "        CLRA\n        RTS\n        END   MAIN\n"
    )
    mended = mend(text, "4 MHz", "1 MHz", by_symbol="TOWER_CLOCK", clocks=CLOCKS)
    (made,) = mended.plan.mends
    # 1000 cycles are 1 ms: 63 turns of 16 are 1008, 126 are 2016, 251 are 4016, and 251 is below 256.
    assert made.result.split("; ")[1:] == [
        "1008 cycles at 1 MHz, 1.008 ms: 8 us longer",
        "2016 cycles at 2 MHz, 1.008 ms: 8 us longer",
        "4016 cycles at 4 MHz, 1.004 ms: 4 us longer",
    ]
    assert made.evidence.lines[0] == "at 1 MHz its pads are 4 bytes more, which 4 MHz needs"
    assert mended.new_cycles - mended.old_cycles == 8
    assert mended.line(1) == "TOWER_CLOCK EQU 1000000"


def test_a_count_that_runs_up_and_an_equ_are_written_by_the_symbol_too(mend):
    text = (
        "TURNS = 200\n        ORG   $C000\nMAIN    JSR   PAUSE\n        LDX   #0\n        LDA   #0\n        RTS\n"
        "PAUSE   LDX   #TURNS\nP1      DEX\n        BNE   P1\n"
        "        LDX   #206\nP2      INX\n        BNE   P2\n        RTS\n"
    )
    mended = mend(
        text, "1.25 MHz", "1 MHz", cpu="6502", by_symbol="KHZ", clocks=(parse_clock("1.25 MHz"),), states=0
    )
    (made,) = mended.plan.mends
    assert (made.subject, made.evidence.grade) == ("PAUSE", "proved")
    assert mended.line(1) == "KHZ = 1000 ; the clock in kHz"


def test_the_syntax_of_the_8080_takes_the_expression_as_it_is(mend):
    text = (
        "        ORG   8000H\nSTART:  CALL  PAUSE\n        XRA   A\n        LXI   B,0\n        RET\n"
        "PAUSE:  MVI   B,100\nPAUSE1: DCR   B\n        JNZ   PAUSE1\n        RET\n"
    )
    mended = mend(
        text, "3 MHz", "2 MHz", cpu="8080", by_symbol="CLOCK_KHZ", clocks=(parse_clock("3 MHz"),), states=0
    )
    # 7 + 100 * 15 + 10 = 1517 cycles at 2 MHz; 3000 * 41 / 800 - 2 = 151 turns are 2282 cycles, 2275.5 are needed.
    assert mended.line(7) == "PAUSE:  MVI   B,CLOCK_KHZ*41/800-2  ; timing: takes 758.5 us"


def test_a_symbol_that_is_not_the_old_clock_is_refused(mend):
    with pytest.raises(ClockhopError, match="it is 7 in the source, which is not 1 MHz in a whole unit"):
        mend("SPEED   EQU   7\n" + TEXT, "2 MHz", "1 MHz", by_symbol="SPEED", clocks=CLOCKS)
    with pytest.raises(
        ClockhopError, match=r"921\.6 kHz is no whole number of kHz; name a symbol that ends in HZ"
    ):
        mend(TEXT, "2 MHz", "921.6 kHz", by_symbol="SPEED", clocks=CLOCKS)
