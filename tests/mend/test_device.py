"""Loops that read what may be a device: how often they do is more than time."""

import pytest

STROBE = """\
TOGGLE  EQU   $C030
        ORG   $C000
MAIN    LDB   #3
AGAIN   LDA   TOGGLE
        DECB
        BNE   AGAIN
        CLRA
        RTS
        END   MAIN
"""


def test_a_count_of_reads_of_what_may_be_a_device_stays(mend):
    # 3 turns of LDA 5, DECB 2, BNE 3.
    mended = mend(STROBE, "2 MHz", "1 MHz", states=0)
    assert mended.mends == []
    reason = "another count would read TOGGLE, which may be a device, another number of times"
    assert dict(mended.left)["AGAIN"] == (f"30 cycles are 15 us at 2 MHz; it lasts at 1 MHz 30 us; {reason}")


@pytest.mark.parametrize(
    ("change", "board"),
    [
        (("$C030", "$30"), ""),
        (("MAIN    LDB", "MAIN    STB   TOGGLE\n        LDB"), ""),
        (("$C030", "$C030"), "memory:\n  table: {from: $C030, to: $C03F, kind: ram}\n"),
    ],
)
def test_reads_of_memory_are_time_alone(mend, change, board):
    mended = mend(STROBE.replace(*change), "2 MHz", "1 MHz", board=board, states=0)
    assert [(kind, subject) for kind, subject, _ in mended.mends] == [("retime", "AGAIN")]


def test_a_count_around_which_the_reads_stay_as_they_are_is_changed(mend):
    text = """\
TOGGLE  EQU   $C030
        ORG   $C000
MAIN    LDB   #100
BEEP    LDA   TOGGLE
        LDX   #40
HALF    LEAX  -1,X
        BNE   HALF
        DECB
        BNE   BEEP
        CLRA
        RTS
        END   MAIN
"""
    # A turn is LDA 5, LDX 3, 40 of 8, DECB 2, BNE 3: 333; 666 are LDX #82 and 3 more.
    mended = mend(text, "2 MHz", "1 MHz", states=0)
    assert mended.mends == [("retime", "BEEP", "proved")]
    assert mended.line(3) == "MAIN    LDB   #100"
    assert mended.line(5).startswith("        LDX   #82")
