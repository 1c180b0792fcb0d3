"""`clockhop budget`: sums of access time from the project file alone."""

import json
from importlib.resources import files

import jsonschema
import pytest

PROJECT = """\
processor: 6809
processor_grade: 68B09
crystal: 8 MHz
divide: 4
bus: {enable: E or Q, output: tied, decoder: 15 ns}
memory:
  rom: {from: ROM, to: $FFFF, kind: rom, part: 28C256, grade: "-15", tried: 4 MHz}
  low: {from: $0000, to: $7FFF, kind: ram, part: 62256, grade: "-7", bus: {enable: tied}}
"""


@pytest.fixture(autouse=True)
def tower(folder):
    (folder / "clockhop.yaml").write_text(PROJECT)
    return folder


def test_the_sums_stand_line_by_line_with_their_sources(clockhop):
    out = clockhop("budget", "--clock", "4MHz").out
    assert out.startswith(
        "rom at 4 MHz: address path has 80 ns, AT28C256-15 needs 150 ns: 70 ns short; holds up to 3.125 MHz; "
        "tried at 4 MHz, not rated\n"
    )
    sums = [line.split("  ")[0] for line in out.splitlines()]
    assert sums[9:15] == [
        "chip enable path",
        "a cycle at 4 MHz",
        "from E or Q",
        "decoder",
        "data set-up",
        "fall of E",
    ]
    assert "decoder            -15 ns    172.5 ns  project file\n" in out


def test_a_line_for_each_path(clockhop):
    assert clockhop("budget", "--form", "lines", "--crystal", "16MHz").out.splitlines() == [
        "clockhop.yaml:7:8: warning: budget: rom at 4 MHz: address path has 80 ns, AT28C256-15 needs 150 ns: "
        "70 ns short; holds up to 3.125 MHz",
        "clockhop.yaml:7:8: warning: budget: rom at 4 MHz: chip enable path has 112.5 ns, AT28C256-15 needs 150 ns: "
        "37.5 ns short; holds up to 3.33333 MHz",
        "clockhop.yaml:8:8: note: budget: low at 4 MHz: address path has 80 ns, HM62256B-7 needs 70 ns: "
        "10 ns to spare; holds up to 4.16666 MHz",
        "clockhop.yaml:8:8: note: budget: low at 4 MHz: strobe width, HM62256B-7 needs 50 ns: 45 ns to spare",
    ]


def test_the_json_form_keeps_its_schema(clockhop):
    value = json.loads(clockhop("budget", "--form", "json").out)
    schema = files("clockhop.shared").joinpath("schemas/report-budget.json").read_text()
    jsonschema.validate(value, json.loads(schema))
    assert [(b["memory"], b["paths"][0]["left"]) for b in value["budgets"]] == [
        ("rom", "33/100000000"),
        ("low", "33/100000000"),
    ]


def test_what_is_missing_is_said(clockhop, tower):
    (tower / "clockhop.yaml").write_text("processor: 6809\n")
    assert (
        clockhop("budget").err
        == "clockhop: clockhop.yaml: no clock is known; add --clock, or clock: in the project file\n"
    )
    assert clockhop("budget", "--clock", "1MHz").out == (
        "clockhop.yaml: no memory with a part to add up; write part: and grade: under memory:\n"
    )
    (tower / "clockhop.yaml").unlink()
    assert clockhop("budget").err == (
        "clockhop: no clockhop.yaml is found from here upward; name one with --project\n"
    )
