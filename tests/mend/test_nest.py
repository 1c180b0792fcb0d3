"""Nests whose one count does not come near enough: both are chosen together."""

from fractions import Fraction

MOS = """\
        ORG   $C000
MAIN    JSR   PEAL
        LDX   #0
        LDY   #0
        TXA
        RTS
PEAL    LDY   #10       ; strokes
OUTER   LDX   #50       ; of the clapper
INNER   DEX
        BNE   INNER
        DEY
        BNE   OUTER
        RTS
        END   MAIN
"""
Z80 = """\
        ORG   0C000H
MAIN:   CALL  PEAL
        LD    BC,0
        OR    A
        RET
PEAL:   LD    C,0AH     ; strokes
OUTER:  LD    B,STROKE
INNER:  DJNZ  INNER
        DEC   C
        JR    NZ,OUTER
        RET
STROKE  EQU   50
        END   MAIN
"""


def test_one_number_is_changed_where_that_is_near_enough(mend):
    mended = mend(MOS, "2 MHz", "1 MHz", cpu="6502", states=0)
    # 2 + 10 * (2 + 50 * 5 - 1 + 5) - 1 + 6 = 2567 become 5134; 7 + 10 * (102 * 5 + 6) = 5167, 0.64 % more.
    assert mended.mends == [("retime", "PEAL", "proved")]
    assert [mended.line(n)[8:18] for n in (7, 8)] == ["LDY   #10 ", "LDX   #102"]
    assert mended.plan.mends[0].result.startswith("5167 cycles, ")


def test_within_0_1_percent_both_numbers_of_a_nest_on_a_6502_are_changed(mend):
    mended = mend(MOS, "2 MHz", "1 MHz", cpu="6502", states=0, within=Fraction(1, 1000))
    # 5134 to 5139: of all 7 + y * (x * 5 + 6) the next is 7 + 8 * 641 = 5135.
    assert mended.mends == [("retime", "PEAL", "proved")]
    assert mended.line(7) == "PEAL    LDY   #8        ; strokes; timing: takes 2.567 ms"
    assert mended.line(8) == "OUTER   LDX   #127      ; of the clapper"
    assert mended.plan.mends[0].result == "5135 cycles, 2.5675 ms at 2 MHz: 500 ns longer"


def test_both_numbers_of_a_nest_on_a_z80_are_changed_where_neither_reaches_alone(mend):
    mended = mend(Z80, "6 MHz", "1 MHz", cpu="z80")
    # 7 + 10 * (7 + 50 * 13 - 5 + 4 + 12) - 5 + 10 = 6692 become 40152. B counts to 256 at most, 33472; 61 turns of C
    # are 40760. 12 + 20 * (153 * 13 + 18) = 40152.
    assert mended.mends == [("retime", "PEAL", "proved")]
    assert mended.line(6) == "PEAL:   LD    C,14H     ; strokes; timing: takes 6.692 ms"
    assert mended.line(12) == "STROKE  EQU   153"
    assert mended.plan.mends[0].result == "40152 cycles, 6.692 ms at 6 MHz: exactly as long"
    assert mended.new_cycles - mended.old_cycles == 40152 - 6692
