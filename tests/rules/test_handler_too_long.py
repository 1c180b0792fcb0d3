"""Handlers that take longer than the time until the next interrupt."""

from clockhop.quantity import parse_duration
from clockhop.rules import Holds, Open, handler_too_long

TICK = """\
GO      BRA   GO
TICK    LDX   #{}
BUSY    LEAX  -1,X
        BNE   BUSY
        RTI
"""
BOARD = "interrupts: {IRQ: {entry: TICK, period: 20 ms}}\n"


def test_a_handler_of_20037_cycles_is_too_long_for_20_ms_at_1_mhz_and_fits_at_2_mhz(judge):
    # entering 19, LDX 3, 2500 turns of 8, RTI 15
    (finding,) = judge(handler_too_long, TICK.format(2500), "1 MHz", "2 MHz", board=BOARD)
    assert finding.message == (
        "TICK takes up to 20037 cycles with its entry, 20.037 ms at 1 MHz; IRQ comes every 20 ms"
    )
    assert (finding.severity, finding.clock.text(), finding.place.line) == ("error", "1 MHz", 2)

    (holds,) = judge(handler_too_long, TICK.format(2500), "2 MHz", board=BOARD)
    assert holds == Holds("TICK", parse_duration("10.0185 ms"), parse_duration("20 ms"), None)


def test_a_handler_that_loops_on_a_port_is_not_judged(judge):
    text = "PORT EQU $8000\nGO BRA GO\nTICK LDA PORT\n BPL TICK\n RTI\n"
    board = BOARD + "parts: {line: {family: output, at: PORT}}\n"
    (verdict,) = judge(handler_too_long, text, "1 MHz", board=board)
    assert verdict == Open(
        "TICK", "loops until what is read at PORT changes; state how often it runs in a timing note"
    )


def test_an_interrupt_without_a_period_has_nothing_to_keep(judge):
    board = BOARD.replace(", period: 20 ms", "")
    assert judge(handler_too_long, TICK.format(2500), "1 MHz", board=board) == []


def test_a_handler_of_a_z80_counts_its_entry_by_the_mode_the_program_sets(judge):
    # 19 by the table that I points into, EX 4, LD 7, 99 turns of 13 and one of 8, EX 4, EI 4, RETI 14
    text = """\
        ORG 8000H
GO:     IM 2
        EI
STAY:   JR STAY
TICK:   EX AF,AF'
        LD B,100
BUSY:   DJNZ BUSY
        EX AF,AF'
        EI
        RETI
"""
    board = "interrupts: {CTC3: {entry: TICK, period: 1 ms}}\n"
    (finding,) = judge(handler_too_long, text, "1 MHz", board=board, cpu="z80")
    assert finding.measured_cycles == 19 + 4 + 7 + 1295 + 4 + 4 + 14
