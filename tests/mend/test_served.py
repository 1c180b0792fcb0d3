"""Waits that a part's limit explains: one that is long enough at the new clock too is left alone."""

DIAL = "parts: {dial: {family: 44780, grade: 5 V, at: DIAL}}\n"
SHOW = """\
DIAL    EQU   $8000
GO      LDA   #$01
        STA   DIAL
        LDX   #{count}
REST    LEAX  -1,X
        BNE   REST
        LDA   #$06
        STA   DIAL
        RTS
"""


def test_a_wait_of_5_ms_for_a_clear_of_2_16_ms_stays_as_it_is_at_2_mhz(mend):
    # 625 turns of 8 are 5 ms at 1 MHz, 2.5 ms at 2 MHz.
    mended = mend(SHOW.format(count=625), "2 MHz", "1 MHz", board=DIAL, states=0)
    assert mended.mends == []
    ((subject, reason),) = mended.left
    assert subject == "REST"
    # 3 + 5000 + 2 + 5 cycles
    assert reason == "long enough as it is: 44780 needs 2.16 ms there, and 2.505 ms are left at 2 MHz"


def test_one_that_is_not_long_enough_is_retimed(mend):
    mended = mend(SHOW.format(count=500), "2 MHz", "1 MHz", board=DIAL, states=0)
    assert [(kind, subject) for kind, subject, _ in mended.mends] == [("retime", "REST")]


def test_one_much_longer_than_the_limit_is_there_for_something_else(mend):
    # 50 ms beside a part that needs 2.16 ms
    mended = mend(SHOW.format(count=6250), "2 MHz", "1 MHz", board=DIAL, states=0)
    assert [(kind, subject) for kind, subject, _ in mended.mends] == [("retime", "REST")]


def test_without_a_board_nothing_explains_it(mend):
    mended = mend(SHOW.format(count=625), "2 MHz", "1 MHz", states=0)
    assert [(kind, subject) for kind, subject, _ in mended.mends] == [("retime", "REST")]


def test_a_wait_whose_callers_decide_at_run_time_is_said_and_left_where_its_unit_can_t_be_kept(mend):
    text = """\
        ORG   $C000
MAIN    LDB   $4000
        BSR   PAUSE
        LDB   #100
        BSR   PAUSE
        RTS
PAUSE   DECB
        BNE   PAUSE
        RTS
        END   MAIN
"""
    mended = mend(text, "500 kHz", "1 MHz", states=0)
    reasons = [reason for subject, reason in mended.left if "run time" in reason]
    assert reasons == [
        "it takes 5*B + 5 cycles, and some of its callers decide at run time; "
        "change its own count by hand, or what they hand over"
    ]
