"""Project files: what they say is kept, what they can't say is refused with line, column and a way out."""

from fractions import Fraction
from pathlib import Path

import pytest
from clockhop.board import Symbolic, find, load, read
from clockhop.errors import BoardError, ClockhopError
from clockhop.quantity import parse_clock, parse_duration

TOWER = """\
processor: 6809
processor_grade: 68B09
crystal: 3.6864 MHz
divide: 4
clocks: [1.8432 MHz, 921.6 kHz]
written_for: 0.9216 MHz
entries: [START, $F000]
interrupts: {IRQ: {entry: TICK, period: 20 ms}}
memory:
  rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}
parts:
  panel: {family: 9918, ports: {data: VDATA, control: VDATA + 1}, mode: text, clock: 10.738635 MHz}
  striker: {family: output, at: $8010, hurts: true, note: solenoid}
builds:
  main: {source: tower.asm, defines: {PAL: 1}, include: [lib]}
  fast: {source: tower.asm, clocks: [2 MHz]}
accept:
  - {finding: access-too-soon, at: DIAL, because: the dial is never read back}
fail_on: note
"""
SYMBOLS = {"START": 0xE000, "TICK": 0xE123, "VDATA": 0x8100}


def project(text):
    return read(text, Path("clockhop.yaml"))


def test_a_project_file_says_processor_clocks_entries_and_builds():
    tower = project(TOWER)
    assert (tower.processor, tower.processor_grade.name) == ("6809", "B")
    assert tower.clocks == (parse_clock("0.9216 MHz"), parse_clock("1.8432 MHz"))
    assert tower.written_for == parse_clock("921.6 kHz")
    assert [(build.name, build.source, build.defines) for build in tower.builds] == [
        ("main", "tower.asm", {"PAL": "1"}),
        ("fast", "tower.asm", {}),
    ]
    assert tower.builds[0].include == ("lib",)
    assert [(one.finding, one.at, one.because) for one in tower.accept] == [
        ("access-too-soon", "DIAL", "the dial is never read back")
    ]
    assert tower.fail_on == "note"
    assert [entry.name for entry in tower.entries if isinstance(entry, Symbolic)] == ["START"]


def test_symbols_become_the_addresses_of_the_program():
    board = project(TOWER).resolve(SYMBOLS)
    assert board.entries == (0xE000, 0xF000)
    assert [(one.name, one.entry, one.period) for one in board.interrupts] == [
        ("IRQ", 0xE123, parse_duration("20 ms"))
    ]
    assert board.watched == {0x8100, 0x8101, 0x8010}
    part, port = board.part_at(0x8101)
    assert (part.name, port.name, part.mode.name) == ("panel", "control", "text")
    part, port = board.part_at(0x8010)
    assert (part.name, port.name, part.hurts, part.note) == ("striker", "latch", True, "solenoid")


def test_a_build_with_clocks_of_its_own_is_judged_at_those():
    tower = project(TOWER)
    main, fast = tower.builds
    assert tower.resolve(SYMBOLS, main).clocks == (parse_clock("0.9216 MHz"), parse_clock("1.8432 MHz"))
    assert tower.resolve(SYMBOLS, fast).clocks == (parse_clock("2 MHz"),)


def test_a_symbol_the_program_lacks_is_refused_with_the_nearest_ones():
    with pytest.raises(BoardError) as caught:
        project(TOWER).resolve({"START": 0xE000, "TICK": 0xE123, "VDATE": 1, "VREG": 2})
    assert str(caught.value) == 'clockhop.yaml:12:39: unknown symbol "VDATA"; nearest: VDATE'
    with pytest.raises(BoardError) as caught:
        project("processor: 6809\nentries: [RESET]\n").resolve({"VDATA": 1})
    assert str(caught.value) == (
        'clockhop.yaml:2:11: unknown symbol "RESET"; define it in the source or write the address'
    )


def test_two_parts_at_one_address_are_refused_and_both_named():
    text = """\
processor: 6809
parts:
  line: {family: 6850, at: $8000}
  dial: {family: 44780, at: $8001}
"""
    with pytest.raises(BoardError) as caught:
        project(text).resolve({})
    assert str(caught.value) == (
        "clockhop.yaml:4:9: dial (command) and line (data) in line 3 both claim $8001; "
        "give each address to one"
    )


