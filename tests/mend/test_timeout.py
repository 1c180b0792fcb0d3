"""Polls that give up: their count is set for the new clock. LDA extended 5, BMI 3, LEAX 5, BNE 3 cycles on a 6809."""

import pytest

TEXT = """\
PORT    EQU   $9000
        ORG   $C000
MAIN    LDX   #200
ASK     LDA   PORT
        BMI   DONE
        LEAX  -1,X
        BNE   ASK
DONE    CLRA
        LDX   #0
        RTS
        END   MAIN
"""


def test_a_time_out_of_3_2_ms_lasts_3_2_ms_at_twice_the_clock_and_says_so(mend):
    mended = mend(TEXT, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    # 200 turns of 16 cycles.
    assert mended.mends == [("retime", "ASK", "proved")]
    assert mended.line(3) == "MAIN    LDX   #400"
    assert mended.line(4) == "ASK     LDA   PORT  ; timing: gives up after 3.2 ms"
    (made,) = mended.plan.mends
    assert made.reason == "ASK gives up on PORT after 3200 cycles, 1.6 ms at 2 MHz; at 1 MHz after 3.2 ms"
    assert made.result == "6400 cycles at most, 3.2 ms at 2 MHz: exactly as long"
    assert made.use is not None
    assert made.use.kind == "time-out"
    assert made.evidence.lines == (
        "what hangs on how often it turned is read by nobody behind it, for all states; a turn does what it did",
        "counted again on the edited text: 6400 cycles at most",
        "rests on the 6809 table, entered only as the text shows",
    )


def test_the_way_back_gives_the_old_count_again(mend):
    there = mend(TEXT, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    back = mend(there.text, "1 MHz", "2 MHz", gaps_at=("PORT",), states=0)
    assert back.line(3) == "MAIN    LDX   #200"
    # A third clock, on the word of the note alone: 3.2 ms are 4800 cycles at 1.5 MHz.
    assert mend(there.text, "1.5 MHz", gaps_at=("PORT",), states=0).line(3) == "MAIN    LDX   #300"


def test_it_never_gives_up_sooner_and_is_rounded_up(mend):
    mended = mend(TEXT, "1.79 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    # 3.2 ms are 5728 cycles: 358 turns.
    assert mended.line(3) == "MAIN    LDX   #358"
    mended = mend(TEXT, "1.7901 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    assert mended.line(3) == "MAIN    LDX   #359"


def test_a_count_that_is_read_behind_it_is_left(mend):
    mended = mend(
        TEXT.replace("        LDX   #0\n", "        STX   $40\n"),
        "2 MHz",
        "1 MHz",
        gaps_at=("PORT",),
        states=0,
    )
    assert mended.mends == []
    assert dict(mended.left)["ASK"].endswith("; its count is read behind it, in X")


def test_a_constant_that_is_used_elsewhere_is_left(mend):
    text = (
        TEXT.replace("#200", "#TRIES")
        .replace("#0", "#TRIES")
        .replace("        ORG", "TRIES   EQU   200\n        ORG")
    )
    mended = mend(text, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    assert mended.mends == []
    assert dict(mended.left)["ASK"].endswith("; TRIES is used in 2 places, and only one is this count")


BYTE = """\
PORT    EQU   $9000
        ORG   $C000
MAIN    LDB   #200
ASK     LDA   PORT
        BMI   DONE
        DECB
        BNE   ASK
DONE    CLRA
        CLRB
        RTS
        END   MAIN
"""


def test_a_counter_of_8_bits_that_would_overflow_gets_pads_in_its_loop(mend):
    mended = mend(BYTE, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    # 200 turns of 13 cycles are 2.6 ms, 5200 cycles; 256 turns take 20.3 each.
    assert mended.mends == [("retime", "ASK", "proved")]
    assert mended.plan.mends[0].result == "5208 cycles at most, 2.604 ms at 2 MHz: 4 us longer"


def test_what_is_stored_before_its_count_is_loaded_is_no_part_of_it(mend):
    text = TEXT.replace("MAIN    LDX", "MAIN    STA   $40\n        LDX")
    mended = mend(text, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    assert mended.mends == [("retime", "ASK", "proved")]
    mended = mend(
        text.replace("ASK     LDA", "        STX   $42\nASK     LDA"),
        "2 MHz",
        "1 MHz",
        gaps_at=("PORT",),
        states=0,
    )
    assert mended.mends == [("retime", "ASK", "shown")]


def test_one_that_writes_memory_while_it_waits_is_only_shown(mend):
    text = TEXT.replace("        BMI   DONE\n", "        BMI   DONE\n        INC   $40\n")
    mended = mend(text, "2 MHz", "1 MHz", gaps_at=("PORT",), states=0)
    assert mended.mends == [("retime", "ASK", "shown")]


@pytest.mark.parametrize(
    ("cpu", "old", "new"),
    [
        (
            "6502",
            "MAIN    LDX #100\nASK     LDA PORT\n        BMI DONE\n        DEX\n        BNE ASK\n",
            "MAIN    LDX #200",
        ),
        (
            "z80",
            "MAIN:   LD B,100\nASK:    LD A,(PORT)\n        OR A\n        JP M,DONE\n        DJNZ ASK\n",
            "MAIN:   LD B,200",
        ),
    ],
)
def test_other_processors_have_time_outs_too(mend, cpu, old, new):
    head, tail = (
        "PORT    EQU 9000H\n        ORG 0C000H\n",
        "DONE:   XOR A\n        LD B,0\n        RET\n        END MAIN\n",
    )
    if cpu == "6502":
        head, tail = "PORT    = $9000\n        * = $C000\n", "DONE    LDA #0\n        LDX #0\n        RTS\n"
    mended = mend(head + old + tail, "2 MHz", "1 MHz", cpu=cpu, gaps_at=("PORT",), states=0)
    assert mended.mends == [("retime", "ASK", "proved")]
    assert mended.line(3) == new
