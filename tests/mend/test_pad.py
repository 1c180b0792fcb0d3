"""Pads between accesses. Figures by hand: STA extended 5, LEAX 5, BNE 3, LDB # 2, CMPA # 2 cycles on a 6809."""

import pytest

PANEL = "parts:\n  panel: {family: 9918, at: PANEL, mode: graphics, clock: 10.738635 MHz}\n"
FILL = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    LDX   #768
        LDA   #32
FILL    STA   PANEL
        LEAX  -1,X
        BNE   FILL
        CLRA
        RTS
        END   MAIN
"""


def test_a_fill_loop_of_13_cycles_at_2_mhz_gets_3_more_for_a_part_that_needs_8_us(mend):
    mended = mend(FILL, "2 MHz", "1 MHz", board=PANEL)
    # 8 us are 16 cycles; once in each of 768 turns.
    assert mended.mends == [("pad", "PANEL", "proved")]
    assert mended.line(7) == "        ORCC  #0  ; 8 us between accesses at 2 MHz"
    assert mended.new_cycles - mended.old_cycles == 3 * 768
    assert mended.findings == []
    # What the fill as a whole takes longer, and what the part offers instead; text mode would be another picture.
    (made,) = mended.plan.mends
    assert (
        made.result
        == "3 cycles more (1.5 us at 2 MHz), 3 needed; 2 bytes; over 768 turns 2304 cycles, 1.152 ms"
    )
    assert made.instead == ("or do it while panel is blanked (display off): 2 us are enough there",)


def test_at_the_old_clock_nothing_is_padded(mend):
    assert mend(FILL, "1 MHz", "1 MHz", board=PANEL).mends == []


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_a_pad_ends_as_the_lines_around_it(mend, end):
    mended = mend(FILL.replace("\n", end), "2 MHz", "1 MHz", board=PANEL)
    lines = FILL.split("\n")
    pad = "        ORCC  #0  ; 8 us between accesses at 2 MHz"
    assert mended.text == end.join([*lines[:6], pad, *lines[6:]])


def test_on_a_6309_in_native_mode_the_pads_are_its_own(mend):
    # STA 4, LEAX 5 and BNE 3 are 12 cycles in native mode: 4 more, and a NOP takes one.
    mended = mend(FILL, "2 MHz", "1 MHz", board=PANEL, cpu="6309-native")
    assert mended.line(7) == "        TFR   A,A  ; 8 us between accesses at 2 MHz"
    assert mended.new_cycles - mended.old_cycles == 4 * 768


def test_one_pad_serves_two_pairs(mend):
    text = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    LDA   #32
        BCS   OTHER
        STA   PANEL
        BRA   JOIN
OTHER   STA   PANEL
JOIN    LDB   #1
        STB   PANEL
        CLRA
        RTS
        END   MAIN
"""
    mended = mend(text, "2 MHz", "1 MHz", board=PANEL)
    # 7 cycles from OTHER, 10 by way of BRA: 9 more serve both.
    assert mended.mends == [("pad", "PANEL", "proved")]
    assert mended.text.splitlines()[8:10] == [
        "        TFR   A,A  ; 8 us between accesses at 2 MHz",
        "        ORCC  #0",
    ]
    assert mended.findings == []


def test_flags_between_a_compare_and_its_branch_are_kept(mend):
    text = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    STA   PANEL
        CMPA  #7
        BNE   SKIP
        STA   PANEL
SKIP    RTS
"""
    mended = mend(text, "2 MHz", "1 MHz", board=PANEL, states=4)
    # STA 5, CMPA 2, BNE 3: 10 of 16 cycles. Everything is live for a caller outside the text.
    assert mended.line(5) == "        TFR   A,A  ; 8 us between accesses at 2 MHz"
    assert mended.findings == []


def test_a_pad_serves_a_pair_that_lies_across_a_call(mend):
    text = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    BSR   SEND
        BSR   SEND
        CLRA
        RTS
SEND    STA   PANEL
        RTS
        END   MAIN
"""
    mended = mend(text, "4 MHz", "1 MHz", board=PANEL)
    # RTS 5, BSR 7, STA 5: 17 cycles of 32.
    assert mended.mends == [("pad", "PANEL", "proved")]
    assert mended.findings == []


def test_a_pad_in_an_inner_loop_would_run_many_times_and_goes_outside(mend):
    text = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    STA   PANEL
        LDB   #2
LOOP    DECB
        BNE   LOOP
        STA   PANEL
        CLRA
        RTS
        END   MAIN
"""
    mended = mend(text, "4 MHz", board=PANEL)
    # 2 + 2 * 5 + 5 = 17 cycles of 32: 15 more, once.
    assert mended.new_cycles - mended.old_cycles == 15


def test_what_no_pad_is_good_for_is_left_with_the_reason(mend):
    board = "parts:\n  display: {family: 44780, at: $9000, grade: 5 V}\n"
    text = """\
        ORG   $C000
