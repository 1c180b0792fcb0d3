"""Clocks beyond what the processor and the parts are rated for."""

from clockhop.rules import over_rating

GO = "GO RTS\n"


def test_a_68a09_at_2_mhz_is_over_its_1_5_mhz(judge):
    (finding,) = judge(over_rating, GO, "1 MHz", "2 MHz", board="processor_grade: 68A09\n")
    assert finding.message == (
        "6809 runs at 2 MHz; 68A09 is rated for at most 1.5 MHz; 68B09 is rated for it"
    )
    assert (finding.severity, finding.holds_up_to.text()) == ("error", "1.5 MHz")
    assert judge(over_rating, GO, "1 MHz", "1.5 MHz", board="processor_grade: 68A09\n") == []


def test_where_no_grade_is_stated_it_is_a_warning(judge):
    (finding,) = judge(over_rating, GO, "2 MHz", board="clock: 1 MHz\n")
    assert finding.severity == "warning"
    assert "the strictest grade, as none is stated" in finding.message


def test_a_part_is_found_at_its_place_in_the_project_file(judge):
    board = "processor_grade: 68B09\nparts:\n  line: {family: 6850, at: $8000, grade: A}\n"
    (finding,) = judge(over_rating, GO, "2 MHz", board=board)
    assert (str(finding.place), finding.subject) == ("clockhop.yaml:4:9", "line")


def test_a_part_clocked_from_the_bus_moves_with_it_and_one_with_its_own_clock_does_not(judge):
    board = (
        "processor_grade: 68B09\nparts: {{gong: {{family: 76489, at: $8000, grade: SN76489, clock: {}}}}}\n"
    )
    (finding,) = judge(over_rating, GO, "1 MHz", "2 MHz", board=board.format("bus * 4"))
    assert finding.message == "gong is clocked at 8 MHz; SN76489 is rated for at most 4 MHz"
    assert judge(over_rating, GO, "1 MHz", "2 MHz", board=board.format("3.579545 MHz")) == []


def test_a_clock_below_the_slowest_is_outside_too(judge):
    board = "parts: {{gong: {{family: 8910, at: $8000, clock: {}}}}}\n"
    (finding,) = judge(over_rating, GO, "1 MHz", board=board.format("500 kHz"))
    assert "at 500 kHz" in finding.message
    assert "at least 1 MHz" in finding.message
    assert judge(over_rating, GO, "1 MHz", board=board.format("1 MHz")) == []