def test_two_ports_of_a_part_at_one_address_are_refused():
    text = "processor: 6809\nparts: {panel: {family: 9918, ports: {data: $8000, control: $8000}}}\n"
    with pytest.raises(BoardError) as caught:
        project(text).resolve({})
    assert str(caught.value) == (
        "clockhop.yaml:2:16: panel (control) and panel (data) in line 2 both claim $8000; "
        "give each address to one"
    )


def test_a_part_inside_an_area_is_refused_and_both_named():
    text = """\
processor: 6809
memory: {ram: {from: 0, to: $7FFF, kind: ram}}
parts:
  line: {family: 6850, at: $7000}
"""
    with pytest.raises(BoardError) as caught:
        project(text).resolve({})
    assert str(caught.value) == (
        "clockhop.yaml:4:9: line (control) and area ram in line 2 both claim $7000; give each address to one"
    )


def test_an_eeprom_that_is_written_may_be_an_area_and_a_part():
    text = """\
processor: 6809
memory: {store: {from: $8000, to: $FFFF, kind: rom, part: 28C256}}
parts: {settings: {family: 28C256, at: $8000}}
"""
    board = project(text).resolve({})
    assert board.part_at(0xFFFF)[1].name == "array"
    assert len(board.watched) == 32768


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("clock: 1 MHz\n", '1:1: key "processor" is missing; add processor: ...'),
        (
            "processor: z180\nprocessor_state: {MVI: 0}\n",
            '2:24: "MVI" is no register of the z180 that decides on cycles; nearest: MWI',
        ),
        ("processor: z180\nprocessor_state: {MWI: 4}\n", "2:24: 4 is out of range; accepted: 0 to 3"),
        (
            "processor: 6809\nprocessor_state: {MD: 1}\n",
            '2:23: "MD" is no register of the 6809 that decides on cycles; it has none',
        ),
        ("processor: 6809\nclokc: 1 MHz\n", '2:1: unknown key "clokc"; nearest: clock, clocks'),
        ("processor: 6809\nclock: 2 mhz\n", '2:8: clock "2 mhz": unknown unit; write Hz, kHz or MHz'),
        (
            "processor: 6809\nclock: 1 MHz\ncrystal: 4 MHz\ndivide: 4\n",
            "3:10: clock and crystal are both given; keep one",
        ),
        (
            "processor: 6809\ncrystal: 4 MHz\n",
            "2:10: crystal without divide; add divide: and a number, or write clock: instead",
        ),
        ("processor: 6809\ndivide: 4\n", "2:9: divide without crystal; add crystal: or remove it"),
        (
            "processor: 6809\nprocessor_grade: 68C09\n",
            '2:18: unknown grade "68C09" of 6809; nearest: 68B09, 68A09, 6809E',
        ),
        (
            "processor: 6809\nparts: {dial: {family: 44870, at: $8000}}\n",
            '2:24: unknown family "44870"; nearest: 44780, HD44780, lcd44780',
        ),
        (
            "processor: 6809\nparts: {dial: {family: 9918, at: $8000, mode: grafics}}\n",
            '2:47: unknown mode "grafics" of 9918; nearest: graphics',
        ),
        (
            "processor: 6809\nparts: {dial: {family: 9918, ports: {dato: $8000}}}\n",
            '2:38: unknown key "dato"; nearest: data',
        ),
        (
            "processor: 6809\nparts: {dial: {family: 9918}}\n",
            "2:15: where the part is must be said once; write one of at:, ports:, behind: and lines:",
        ),
        (
            "processor: 6809\nparts: {gong: {family: 76489, at: $8000}}\n",
            "2:15: gong: the 76489 counts in its input clock; add clock: and a frequency, or clock: bus",
        ),
        (
            "processor: 6809\nparts: {gong: {family: 76489, at: $8000, clock: bus / 0}}\n",
            '2:49: "bus / 0" is no clock; write bus, bus / 2 or bus * 4',
        ),
        (
            "processor: 6809\nparts: {line: {family: 6850, behind: {data: $1, control: $2, enable: 0}}}\n",
            "2:38: 6850 behind a parallel port is not known; write at: or ports:",
        ),
        (
            "processor: 6809\n"
            "parts: {dial: {family: 44780, behind: {data: 1, control: 2, enable: bit 8, select: 1}}}\n",
            '2:69: "bit 8" is not a bit; write bit 0 to bit 7',
        ),
        (
            "processor: 6809\nparts: {dial: {family: 44780, at: 8000H!}}\n",
            '2:35: "8000H!" is not a whole number; write decimal, $hex or 0xhex',
        ),
        (
            "processor: 6809\nentries: [A-B]\n",
            '2:11: "A-B" is not an address; write $8000, io:$10 for a port, a symbol, or a symbol + a number',
        ),
        (
            "processor: 6809\nmemory: {rom: {from: $E000, to: $FFFF, kind: eprom}}\n",
            '2:46: unknown value "eprom"; nearest: rom',
        ),
        (
            "processor: 6809\naccept: [{finding: access-too-soon, because: ''}]\n",
            "2:46: no reason is given; write why this finding is accepted",
        ),
        (
            "processor: 6809\nclock: 1 MHz\nclock: 2 MHz\n",
            '3:1: key "clock" stands twice, first in line 2; keep one',
        ),
    ],
)
def test_what_a_project_file_cannot_say_is_refused_at_its_place(text, message):
    with pytest.raises(ClockhopError) as caught:
        project(text)
    assert str(caught.value) == f"clockhop.yaml:{message}"


