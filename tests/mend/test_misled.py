"""Pads between a place of the program and what an instruction counts from it."""

import pytest

PANEL = "parts:\n  panel: {family: 9918, at: PANEL, mode: graphics, clock: 10.738635 MHz}\n"
TEXT = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    LDB   $100
        %s
FILL    STA   PANEL
        BRA   NEXT
NEXT    BRA   LAST
LAST    STA   PANEL
        LDA   TABLE
        CLRA
        RTS
TABLE   FCB   1,2
        END   MAIN
"""


@pytest.mark.parametrize("told", ["FILL+4", "#FILL+4", "NEXT-4", "$C00A"])
def test_a_pad_in_between_is_not_made(mend, told):
    # STA 5, BRA 3 twice, STA 5: 11 of 16 cycles. The pad comes in behind FILL, whose third byte is its last.
    mended = mend(TEXT % f"LDX   {told}", "2 MHz", "1 MHz", board=PANEL, states=0)
    assert mended.mends == []
    said = told.removeprefix("#")
    ((name, reason),) = mended.left
    assert name == "PANEL"
    assert reason.endswith(f"; {said} in line 4 would be another place: it does not move with the code")


@pytest.mark.parametrize("told", ["FILL+1", "LAST-3", "TABLE+1", "#TABLE+1", "#$C00A", "#LAST-FILL"])
def test_what_moves_with_the_code_or_is_no_place_is_in_nobody_s_way(mend, told):
    mended = mend(TEXT % f"LDX   {told}", "2 MHz", "1 MHz", board=PANEL, states=0)
    assert mended.mends == [("pad", "PANEL", "proved")]
