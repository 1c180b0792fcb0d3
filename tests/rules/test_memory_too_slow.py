"""A memory that is too slow: the board, the finding, and the neighbour that is silent."""

from clockhop.rules import Finding, Holds, Open, memory_too_slow

CODE = "        ORG   $E000\nMAIN    RTS\n"
BOARD = """\
processor_grade: 68B09
bus: {enable: address, output: tied, decoder: 15 ns}
memory:
  rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}
"""


def test_a_150_ns_memory_lacks_85_ns_at_4_mhz_and_none_at_2_mhz(judge):
    # A cycle of 250 ns less 15, 110, 40 and 20 leaves 65.
    (finding,) = judge(memory_too_slow, CODE, "2 MHz", "4 MHz", board=BOARD)
    assert finding.message == (
        "rom has 65 ns from chip enable to data at 4 MHz; AT28C256-15 needs 150 ns; "
        "85 ns short, holds up to 2.98507 MHz"
    )
    assert (finding.severity, finding.place.line) == ("error", 5)
    assert finding.notes[:2] == ("250 ns a cycle at 4 MHz: clock", "-15 ns decoder: project file")

    (holds,) = judge(memory_too_slow, CODE, "2 MHz", board=BOARD)
    assert isinstance(holds, Holds)
    assert holds.holds_up_to.hz * 335 == 10**9


def test_what_was_tried_is_said_and_no_grade_stated_is_a_warning(judge):
    board = BOARD.replace('grade: "-15"', "tried: 4 MHz")
    (finding,) = judge(memory_too_slow, CODE, "4 MHz", board=board)
    assert finding.severity == "warning"
    assert finding.message == (
        "rom has 65 ns from chip enable to data at 4 MHz; AT28C256-35 needs 350 ns, the strictest grade, as none is "
        "stated; 285 ns short, holds up to 1.86915 MHz; tried at 4 MHz, not rated"
    )


def test_a_way_that_is_not_stated_is_open_where_the_rest_holds(judge):
    board = BOARD.replace("bus: {enable: address, output: tied, decoder: 15 ns}\n", "")
    found = judge(memory_too_slow, CODE, "2 MHz", board=board)
    assert [type(verdict) for verdict in found] == [Holds, Open, Open]
    assert judge(memory_too_slow, CODE, "4 MHz", board=board)[0].limit.text() == "150 ns"
    assert isinstance(judge(memory_too_slow, CODE, "4 MHz", board=board)[0], Finding)