def test_an_area_that_ends_before_it_begins_is_refused():
    with pytest.raises(BoardError) as caught:
        project("processor: 6809\nmemory: {rom: {from: $FFFF, to: $E000, kind: rom}}\n").resolve({})
    assert str(caught.value) == "clockhop.yaml:2:15: area rom ends at $E000 before it begins at $FFFF"


def test_a_family_of_your_own_is_written_like_those_that_come_with_the_tool():
    text = """\
processor: 6809
clock: 1 MHz
families:
  - family: hammer driver
    title: hammer driver of the great bell
    kind: device
    sources: {maker: {title: driver card, number: sheet 3}}
    ports: {latch: 0}
    operations:
      pull: {port: latch, does: write, bits: xxxxxxx1}
      release: {port: latch, does: write}
    limits:
      - {kind: max_gap, first: pull, then: release, most: 40 ms, source: maker, page: p. 2}
parts: {hammer: {family: hammer driver, at: $8010, hurts: true}}
"""
    board = project(text).resolve({})
    (hammer,) = board.parts
    (pull,) = board.operation(hammer, "latch", "write", 0x01)
    (release,) = board.operation(hammer, "latch", "write", 0x00)
    (limit,) = board.limits(hammer, pull, release)
    assert limit.most.seconds == Fraction(40, 1000)
    assert limit.source == "driver card sheet 3, p. 2"


def test_a_wrong_family_of_your_own_is_refused_in_the_project_file():
    text = """\
processor: 6809
families:
  - {family: x, title: x, kind: device, ports: {latch: 0}, operations: {pull: {port: lathc, does: write}}}
"""
    with pytest.raises(BoardError) as caught:
        project(text)
    assert str(caught.value) == 'clockhop.yaml:3:86: unknown value "lathc"; nearest: latch'


def test_the_project_file_is_found_in_the_folder_or_above_it(tmp_path):
    below = tmp_path / "tower" / "source"
    below.mkdir(parents=True)
    assert find(below) is None
    (tmp_path / "clockhop.yaml").write_text("processor: 6809\n")
    assert find(below) == tmp_path / "clockhop.yaml"
    assert find(below / "tower.asm") == tmp_path / "clockhop.yaml"
    assert load(tmp_path / "clockhop.yaml").processor == "6809"


def test_a_project_file_that_cannot_be_read_is_an_error_of_the_board(tmp_path):
    with pytest.raises(BoardError, match="can't be read"):
        load(tmp_path / "clockhop.yaml")
