"""`clockhop check`: what it finds, how it tells it, and with which status it ends."""

import json
from importlib.resources import files

import jsonschema
import pytest

# The second write comes 2 + 11*5 + 5 = 62 cycles after the first: 62 us at 1 MHz, 31 us at 2 MHz. A 44780 whose
# oscillator runs at 190 kHz needs 37 us * 270/190 after such a write.
PANEL = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   LDA   #$80
        STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        RTS
        END   START
"""
PROJECT = """\
processor: 6809
processor_grade: 68B09
clock: 1 MHz
parts:
  lcd: {family: 44780, grade: 5 V, mode: 8-bit, ports: {command: LCDCMD}}
builds:
  tower: {source: panel.asm}
"""


@pytest.fixture
def tower(folder):
    (folder / "panel.asm").write_text(PANEL)
    (folder / "clockhop.yaml").write_text(PROJECT)
    return folder


@pytest.fixture
def soon(clockhop, tower):
    """The findings of that name in the JSON form."""

    def call(*arguments):
        assert (tower / "panel.asm").read_text() == PANEL
        result = clockhop("check", "panel.asm", "--form", "json", *arguments)
        value = json.loads(result.out)
        schema = files("clockhop.shared").joinpath("schemas/report-check.json").read_text()
        jsonschema.validate(value, json.loads(schema))
        return [finding for finding in value["findings"] if finding["name"] == "access-too-soon"]

    return call


def test_a_gap_of_62_us_is_enough_and_one_of_31_us_is_not(soon):
    assert soon() == []

    (finding,) = soon("--clock", "2MHz")
    assert (finding["severity"], finding["file"], finding["line"]) == ("error", "panel.asm", 8)
    assert (finding["measured_cycles"], finding["measured"], finding["clock_hz"]) == (
        62,
        "31/1000000",
        2000000,
    )
    assert (finding["limit"], finding["limit_seconds"]) == ("999/19000000", 5.25789474e-05)
    assert finding["holds_up_to_hz"] == "1178000000/999"  # 62 cycles in 999/19 us
    assert (finding["builds"], finding["mend"]) == (["tower"], "proved")


def test_the_status_is_1_where_something_fails_and_0_where_nothing_does(clockhop, tower):
    assert clockhop("check", "panel.asm").status == 0
    assert clockhop("check", "panel.asm", "--clock", "2MHz").status == 1
    assert clockhop("check", "panel.asm", "--clock", "2MHz", "--fail-on", "never").status == 0
    (tower / "clockhop.yaml").write_text(PROJECT + "fail_on: never\n")
    assert clockhop("check", "panel.asm", "--clock", "2MHz").status == 0
    assert clockhop("check", "panel.asm", "--clock", "2MHz", "--fail-on", "error").status == 1


@pytest.mark.usefixtures("tower")
def test_a_finding_is_one_line_with_its_notes_below_and_a_summary_at_the_end(clockhop):
    out = clockhop("check", "panel.asm", "--clock", "1.8MHz").out
    assert out.startswith("panel.asm:8:9: error: access-too-soon: LCDCMD written 62 cycles after ")
    assert out.splitlines()[1].startswith("    ")
    assert "\npanel.asm, build tower, 6809 at 1.8 MHz\nfindings: 1 error, " in out
    assert "0 of 10 statements not understood\n" in out


def test_both_forms_say_how_much_was_understood_and_what_was_not(clockhop, tower):
    source = tower / "panel.asm"
    source.write_text("        RINGG\n        BRAA MAIN\n        RINGG 2\n" + source.read_text())
    cause = '"RINGG" is no instruction, directive or macro'
    out = clockhop("check", "panel.asm").out
    line = f"3 of 13 statements not understood; most often: {cause} (panel.asm:1, and 1 line more)"
    assert out.splitlines()[-1] == line
    assert json.loads(clockhop("check", "panel.asm", "--form", "json").out)["coverage"] == {
        "statements": 13,
        "understood": 10,
        "opaque": [
            {"file": "panel.asm", "line": 1, "cause": cause},
            {"file": "panel.asm", "line": 2, "cause": cause.replace("RINGG", "BRAA")},
            {"file": "panel.asm", "line": 3, "cause": cause},
        ],
    }


@pytest.mark.usefixtures("tower")
def test_the_lines_form_is_for_build_logs(clockhop):
    lines = clockhop("check", "panel.asm", "--clock", "1.8MHz", "--form", "lines").out.splitlines()
    assert lines[0].split(": ")[:3] == ["panel.asm:8:9", "error", "access-too-soon"]


def test_an_accepted_finding_is_counted_and_does_not_fail(clockhop, tower):
    accept = "accept: [{finding: access-too-soon, at: LCDCMD, because: the panel is a faster one}]\n"
    (tower / "clockhop.yaml").write_text(PROJECT + accept)
    result = clockhop("check", "panel.asm", "--clock", "1.8MHz")
    assert (result.status, "access-too-soon" in result.out) == (0, False)
    assert "; 1 accepted\n" in result.out


@pytest.mark.usefixtures("tower")
def test_without_a_source_every_build_is_checked(clockhop):
    assert clockhop("check").out == clockhop("check", "panel.asm").out
    assert clockhop("check", "--clock", "2MHz").status == 1


@pytest.mark.usefixtures("tower")
def test_quiet_prints_nothing_and_the_summary_alone_no_findings(clockhop):
    result = clockhop("check", "panel.asm", "--clock", "1.8MHz", "--quiet")
    assert (result.status, result.out, result.err) == (1, "", "")

    result = clockhop("check", "panel.asm", "--clock", "1.8MHz", "--summary-only")
    assert result.status == 1
    assert result.out.startswith("panel.asm, build tower, 6809 at 1.8 MHz\nfindings: 1 error, ")


def test_the_report_can_go_to_a_file_and_the_status_stays(clockhop, tower):
    result = clockhop("check", "panel.asm", "--clock", "1.8MHz", "--form", "lines", "-o", "found.log")
    assert (result.status, result.out) == (1, "")
    assert (tower / "found.log").read_text().startswith("panel.asm:8:9: error: access-too-soon: ")


def test_without_a_clock_there_is_nothing_to_say_and_that_is_said(clockhop, tower):
    (tower / "clockhop.yaml").unlink()
    result = clockhop("check", "panel.asm", "--cpu", "6809")
    assert (result.status, result.out) == (2, "")
    assert result.err == (
        "clockhop: panel.asm: no clock to judge at is known; add --clock, or clock: in the project file\n"
    )


def test_wait_cycles_of_a_rom_are_counted(tower, clockhop):
    def cycles():
        (loop,) = json.loads(clockhop("durations", "--form", "json").out)["loops"]
        return loop["cycles"]["min"], loop["cycles"]["max"]

    # 11 turns of DECB 2 and BNE 3; with a wait for each of their 3 fetches.
    assert cycles() == (55, 55)
    memory = "memory:\n  rom: {from: $C000, to: $FFFF, kind: rom, waits: 1}\n"
    (tower / "clockhop.yaml").write_text(PROJECT + memory)
    assert cycles() == (88, 88)


def test_a_finding_in_a_macro_points_at_its_use_and_then_at_its_text(clockhop, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = "WAIT MACRO n\n LDX #n\nturn\\@ LEAX -1,X\n BNE turn\\@\n RTS\n ENDM\nGO BSR W1\n BRA GO\nW1 WAIT 500\n"
    (tmp_path / "toll.asm").write_text(text)
    clocks = ("--clock", "2MHz", "--written-for", "1MHz", "--fail-on", "never")
    out = clockhop("check", "toll.asm", "--cpu", "6809", *clocks).out.splitlines()
    number = next(at for at, line in enumerate(out) if "delay-changes: W1 takes 4008 cycles" in line)
    assert out[number].startswith("toll.asm:9:4: note: ")
    assert out[number + 1] == "    toll.asm:2:2: in the text of the macro"
