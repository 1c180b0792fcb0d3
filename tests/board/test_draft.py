"""A first project file: it loads as it is, states nothing guessed, and its comments load when uncommented."""

from pathlib import Path

from clockhop.board import Candidate, draft, read
from clockhop.quantity import parse_clock

CANDIDATES = [
    Candidate("@DIAL", 0x9000, is_read=True, is_written=False),
    Candidate("PIA_B", 0x8002, is_read=True, is_written=True),
    Candidate("PIA_A", 0x8000, is_read=False, is_written=True),
]


def test_a_draft_loads_and_knows_no_part():
    text = draft("6809", "tower.asm", parse_clock("0.9216 MHz"), ["START"], CANDIDATES)
    project = read(text, Path("clockhop.yaml"))
    assert project.clocks == (parse_clock("0.9216 MHz"),)
    assert project.resolve({"START": 0xE000}).entries == (0xE000,)
    assert project.parts == ()
    assert [build.source for build in project.builds] == ["tower.asm"]


def test_a_draft_lists_the_candidates_as_comments_grouped_by_nearness():
    text = draft("6809", "tower.asm", None, [], CANDIDATES)
    assert (
        """\
# parts:
#   # PIA_A at $8000 is written
#   # PIA_B at $8002 is read and written
#   part1: {family: output, at: PIA_A}
#   # @DIAL at $9000 is read
#   part2: {family: output, at: "@DIAL"}
"""
        in text
    )
    assert "# clock: 1 MHz\n" in text
    assert "# entries: [START]\n" in text


def test_the_comments_of_a_draft_become_a_project_file():
    lines = draft("6309", "tower.asm", None, [], CANDIDATES).splitlines()
    prose = ("# Project", "# The bus", "# Labels", "# What", "#   #")
    text = "\n".join(
        line.removeprefix("# ").replace("#   ", "  ") for line in lines if not line.startswith(prose)
    )
    project = read(text, Path("clockhop.yaml"))
    board = project.resolve({"START": 0xE000, "TICK": 0xE100, "PIA_A": 0x8000, "@DIAL": 0x9000})
    assert [part.family.name for part in board.parts] == ["output", "output"]
    assert board.watched == {0x8000, 0x9000}


def test_a_draft_without_candidates_says_so():
    assert "# No symbol looks like the address of a part.\n" in draft("6809", "tower.asm")


def test_a_draft_speaks_of_the_clock_and_the_interrupt_of_its_processor():
    text = draft("8085", "gong.asm")
    assert "It counts T-states, one for each two cycles of the crystal.\n" in text
    assert "# interrupts: {RST1: {entry: TICK, period: 20 ms}}\n" in text
    assert "# interrupts: {INT: {entry: TICK" in draft("z80", "chime.asm")
    assert "# interrupts: {IRQ: {entry: TICK" in draft("6502", "tick.asm")