MAIN    LDA   #1
        STA   $9000
        LDA   #$30
        STA   $9000
        CLRA
        RTS
        END   MAIN
"""
    mended = mend(text, "2 MHz", board=board)
    # A clear takes up to 2.16 ms: 4320 cycles, and 7 are there.
    ((_, reason),) = mended.left
    assert reason.endswith(
        "4313 cycles are more than a pad is good for; put a wait between them; or read 44780 (command) until it is $00 "
        "in the bits $80, its busy flag: that lasts as long as the part takes at every clock, and a read more"
    )
    assert [finding.measured_cycles for finding in mended.findings] == [7]


def test_an_accepted_pair_is_not_padded(mend):
    text = FILL.replace("#32\n", "#32\n").replace(
        "STA   PANEL\n", "STA   PANEL ; timing: accept access-too-soon because the panel is off\n"
    )
    assert mend(text, "2 MHz", "1 MHz", board=PANEL).mends == []


def test_code_that_would_grow_over_what_is_behind_it_is_left(mend):
    # 19 bytes up to the RTS, and the table stands right behind.
    text = FILL.replace("        RTS\n", "        RTS\n        ORG   $C00F\nTABLE   FCB   1,2,3\n")
    mended = mend(text, "2 MHz", "1 MHz", board=PANEL, states=0)
    assert mended.mends == []
    assert "grow over" in mended.left[0][1]


GAPS = """\
PORT    EQU   $9000
        ORG   $C000
MAIN    STA   PORT
        LDB   #1
        STA   PORT
        CLRA
        RTS
        END   MAIN
"""


def test_keeping_gaps_doubles_7_cycles_once_and_needs_no_part(mend):
    mended = mend(GAPS, "2 MHz", "1 MHz", gaps_at=("PORT",), keep_gaps=True)
    assert mended.line(5) == "        LEAU  ,U  ; timing: leave because accesses were 7 us apart"
    assert mended.new_cycles - mended.old_cycles == 7


def test_without_being_asked_gaps_are_not_kept(mend):
    assert mend(GAPS, "2 MHz", "1 MHz", gaps_at=("PORT",)).mends == []


def test_a_gap_with_a_wait_in_it_is_kept_after_the_wait_is_retimed(mend):
    text = GAPS.replace(
        "        LDB   #1\n", "        LDX   #100\nHOLD    LEAX  -1,X\n        BNE   HOLD\n        LDB   #1\n"
    )
    mended = mend(text, "2 MHz", "1 MHz", gaps_at=("PORT",), keep_gaps=True)
    # 3 + 100 * 8 + 2 + 5 = 810 us are 1620 cycles: 1610 with the new count, and a pad of 10.
    assert mended.mends == [("retime", "HOLD", "proved"), ("pad", "PORT", "proved")]
    assert mended.new_cycles - mended.old_cycles == 810


def test_gaps_of_an_output_that_can_hurt_are_shown_not_written(mend):
    board = "parts:\n  striker: {family: output, at: PORT, hurts: true}\n"
    mended = mend(GAPS, "2 MHz", "1 MHz", board=board, keep_gaps=True)
    assert mended.mends == [("pad", "PORT", "shown")]
    assert mended.text == GAPS


def test_a_pad_in_a_rom_of_one_wait_state_is_counted_with_its_own_fetches(mend):
    # STA 5 + 3, LEAX 5 + 2, BNE 3 + 2: 20 cycles are 6.67 us at 3 MHz; 8 us are 24.
    # ORCC #0 is 3 cycles and waits for 2 fetches.
    board = f"{PANEL}memory:\n  rom: {{from: $C000, to: $FFFF, kind: rom, waits: 1}}\n"
    mended = mend(FILL, "3 MHz", "1 MHz", board=board)
    assert [(each.kind, each.result.split("; over")[0]) for each in mended.plan.mends] == [
        ("pad", "5 cycles more (1.667 us at 3 MHz), 4 needed; 2 bytes")
    ]
    assert mended.findings == []


def test_no_pad_stands_where_an_interrupt_is_kept_out_for_one_instruction_more(mend):
    text = """\
PANEL   EQU   9000H
        ORG   0100H
MAIN:   LD    (PANEL),A
        EI
        LD    (PANEL),A
        XOR   A
        RET
        END   MAIN
"""
    # 13 + 4 T-states of the 32 that 8 us are at 4 MHz; behind EI the last place on the way would be.
    mended = mend(text, "4 MHz", "1 MHz", board=PANEL, cpu="z80", states=0)
    assert mended.mends == [("pad", "PANEL", "proved")]
    lines = [line.split(";")[0].split() for line in mended.text.splitlines()]
    assert lines[lines.index(["EI"]) + 1] == ["LD", "(PANEL),A"]
