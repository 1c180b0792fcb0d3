"""Timed loops whose time depends on where they lie."""

from clockhop.rules import page_crossing_changes

WAIT = " .org ${}\nGO LDX #100\nWAIT DEX\n BNE WAIT\n RTS\n"
TABLE = """\
        .org $0200
GO      LDX #99
PLAY    LDA NOTES,X
        STA BELL
        DEX
        BPL PLAY
        RTS
BELL = $8000
        .org ${}
NOTES   .res 100
"""
BOARD = "parts:\n  bell: {family: output, at: BELL}\n"


def test_a_wait_across_a_page_costs_a_cycle_more_in_each_of_99_turns(judge):
    (note,) = judge(page_crossing_changes, WAIT.format("02FC"), cpu="6502")
    assert note.message == (
        "WAIT lies across a page, where BNE in line 4 takes more; an edit above it changes its time, align it"
    )
    # 100 turns of 5, one cycle less for the last, 99 more for the page
    assert (note.severity, note.place.line, note.measured_cycles) == ("note", 3, 598)


def test_within_a_page_there_is_nothing_to_say(judge):
    assert judge(page_crossing_changes, WAIT.format("0200"), cpu="6502") == []
    # The branch ends with the page: what counts is the page of what follows it.
    assert judge(page_crossing_changes, WAIT.format("02FA"), cpu="6502") == []


def test_where_the_source_does_not_say_where_it_lies_the_time_is_a_range(judge):
    (note,) = judge(page_crossing_changes, WAIT.replace(" .org ${}\n", ' .segment "CODE"\n'), cpu="6502")
    assert note.message == (
        "WAIT takes 499 to 598 cycles: nothing says where it lies, and BNE in line 4 takes more across a page; align it"
    )


def test_a_table_across_a_page_makes_some_turns_longer(judge):
    (note,) = judge(page_crossing_changes, TABLE.format("03C0"), cpu="6502", board=BOARD)
    assert note.message == (
        "PLAY reads NOTES across a page, where LDA in line 3 takes more in some turns; align NOTES"
    )
    assert judge(page_crossing_changes, TABLE.format("0300"), cpu="6502", board=BOARD) == []


def test_a_processor_without_pages_has_nothing_to_say(judge):
    text = " ORG $02FE\nGO LDX #100\nWAIT LEAX -1,X\n BNE WAIT\n RTS\n"
    assert judge(page_crossing_changes, text) == []
