"""Published bit times and tones of code: the cycles between two accesses, and what they are in baud and hertz."""

from fractions import Fraction

import pytest
from clockhop.quantity import Clock, Duration
from clockhop.rules.frame import Edge
from clockhop.rules.rate_off import rate_text
from clockhop.rules.tone_changes import pitch
from clockhop.timing import Query

PORT = "parts: {{gate: {{family: output, at: {}}}}}\n"
TONE_6502 = """\
        ORG $1000
TONE:   LDX #222
        JSR DELAY
        LDA $8000
        EOR #$80
        STA $8000
        JMP TONE
DELAY:  DEX
        BNE DELAY
        RTS
"""
# The two jumps are taken, as in the published pass: JR costs the same.
TAPE_Z80 = """\
        ORG 8000H
PASS:   LD B,62
        JR ON
ON:     LD A,C
        BIT 7,B
TURN:   DJNZ TURN
        JR OVER
OVER:   OUT (0FEH),A
        JR PASS
"""
RECEIVE_6809 = """\
        ORG $1000
BITS    JSR DELAY
        ROL <$40
        RORA
        BCC BITS
        RTS
DELAY   LDX #1132
TURN    LEAX -1,X
        BNE TURN
        RTS
"""
HALF_6809 = """\
        ORG $1000
BITS    JSR HALF
        CLR <$40
        BRA BITS
HALF    LDX #566
        BRA TURN
TURN    LEAX -1,X
        BNE TURN
        RTS
"""


@pytest.mark.parametrize(
    ("text", "cpu", "port", "cycles"),
    [
        (TONE_6502, "6502", "$8000", 1136),
        # 855 from OUT to OUT, and the 12 of the JR that brings it round here.
        (TAPE_Z80, "z80", "io:$FE", 855 + 12),
        (RECEIVE_6809, "6809", "$40", 9083),
        # 4547 for the call and the routine; CLR and BRA are 6 and 3 here.
        (HALF_6809, "6809", "$40", 4547 + 9),
    ],
)
def test_the_cycles_of_a_published_loop(case, text, cpu, port, cycles):
    found = case(text, board=PORT.format(port), cpu=cpu)
    (part,) = found.board.parts
    (address,) = part.ports.values()

    def written(site):
        return site.access.way == "write" and site.access.address == address

    (gap,) = found.timings.gaps(Query(written, written, lambda _: False))
    assert (gap.fewest, gap.most) == (cycles, cycles)


def test_what_published_cycles_are_in_hertz_and_baud():
    # Half a wave of 1136 cycles of 1 MHz: 440.14 Hz; 9083 cycles are 9.083 ms, where 110 baud are 9.0909.
    assert pitch(Clock(Fraction(10**6)).duration(2 * 1136)) == "440.141 Hz"
    assert Clock(Fraction(10**6)).duration(9083).text() == "9.083 ms"
    # 83 + 14 T-states for each of HL, of 3.072 MHz: 86 printed as 2387 baud, 17 as 0.3 % slow for 9600.
    t_states = Clock(Fraction(3_072_000))
    assert rate_text(t_states.duration(83 + 14 * 86)) == "2386.95 baud"
    assert rate_text(t_states.duration(83 + 14 * 17)) == "9570.09 baud"
    assert t_states.duration(Fraction(14, 2)).text(2) == "2.3 us"
    # 8 cycles a bit of 3.579545 MHz / 4 are printed as 111861 bits a second.
    assert rate_text(Clock(Fraction(3_579_545, 4)).duration(8)) == "111861 baud"
    assert Duration(Fraction(1, 9600)).cycles(Clock(Fraction(1_023_000))) == Fraction(1705, 16)


def test_17_cycles_for_57600_baud_bring_the_tenth_edge_a_fifth_of_a_bit_early():
    early, _ = Edge(Fraction(10), 170, 170).off(Clock(Fraction(10**6)), Duration(Fraction(1, 57600)))
    assert early == 10 - Fraction(170 * 576, 10_000)
