"""What handlers find in a register of the main program, and accesses of which nobody knows where they go."""

import pytest
from clockhop.rules import Finding, astray, timer_changes

COMPARE = """\
TCNT    EQU $0E
TOC2    EQU $18
        ORG $0
GO      LDX #$1000
        LDAA #$40
        STAA $22,X
        CLI
HERE    BRA HERE
OC2     LDD TCNT,X
        ADDD #20000
        STD TOC2,X
        RTI
        ORG $DC
        JMP OC2
"""
BOARD = (
    "written_for: 2 MHz\nentries: [GO]\ninterrupts: {OC2: {entry: OC2}}\n"
    "parts: {chip: {family: 68HC11io, at: $1000}}\n"
)


def test_a_handler_finds_the_1000_that_the_main_program_keeps_in_x(case):
    found = case(COMPARE, "3 MHz", cpu="68hc11", board=BOARD)
    (finding,) = (each for each in timer_changes.judge(found) if isinstance(each, Finding))
    assert finding.message.startswith("chip compare 2: N 20000, P 1 makes 10 ms at 2 MHz")
    assert str(finding.place) == "tower.asm:10:9"
    assert astray(found.timings, found.board) == ()


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("HERE    BRA HERE", "HERE    LDX #$2000\n        BRA HERE"),  # another constant
        ("HERE    BRA HERE", "HERE    INX\n        BRA HERE"),
        ("HERE    BRA HERE", "HERE    LDX $80\n        BRA HERE"),
        ("GO      LDX #$1000\n", "GO      CLI\n        LDX #$1000\n"),  # the handler may come first
        ("HERE    BRA HERE", "HERE    JSR $F000\n        BRA HERE"),  # what is there may load it
    ],
)
def test_where_it_may_hold_another_value_the_2_accesses_are_counted(case, before, after):
    text = COMPARE.replace(before, after)
    found = case(text, "3 MHz", cpu="68hc11", board=BOARD)
    assert not [each for each in timer_changes.judge(found) if isinstance(each, Finding)]
    (row,) = astray(found.timings, found.board)
    assert (row.through, row.count) == ("X", 2)
    assert row.first.line == 9 + text.count("\n") - COMPARE.count("\n")


def test_a_table_of_the_program_a_stack_and_an_index_too_short_for_the_part_are_no_question(case):
    text = """\
        ORG $400
GO      LDA TABLE,X
        STA $7F00,X
        PHA
        PLA
        LDA (PLACE),Y
        STA $BFF0,X
HERE    JMP HERE
TABLE   .BYTE 1,2
PLACE   EQU $20
"""
    board = "parts: {via: {family: 6522, at: $C000}}\n"
    found = case(text, cpu="6502", board=board)
    assert [(row.through, row.count, row.first.line) for row in astray(found.timings, found.board)] == [
        ("X", 1, 7),
        ("pointers that are computed or kept in memory", 1, 6),
    ]
    bare = case(text, cpu="6502", board="clocks: [1 MHz]\n")
    assert astray(bare.timings, bare.board) == ()
