"""`clockhop margins`: what gives first, in every form, and in agreement with `clockhop check`."""

import json
import shutil
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest

TOWER = Path(__file__).parents[2] / "examples_asm/belltower"
KINDS = {
    "access-too-soon": "spacing",
    "access-too-late": "deadline",
    "handler-too-long": "deadline",
    "wait-too-short": "wait",
    "memory-too-slow": "memory",
    "bus-too-fast": "bus",
    "over-rating": "grade",
}


@pytest.fixture
def tower(folder):
    shutil.copytree(TOWER, folder, dirs_exist_ok=True)
    return folder


@pytest.fixture
def report(clockhop):
    def call(*arguments):
        value = json.loads(clockhop("margins", "main.asm", "--form", "json", *arguments).out)
        schema = files("clockhop.shared").joinpath("schemas/report-margins.json").read_text()
        jsonschema.validate(value, json.loads(schema))
        (build,) = value["builds"]
        return build

    return call


@pytest.mark.usefixtures("tower")
def test_what_gives_first_stands_first_and_in_a_sentence(clockhop):
    out = clockhop("margins", "main.asm", "--clock", "0.9216MHz", "--clock", "1.8432MHz").out.splitlines()
    assert out[-3:] == [
        "first to give: STRIKEL takes 27648 cycles (bells.asm:35:9), above 921.6 kHz: its note states 30 ms",
        "too slow below 100 kHz: 6809: a cycle of the bus (main.asm): 68B09 is rated for at least 100 kHz",
        "holds up to 921.6 kHz by what is known; 1 requirement unknown",
    ]
    (panel,) = [line for line in out if "PANELD" in line]
    assert " ".join(panel.split()) == (
        "spacing PANELD written every 13 cycles 9918 needs 8 us panel.asm:20 "
        "6.1 us (76 %) short 948 ns (11 %) 1.625 MHz"
    )
    assert not any("safe" in line for line in out)


@pytest.mark.usefixtures("tower")
def test_rows_of_the_same_cause_are_one_with_the_number_of_places(report):
    rows = {(row["subject"], row["cause"]): row for row in report("--clock", "1.8432MHz")["rows"]}
    row = rows["PANELC written 7 cycles after line 6", "9918 needs 2 us"]
    assert (row["count"], row["highest_hz"], row["cells"][0]["verdict"]) == (5, 3_500_000, "holds")


@pytest.mark.usefixtures("tower")
@pytest.mark.parametrize("clock", ["50kHz", "0.9216MHz", "1.7MHz", "1.8432MHz", "2MHz", "4MHz"])
def test_margins_and_check_find_the_same_kinds_broken(clockhop, report, clock):
    broken = {
        row["kind"] for row in report("--clock", clock)["rows"] if row["cells"][0]["verdict"] == "broken"
    }
    found = json.loads(clockhop("check", "main.asm", "--form", "json", "--clock", clock).out)["findings"]
    # A note without a tolerance allows 1 % more; that a wait lasts longer than that at a slower clock is a warning.
    errors = [each for each in found if each["severity"] != "warning" or each["name"] != "wait-too-short"]
    assert broken == {KINDS[each["name"]] for each in errors if each["name"] in KINDS}


@pytest.mark.usefixtures("tower")
def test_the_lines_form_has_one_line_for_each_requirement(clockhop):
    out = clockhop("margins", "main.asm", "--clock", "1.8432MHz", "--form", "lines").out.splitlines()
    assert (
        "panel.asm:20:9: error: margin: PANELD written every 13 cycles; 9918 needs 8 us; "
        "at 1.8432 MHz short 948 ns (11 %); holds up to 1.625 MHz; "
        "strobe to strobe on a scope: 7.05295 us at 1.8432 MHz"
    ) in out
    assert out[-1] == "main.asm: note: margin: holds up to 921.6 kHz by what is known; 1 requirement unknown"


def test_what_was_tried_is_not_rated_and_the_next_to_give_is_named(folder, clockhop):
    (folder / "main.asm").write_text("        ORG   $E000\nMAIN    RTS\n")
    (folder / "clockhop.yaml").write_text(
        "processor: 6809\nprocessor_grade: 68B09\nprocessor_tried: 4 MHz\n"
        "bus: {enable: address, output: tied}\n"
        'memory: {rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}}\n'
    )
    out = clockhop("margins", "main.asm", "--clock", "4MHz").out
    assert "short 250 ns (50 %), tried, not rated" in out
    assert out.endswith(
        "first to give: 6809: a cycle of the bus (main.asm), above 2 MHz: 68B09 is rated for at most 2 MHz\n"
        "tried at 4 MHz, not rated; next to give: rom: address path (clockhop.yaml:5:15), above 3.125 MHz: "
        "AT28C256-15 needs 150 ns\n"
        "too slow below 100 kHz: 6809: a cycle of the bus (main.asm): 68B09 is rated for at least 100 kHz\n"
        "holds up to 2 MHz by what is known; 0 requirements unknown\n"
    )


def test_without_a_clock_there_are_no_margins(folder, clockhop):
    (folder / "main.asm").write_text("        ORG   $E000\nMAIN    RTS\n")
    assert clockhop("margins", "main.asm", "--cpu", "6809").err == (
        "clockhop: main.asm: no clock to judge at is known; add --clock, or clock: in the project file\n"
    )
