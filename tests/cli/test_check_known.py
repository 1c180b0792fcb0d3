"""`clockhop check --record` and `--known`: an old tree's findings are recorded, and only new ones are reported."""

import json
from importlib.resources import files

import jsonschema
import pytest

PANEL = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   STA   LCDCMD
        STA   LCDCMD
        JSR   BELL
        RTS
BELL    STA   LCDCMD
        RTS
        END   START
"""
PROJECT = """\
processor: 6809
clock: 1 MHz
parts:
  lcd: {family: 44780, grade: 5 V, mode: 8-bit, ports: {command: LCDCMD}}
builds:
  tower: {source: panel.asm}
  wide: {source: panel.asm, clocks: [2 MHz]}
"""


@pytest.fixture
def tower(folder, clockhop):
    """A program with findings in two builds, recorded in known.yaml."""
    (folder / "panel.asm").write_text(PANEL)
    (folder / "clockhop.yaml").write_text(PROJECT)
    assert clockhop("check").status == 1
    made = clockhop("check", "--record", "known.yaml")
    assert (made.status, made.err) == (0, "")
    assert made.out.startswith("known.yaml: ")
    return folder


def too_soon(result):
    return [line for line in result.out.splitlines() if ": access-too-soon: " in line]


@pytest.mark.usefixtures("tower")
def test_what_is_recorded_is_left_out_and_counted(clockhop):
    result = clockhop("check", "--known", "known.yaml")
    assert (result.status, too_soon(result)) == (0, [])
    assert "findings: none; " in result.out
    assert " known\n" in result.out


def test_lines_above_and_another_folder_do_not_make_them_new(clockhop, tower, monkeypatch):
    (tower / "panel.asm").write_text("* the panel\n\n\n" + PANEL)
    monkeypatch.chdir(tower.parent)
    source = f"{tower.name}/panel.asm"
    result = clockhop("check", source, "--known", f"{tower.name}/known.yaml", "--form", "lines")
    assert (result.status, result.out, result.err) == (0, "", "")
    assert str(tower) not in (tower / "known.yaml").read_text()


def test_a_new_finding_is_reported_alone(clockhop, tower):
    (tower / "panel.asm").write_text(
        PANEL.replace("        END", "CHIME   STA LCDCMD\n STA LCDCMD\n RTS\n END")
    )
    result = clockhop("check", "--known", "known.yaml", "--form", "lines")
    assert result.status == 1
    assert {line.split(":")[1] for line in too_soon(result)} == {"10"}


def test_one_more_of_a_recorded_kind_is_not_left_out(clockhop, tower):
    # Under START one write follows another too soon; a third one makes it two.
    (tower / "panel.asm").write_text(PANEL.replace("START   STA", "START   STA   LCDCMD\n        STA"))
    result = clockhop("check", "--known", "known.yaml")
    assert (result.status, len(too_soon(result))) == (1, 4)
    assert "    recorded as known 1 time, found 2 times\n" in result.out


def test_lines_that_are_not_understood_can_not_grow_behind_one_finding(clockhop, tower):
    (tower / "panel.asm").write_text(PANEL.replace(" JSR", " FROB 1\n JSR"))
    assert clockhop("check", "--record", "known.yaml", "--grow").status == 0
    assert clockhop("check", "--known", "known.yaml").status == 0
    (tower / "panel.asm").write_text(PANEL.replace(" JSR", " FROB 1\n FROB 2\n JSR"))
    result = clockhop("check", "--known", "known.yaml")
    assert result.status == 1
    assert "    recorded as known 1 time, found 2 times\n" in result.out


def test_what_is_gone_is_named_with_its_line_in_the_record_and_fails_nothing(clockhop, tower):
    (tower / "panel.asm").write_text(PANEL.replace("BELL    STA   LCDCMD", "BELL    NOP"))
    lines = (tower / "known.yaml").read_text().splitlines()
    gone = [number for number, line in enumerate(lines, 1) if 'label: "BELL"' in line]
    assert gone
    result = clockhop("check", "--known", "known.yaml", "--form", "lines", "--fail-on", "note")
    assert result.status == 0
    assert [line for line in result.out.splitlines() if ": known-gone: " in line] == [
        f"known.yaml:{number}:5: note: known-gone: access-too-soon of LCDCMD in panel.asm recorded 1 time, "
        "found 0 times; record anew"
        for number in gone
    ]

    value = json.loads(clockhop("check", "--known", "known.yaml", "--form", "json").out)
    schema = files("clockhop.shared").joinpath("schemas/report-check.json").read_text()
    jsonschema.validate(value, json.loads(schema))
    assert [each["line"] for each in value["known"]["gone"]] == gone


def test_a_run_at_another_clock_or_of_another_build_calls_nothing_gone(clockhop, tower):
    (tower / "panel.asm").write_text(PANEL.replace("BELL    STA   LCDCMD", "BELL    NOP"))
    assert (
        "known-gone"
        not in clockhop("check", "--known", "known.yaml", "--clock", "1.5MHz", "--form", "lines").out
    )
    (tower / "clockhop.yaml").write_text(PROJECT.replace("tower:", "spire:").replace("wide:", "broad:"))
    assert "known-gone" not in clockhop("check", "--known", "known.yaml", "--form", "lines").out


@pytest.mark.usefixtures("tower")
def test_a_finding_at_another_clock_is_new(clockhop):
    assert clockhop("check", "--known", "known.yaml", "--clock", "1.5 MHz").status == 1


def test_a_record_grows_only_when_asked_and_shrinks_by_itself(clockhop, tower):
    before = (tower / "known.yaml").read_text()
    grown = PANEL.replace("START   STA", "START   STA   LCDCMD\n        STA")
    (tower / "panel.asm").write_text(grown)
    refused = clockhop("check", "--record", "known.yaml")
    assert (refused.status, refused.out) == (2, "")
    assert refused.err == (
        "clockhop: known.yaml: 2 more would become known; see them with --known, then add --grow to take them in\n"
    )
    assert (tower / "known.yaml").read_text() == before

    assert clockhop("check", "--record", "known.yaml", "--grow").out.endswith(
        ", 2 more and 0 fewer than before\n"
    )
    (tower / "panel.asm").write_text(PANEL)
    assert clockhop("check", "--record", "known.yaml").out.endswith(", 0 more and 2 fewer than before\n")
    assert (tower / "known.yaml").read_text() == before


def test_recording_one_program_keeps_what_is_recorded_of_another(clockhop, folder):
    (folder / "clockhop.yaml").write_text(PROJECT.split("builds:")[0])
    for name in ("panel", "bells"):
        (folder / f"{name}.asm").write_text(PANEL)
        assert clockhop("check", f"{name}.asm", "--record", "known.yaml", "--grow").status == 0
    assert clockhop("check", "panel.asm", "bells.asm", "--known", "known.yaml").status == 0


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", 'known.yaml:1:1: key "version" is missing'),
        ("version: 9\nfindings: []\n", "known.yaml:1:10: 9 is out of range"),
        ("version: 1\nfindings: [{file: a}]\n", 'known.yaml:2:12: key "finding" is missing'),
        ("{" * 5000, "known.yaml:1:1001: not YAML: "),
    ],
)
def test_a_record_that_is_none_is_refused_with_its_place(clockhop, tower, text, message):
    (tower / "known.yaml").write_text(text)
    for option in ("--known", "--record"):
        result = clockhop("check", option, "known.yaml")
        assert (result.status, result.out) == (2, "")
        assert result.err.startswith(f"clockhop: {message}")


def test_an_entry_that_stands_twice_is_refused(clockhop, tower):
    text = (tower / "known.yaml").read_text()
    (tower / "known.yaml").write_text(text + text.splitlines()[-1] + "\n")
    assert "this finding stands in line " in clockhop("check", "--known", "known.yaml").err


def test_a_source_is_never_written_over(clockhop, tower):
    result = clockhop("check", "--record", "panel.asm")
    assert (result.status, (tower / "panel.asm").read_text()) == (2, PANEL)


def test_a_report_is_never_written_over_the_record(clockhop, tower):
    before = (tower / "known.yaml").read_text()
    result = clockhop("check", "--known", "known.yaml", "-o", "./known.yaml")
    assert (result.status, result.out, (tower / "known.yaml").read_text()) == (2, "", before)


def test_recording_and_comparing_at_once_is_refused(clockhop):
    result = clockhop("check", "--record", "a", "--known", "b")
    assert (result.status, result.err) == (
        2,
        "clockhop: --record and --known are both given; keep one; see clockhop check --help\n",
    )


def test_a_label_of_any_letters_is_recorded_as_it_is(clockhop, folder):
    (folder / "clockhop.yaml").write_text(PROJECT.split("builds:")[0])
    # NEXT LINE, a quote, a backslash and a letter outside the first plane: nothing of it ends the line of an entry.
    (folder / "panel.asm").write_text(PANEL.replace(" JSR", ' FROB "\x85\\𝄞"\n JSR'), "utf-8")
    assert clockhop("check", "panel.asm", "--record", "known.yaml").status == 0
    assert clockhop("check", "panel.asm", "--known", "known.yaml").status == 0
