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
#   part1: {family: "6821", at: PIA_A}   # by the name; at: its first address
#   # @DIAL at $9000 is read
#   part2: {family: FAMILY, at: "@DIAL"}   # write which it is, clockhop parts lists them; at: its first address
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
    project = read(text.replace("FAMILY", "output"), Path("clockhop.yaml"))
    board = project.resolve({"START": 0xE000, "TICK": 0xE100, "PIA_A": 0x8000, "@DIAL": 0x9000})
    assert [part.family.name for part in board.parts] == ["6821", "output"]
    assert board.watched == {0x8000, 0x8001, 0x8002, 0x8003, 0x9000}


def test_what_lies_in_page_zero_is_taken_for_memory_and_a_single_write_for_a_latch():
    found = [
        Candidate("TICKS", 0x12, is_read=True, is_written=True),
        Candidate("LAMP", 0x7000, is_read=False, is_written=True),
    ]
    text = draft("6502", "tick.asm", None, [], found)
    assert "# Taken for memory, as they lie below $0100: TICKS at $0012.\n" in text
    assert (
        "#   part1: {family: output, at: LAMP}   # a plain latch; clockhop parts lists what else it may be\n"
        in text
    )


def test_a_name_that_several_families_have_offers_them_all():
    found = [Candidate("ACIAS", 0xA000, is_read=True, is_written=True)]
    assert '{family: "6551", at: ACIAS}   # by the name; or 6850; at:' in draft(
        "6809", "t.asm", None, [], found
    )


def test_a_draft_without_candidates_says_so():
    assert "# No symbol looks like the address of a part.\n" in draft("6809", "tower.asm")


def test_a_draft_speaks_of_the_clock_and_the_interrupt_of_its_processor():
    text = draft("8085", "gong.asm")
    assert "It counts T-states, one for each two cycles of the crystal.\n" in text
    assert "# interrupts: {RST1: {entry: TICK, period: 20 ms}}\n" in text
    assert "# interrupts: {INT: {entry: TICK" in draft("z80", "chime.asm")
    assert "# interrupts: {IRQ: {entry: TICK" in draft("6502", "tick.asm")
