"""Loops of which nothing says how often they run."""

from clockhop.rules import trips_unknown

BOARD = "parts: {line: {family: 6850, at: ACIAS}}\n"
WAIT = "ACIAS EQU $8000\nGO NOP\nRXWAIT LDA ACIAS\n BITA #1\n BEQ RXWAIT{}\n RTS\n"


def test_a_poll_has_no_bound(judge):
    (note,) = judge(trips_unknown, WAIT.format(""), board=BOARD)
    assert note.message == (
        "RXWAIT: loops until what is read at ACIAS changes; state how often it runs in a timing note"
    )
    assert (note.severity, note.subject, note.place.line) == ("note", "RXWAIT", 3)


def test_a_note_bounds_it(judge):
    assert judge(trips_unknown, WAIT.format(" ; timing: runs 1 to 200 times"), board=BOARD) == []


def test_counted_loops_and_endless_ones_are_no_matter(judge):
    assert judge(trips_unknown, "GO LDA #10\nAGAIN DECA\n BNE AGAIN\nMAIN BRA MAIN\n") == []
