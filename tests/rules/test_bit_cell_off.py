"""Serial lines made by the program: every bit of a frame at its place, sending and receiving."""

from fractions import Fraction

import pytest
from clockhop.quantity import Clock, parse_clock
from clockhop.rules import Finding, Holds, Margin, Open, bit_cell_off, margins

BOARD = (
    "written_for: 1 MHz\nparts: {{log: {{family: softserial, baud: {}, "
    "lines: {{out: {{at: PORT, bit: 0}}, in: {{at: PORT, bit: 7}}}}}}}}\n"
)
# From the end of CLR PORT: LDB 2, BSR 7, DELAY 3 + 80 + 5, STA up to its write 5: 102 cycles. Round the loop 7 + 88 for
# the delay, LSRA 2, DECB 2, BNE 3, STA 5: 107. To the stop bit LDA comes in between, 2 more.
# The start bit is looked for every 8 cycles (LDA 5, BMI 3). To the first look 3 + 3 + 40 + 2 + 95 + 5 = 148, then
# BSR 95, ROLA 2, ROR 7, DECB 2, BNE 3, LDA 5: 114 a bit.
TEXT = """\
PORT    EQU $8000
        ORG $C000
GO      LDA #'A'
        JSR SEND
        JSR RECV
        BRA GO
SEND    CLR PORT
        LDB #8
        BSR DELAY
SBIT    STA PORT
        BSR DELAY
        LSRA
        DECB
        BNE SBIT
        LDA #1
        STA PORT
        BSR DELAY
        RTS
DELAY   LDX #10
TURN    LEAX -1,X
        BNE TURN
        RTS
RECV    LDA PORT
        BMI RECV
        LDX #5
HALF    LEAX -1,X
        BNE HALF
        LDB #8
RBIT    BSR DELAY
        LDA PORT
        ROLA
        ROR BYTE
        DECB
        BNE RBIT
        RTS
BYTE    RMB 1
"""


def test_nine_bits_of_107_cycles_are_half_a_bit_early_for_8929_baud(judge):
    # A bit of 8929 baud is 112 cycles of 1 MHz; 102 + 7 * 107 + 109 are 960, 9 * 112 are 1008: 0.43 bit early.
    sent, received = judge(bit_cell_off, TEXT, "1 MHz", board=BOARD.format(8929))
    assert sent.message == (
        "log sent with 107 to 109 cycles a bit: after 9 bits its edge is 0.43 bit early at 1 MHz for 8929 baud; "
        "0.19 bit is the share of one side; 111.99 cycles are a bit"
    )
    assert (sent.severity, str(sent.place)) == ("warning", "tower.asm:10:9")
    assert "9 bits: 960 cycles, 0.43 bit early" in sent.notes
    # Looks at 148 + 114 k to 8 more; 8.5 bits are 952: 946 to 954.
    assert isinstance(received, Holds)
    assert isinstance(judge(bit_cell_off, TEXT, "2 MHz", board=BOARD.format(8929))[0], Finding)


def test_at_twice_the_clock_and_twice_the_rate_all_is_as_before(judge):
    (sent, received) = judge(bit_cell_off, TEXT, "1 MHz", "2 MHz", board=BOARD.format(9375))
    assert (sent.severity, sent.clock) == ("error", parse_clock("2 MHz"))
    # 213.3 cycles are a bit at 2 MHz; 960 cycles are 4.5 bits of it.
    assert "4.50 bit early" in sent.message
    assert "213.33 cycles are a bit" in sent.message
    assert received.measured_cycles == 114


@pytest.mark.parametrize("way", ["sent", "received"])
def test_the_margins_of_a_frame_end_where_the_rule_begins(case, judge, way):
    board = BOARD.format(9000)
    rows = [row for row in margins(case(TEXT, "1 MHz", board=board)) if isinstance(row, Margin)]
    (row,) = [row for row in rows if row.kind == "rate" and way in row.subject]
    step = Fraction(1, 1000)
    for edge, inside in ((row.highest.hz, -step), (row.lowest.hz, step)):
        for hz, kind in ((edge + inside, Holds), (edge, Holds), (edge - inside, Finding)):
            found = judge(bit_cell_off, TEXT, f"{hz} Hz", board=board, written_for="1 MHz")
            assert type(found[way == "received"]) is kind
            assert (row.at(Clock(hz)).seconds >= 0) is (kind is Holds)


def test_without_a_rate_or_a_frame_that_is_said(judge):
    board = BOARD.format(9600).replace("baud: 9600, ", "")
    assert (
        judge(bit_cell_off, TEXT, "1 MHz", board=board)[0].reason
        == "state baud: to judge the bits of a frame"
    )
    silent = judge(bit_cell_off, "PORT EQU $8000\nGO CLR PORT\n RTS\n", "1 MHz", board=BOARD.format(9600))
    assert [type(each) for each in silent] == [Open, Open]
    assert silent[0].reason.startswith("no frame is found")
