"""Accesses that come too soon: the code, the finding, and the neighbour that is silent."""

from fractions import Fraction

from clockhop.quantity import Duration
from clockhop.rules import Holds, access_too_soon

LCD = "parts:\n  lcd: {family: 44780, ports: {command: LCDCMD, data: LCDDATA}}\n"
TWO_WRITES = """\
LCDCMD  EQU   $8000
LCDDATA EQU   $8001
GO      LDA   #$0C
        STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        RTS
"""


def us(text):
    return Duration(Fraction(text) / 1_000_000)


def kinds(verdicts):
    return [type(verdict) for verdict in verdicts]


def test_writes_62_cycles_apart_are_too_close_at_2_mhz_only(judge):
    (holds,) = judge(access_too_soon, TWO_WRITES, "1 MHz", board=LCD)
    assert isinstance(holds, Holds)
    # 62 cycles in 999/19 us: 1.17918 MHz
    assert (holds.measured, holds.limit) == (us("62"), us("999/19"))
    assert holds.holds_up_to.text(6, "down") == "1.17917 MHz"

    (finding,) = judge(access_too_soon, TWO_WRITES, "1 MHz", "2 MHz", board=LCD)
    assert (finding.place.line, finding.measured, finding.limit) == (8, us("31"), us("999/19"))
    assert finding.message == (
        "LCDCMD written 62 cycles after line 4, 31 us at 2 MHz; 44780 needs 52.6 us; pad 44 cycles"
    )
    assert finding.notes == (
        "tower.asm:4: STA LCDCMD",
        "tower.asm:5: LDB #11",
        "tower.asm:6: WAIT DECB",
        "tower.asm:8: STA LCDCMD",
        "44780: 52.579 us after display control (oscillator at its slowest): "
        "HD44780U Dot Matrix LCD Controller/Driver data sheet ADE-207-272(Z), Table 6",
        "no mode is stated for lcd: 8-bit, the strictest, is taken",
        "no grade is stated for lcd: 3 V, the strictest, is taken",
        "no clock is stated for lcd: 190 kHz, the slowest it may have, is taken",
    )
    assert (finding.goal.cycles, finding.goal.path) == (44, (1, 2, 3, 5))
    assert (finding.severity, finding.short_before) == ("error", False)
