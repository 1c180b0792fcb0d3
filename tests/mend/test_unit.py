"""A routine that many callers, or callers at run time, hand a count: its unit is kept."""

import pytest

UNKNOWN = (
    "        ORG   $C000\nMAIN    LDA   COUNT\n        BSR   MSECS\n        LDA   #25\n        BSR   MSECS\n"
    "        CLRA\n        RTS\nMSECS   LDX   #124\nMS1     LEAX  -1,X\n        BNE   MS1\n        DECA\n"
    "        BNE   MSECS\n        RTS\nCOUNT   RMB   1\n        END   MAIN\n"
)


def test_the_count_of_a_millisecond_is_changed_and_no_caller(mend):
    mended = mend(UNKNOWN, "2 MHz", "1 MHz", states=0)
    # 3 + 124 * 8 + 2 + 3 are 1000 cycles for each of A; 3 + 249 * 8 + 5 are 2000, and 5 more before RTS make it exact.
    (made,) = mended.plan.mends
    assert (made.subject, made.evidence.grade) == ("MSECS", "proved")
    assert made.result == "2000*A + 10 cycles, at 2 MHz exactly as long whatever they hand over"
    assert mended.line(8) == "MSECS   LDX   #249  ; timing: written for 2 MHz"
    assert mended.text.count("LDA   #25\n") == 1


def test_at_the_old_clock_again_the_count_is_the_old_one(mend):
    mended = mend(UNKNOWN, "2 MHz", "1 MHz", states=0)
    back = mend(mended.text, "1 MHz", "1 MHz", states=0)
    assert back.line(8) == "MSECS   LDX   #124  ; timing: written for 1 MHz"


def test_a_routine_whose_turn_is_the_unit_gets_pads_where_a_caller_could_count_no_further(mend):
    text = (
        "        ORG   $C000\nMAIN    LDY   COUNT\n        BSR   PAUSE\n        LDY   #60000\n        BSR   PAUSE\n"
        "        CLRA\n        RTS\nPAUSE   LEAY  -1,Y\n        BNE   PAUSE\n        RTS\nCOUNT   RMB   2\n"
        "        END   MAIN\n"
    )
    mended = mend(text, "2 MHz", "1 MHz", states=0)
    assert mended.mends == [("retime", "PAUSE", "proved")]
    assert mended.plan.mends[0].result.startswith("16*Y + 10 cycles, ")
    assert "LDY   #60000\n" in mended.text


@pytest.mark.parametrize(("calls", "changed"), [(3, 3), (6, 1)])
def test_many_callers_keep_their_counts_and_few_change_them(mend, calls, changed):
    text = (
        "        ORG   $C000\nMAIN    NOP\n"
        + "".join(f"        LDX   #{count}00\n        BSR   PAUSE\n" for count in range(1, calls + 1))
        + "        CLRA\n        RTS\nPAUSE   LEAX  -1,X\n        BNE   PAUSE\n        RTS\n        END   MAIN\n"
    )
    mended = mend(text, "2 MHz", "1 MHz", states=1)
    assert len(mended.mends) == changed
