"""The clocks and bus times the processor, the parts and the memories are rated for."""

from clockhop.board import BusClock, FixedClock, bare, families
from clockhop.quantity import parse_clock, parse_duration

TOWER = """\
processor: 6809
processor_grade: 68B09
clock: 1.8432 MHz
memory:
  rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}
  ram: {from: $0000, to: $7FFF, kind: ram, part: 62256, waits: 1}
parts:
  line: {family: 6850, at: $8200}
  chime: {family: AY-3-8910, ports: {address: $8300, data: $8301}, clock: bus}
  ports: {family: 68A21, at: $8400}
  dial: {family: 44780, grade: 5 V, behind: {data: $8400, control: $8402, enable: bit 0, select: bit 1}}
"""


def test_the_bus_clock_ratings_name_part_grade_and_whether_it_was_stated(board):
    found = [
        (rating.name, rating.whose, rating.bound, rating.clock, rating.stated)
        for rating in board(TOWER).ratings
        if rating.subject == "bus clock"
    ]
    assert found == [
        ("6809", "68B09", "most", parse_clock("2 MHz"), True),
        ("6809", "68B09", "least", parse_clock("100 kHz"), True),
        ("line", "MC6850", "most", parse_clock("1 MHz"), False),
        ("ports", "68A21", "most", parse_clock("1.5 MHz"), True),
    ]


def test_a_part_behind_a_port_has_no_bus_rating_and_no_bus_times(board):
    made = board(TOWER)
    assert "dial" not in [rating.name for rating in made.ratings]
    assert "dial" not in [time.name for time in made.bus_times]


def test_own_clock_ratings_say_what_the_part_is_clocked_with(board):
    found = [
        (rating.name, rating.bound, rating.clock, rating.clocked)
        for rating in board(TOWER).ratings
        if rating.subject == "own clock"
    ]
    assert found == [
        ("line", "most", parse_clock("800 kHz"), None),
        ("chime", "most", parse_clock("2 MHz"), BusClock(1)),
        ("chime", "least", parse_clock("1 MHz"), BusClock(1)),
    ]


def test_a_stated_own_clock_is_fixed(board):
    made = board("processor: 6809\nclock: 1 MHz\nparts: {c: {family: 8910, at: $1, clock: 1.7734 MHz}}\n")
    assert made.parts[0].clock == FixedClock(parse_clock("1.7734 MHz"))
    assert made.own_clock(made.parts[0]) == parse_clock("1.7734 MHz")


def test_bus_times_are_those_of_the_grades_on_the_board(board):
    found = {(time.name, time.subject): (time.time, time.stated) for time in board(TOWER).bus_times}
    assert found[("6809", "access budget")] == (parse_duration("330 ns"), True)
    assert found[("rom", "access time")] == (parse_duration("150 ns"), True)
    assert found[("ram", "access time")] == (parse_duration("85 ns"), False)
    assert found[("line", "read delay")] == (parse_duration("290 ns"), False)
    assert found[("ports", "write set-up")] == (parse_duration("80 ns"), True)


def test_a_63c09_is_rated_3_mhz_and_not_below_500_khz():
    made = bare("6309", (parse_clock("3 MHz"),))
    assert (made.processor_grade.name, made.processor_grade_stated) == ("B", False)
    fast = bare("6309-native", (parse_clock("3 MHz"),), grade=made.processor_family.grade("HD63C09"))
    assert [(rating.bound, rating.clock) for rating in fast.ratings] == [
        ("most", parse_clock("3 MHz")),
        ("least", parse_clock("500 kHz")),
    ]


def test_a_bare_board_knows_no_part_and_watches_nothing():
    made = bare("6809", (parse_clock("1 MHz"), parse_clock("2 MHz")))
    assert (made.parts, made.watched, made.part_at(0x8000)) == ((), frozenset(), None)
    assert [rating.whose for rating in made.ratings] == ["MC6809", "MC6809"]


def test_a_processor_without_a_sheet_has_no_rating():
    assert bare("65C816", (parse_clock("1 MHz"),)).ratings == ()


def test_a_memory_has_three_access_times_by_grade_and_a_decoder_two_delays():
    """Data sheets of the AT28C256-15 and of the DM74S138."""
    found = {
        (name, row.subject): row.times[grade]
        for name, grade in (("28C256", "-15"), ("74138", "S"))
        for row in family(name).bus_times
        if row.bound == "most" and grade in row.times
    }
    assert found == {
        ("28C256", "access time"): parse_duration("150 ns"),
        ("28C256", "chip enable access"): parse_duration("150 ns"),
        ("28C256", "output enable access"): parse_duration("70 ns"),
        ("28C256", "output float"): parse_duration("50 ns"),
        ("74138", "delay"): parse_duration("12 ns"),
        ("74138", "enable delay"): parse_duration("11 ns"),
    }


def test_a_figure_nothing_judges_keeps_its_bound_and_source():
    (figure,) = family("16V8").figures
    assert (figure.name, figure.bound, figure.values["-7"]) == (
        "clock to output",
        "most",
        parse_duration("12 ns"),
    )
    assert figure.evidence.from_memory


def family(name):
    return next(one for one in families() if one.name == name)
