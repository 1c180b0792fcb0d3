"""Numbers that a part counts the clock by: timers, dividers, tones."""

VIA = "written_for: 2 MHz\nparts: {via: {family: 6522, at: $8000}}\n"
TIMER = """\
        ORG   $C000
GO      LDA   #$40
        STA   $800B
        LDD   #19998
        STB   $8004
        STA   $8005
HERE    BRA   HERE
        END   GO
"""


def test_a_timer_of_10_ms_gets_its_number_for_4_mhz_and_a_note_of_that_clock(mend):
    mended = mend(TIMER, "4 MHz", "2 MHz", board=VIA, states=0)
    # 19998 + 2 periods at 2 MHz are 10 ms; 39998 + 2 at 4 MHz.
    assert mended.mends == [("number", "via timer 1", "proved")]
    assert mended.line(4) == "        LDD   #39998  ; timing: written for 4 MHz"
    (made,) = mended.plan.mends
    assert made.result == "10 ms at 4 MHz: exactly as before"
    assert made.evidence.lines == (
        "nothing but the part is given its number, in all states",
        "counted again on the edited text by the part's formula: N + 2 periods of the bus clock: "
        "R6522 VIA text transcription, timer 1/2",
        "rests on the 6809 table and the data of 6522, entered only as the text shows",
    )
    # On the way back the note gives the old clock.
    back = mend(mended.text, "2 MHz", "4 MHz", board=VIA, states=0)
    assert back.line(4) == "        LDD   #19998  ; timing: written for 2 MHz"


SYMBOL = """\
LATCH   EQU   $4E1E     ; 19998
        ORG   $C000
GO      LDA   #$40
        STA   $800B
        LDA   #<LATCH
        STA   $8004
        LDA   #>LATCH
        STA   $8005
HERE    BRA   HERE
        END   GO
"""


def test_both_bytes_of_a_constant_are_one_number(mend):
    mended = mend(SYMBOL, "3 MHz", "2 MHz", board=VIA, states=0)
    # 30000 periods: 29998 is $752E.
    assert mended.mends == [("number", "via timer 1", "proved")]
    assert mended.line(1) == "LATCH   EQU   $752E     ; 19998"


def test_a_constant_that_is_used_elsewhere_is_shown(mend):
    text = SYMBOL.replace("HERE    BRA", "        LDX   #LATCH\nHERE    BRA")
    mended = mend(text, "4 MHz", "2 MHz", board=VIA, states=0)
    assert mended.mends == [("number", "via timer 1", "shown")]
    assert mended.plan.mends[0].evidence.lines == ("LATCH is used in line 9 as well",)


def test_a_number_that_goes_elsewhere_too_is_shown(mend):
    text = TIMER.replace("HERE    BRA", "        STD   $40\nHERE    BRA")
    mended = mend(text, "4 MHz", "2 MHz", board=VIA, states=0)
    assert mended.plan.mends[0].evidence.lines == ("its number is read behind it as well, in A, B",)


def test_a_part_that_can_hurt_is_shown(mend):
    mended = mend(TIMER, "4 MHz", "2 MHz", board=VIA.replace("at: $8000", "at: $8000, hurts: true"), states=0)
    assert [m[2] for m in mended.mends] == ["shown"]


def test_where_no_number_keeps_it_the_reason_is_left(mend):
    text = TIMER.replace("19998", "49998")
    mended = mend(text, "4 MHz", "2 MHz", board=VIA, states=0)
    assert mended.mends == []
    (reason,) = [reason for name, reason in mended.left if name == "via timer 1"]
    assert "no number keeps it: 65535, the nearest, makes it 34.5 % too short" in reason


SERIAL = "parts: {line: {family: 6850, at: $8000, clock: bus, baud: 9600}}\n"
BY_16 = """\
        ORG   $C000
GO      LDA   #$03
        STA   $8000
        LDA   #$15
        STA   $8000
HERE    BRA   HERE
        END   GO
"""


def test_a_line_of_9600_baud_gets_another_divider_and_no_note(mend):
    # 153.6 kHz over 16, 614.4 kHz over 64.
    mended = mend(BY_16, "614.4 kHz", "153.6 kHz", board=SERIAL, states=0)
    assert mended.mends == [("number", "line bit rate", "proved")]
    assert mended.line(4) == "        LDA   #$16"
