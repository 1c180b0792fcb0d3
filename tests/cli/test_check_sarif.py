"""`clockhop check --form sarif`: valid by the published schema, the same finding under the same fingerprint."""

import json
from pathlib import Path

import jsonschema
import pytest
from clockhop.rules import RULES

SCHEMA = json.loads(
    (Path(__file__).parents[1] / "reference/sarif/sarif-schema-2.1.0.json").read_text(encoding="utf-8")
)
PANEL = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   STA   LCDCMD
        STA   LCDCMD
        STA   LCDCMD
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
def tower(folder):
    """Where the sources are, below the folder the command runs in."""
    (folder / "bell tower").mkdir()
    (folder / "bell tower/panel.asm").write_text(PANEL)
    (folder / "bell tower/clockhop.yaml").write_text(PROJECT)
    return folder / "bell tower"


@pytest.fixture
def sarif(clockhop):
    def call(*arguments):
        result = clockhop("check", *arguments, "--form", "sarif")
        assert (result.status, result.err) == (1, "")
        value = json.loads(result.out)
        jsonschema.Draft4Validator(SCHEMA).validate(value)
        return value["runs"]

    return call


def prints(run):
    return [result["partialFingerprints"]["clockhop/v1"] for result in run["results"]]


@pytest.mark.usefixtures("tower")
def test_each_build_is_a_run_that_declares_every_rule_with_its_five_parts(sarif):
    runs = sarif("bell tower/panel.asm")
    assert [run["automationDetails"]["id"] for run in runs] == [
        "clockhop/bell tower/panel.asm/tower/",
        "clockhop/bell tower/panel.asm/wide/",
    ]
    for run in runs:
        rules = run["tool"]["driver"]["rules"]
        assert [rule["id"] for rule in rules] == [rule.name for rule in RULES]
        for rule in rules:
            parts = rule["help"]["text"].split("\n\n")
            heads = [part.split(":")[0] for part in parts]
            assert heads == ["What it finds", "Why it matters", "Example", "Mend", "When to leave it"]


@pytest.mark.usefixtures("tower")
def test_a_result_names_its_rule_its_level_and_a_relative_path(sarif):
    run = sarif("bell tower/panel.asm")[0]
    result = next(each for each in run["results"] if each["ruleId"] == "access-too-soon")
    assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == "access-too-soon"
    assert result["level"] == "error"
    assert result["message"]["text"].startswith("LCDCMD written ")
    assert result["locations"][0]["physicalLocation"]["artifactLocation"] == {
        "uri": "bell%20tower/panel.asm",
        "uriBaseId": "SOURCES",
    }


def test_a_fingerprint_survives_other_lines_above_and_another_folder_to_run_in(
    sarif, tower, monkeypatch, clockhop
):
    before = sarif("bell tower/panel.asm")
    assert len(set(prints(before[0]))) == len(prints(before[0])) == 2

    (tower / "panel.asm").write_text("* the panel\n\n" + PANEL)
    monkeypatch.chdir(tower)
    after = json.loads(clockhop("check", "--form", "sarif").out)["runs"]
    lines = [
        [each["locations"][0]["physicalLocation"]["region"]["startLine"] for each in run["results"]]
        for run in (before[0], after[0])
    ]
    assert lines[1] == [line + 2 for line in lines[0]]
    assert prints(after[0]) == prints(before[0])


def test_a_column_counts_characters_and_not_bytes(sarif, tower):
    # The label has 3 characters in 4 bytes; the operation is the ninth character.
    (tower / "panel.asm").write_text(
        PANEL.replace("        STA   LCDCMD", "GÜT     STA   LCDCMD", 1), "utf-8"
    )
    regions = [
        each["locations"][0]["physicalLocation"]["region"]
        for each in sarif("bell tower/panel.asm")[0]["results"]
    ]
    assert {region["startColumn"] for region in regions if region["startLine"] == 4} == {9}


def test_the_order_of_the_sources_does_not_change_any_form(clockhop, folder):
    for name in ("bells", "panel"):
        (folder / f"{name}.asm").write_text(PANEL)
    (folder / "clockhop.yaml").write_text(PROJECT.split("builds:")[0])
    for form in ("text", "lines", "json", "sarif"):
        one = clockhop("check", "bells.asm", "panel.asm", "--form", form)
        other = clockhop("check", "panel.asm", "bells.asm", "--form", form)
        assert (one.status, one.out) == (other.status, other.out)
        assert one.status == 1
    for command in ("durations", "margins", "mend"):
        one = clockhop(command, "bells.asm", "panel.asm", "--clock", "2MHz")
        assert (
            one.out == clockhop(command, "panel.asm", "bells.asm", "bells.asm", "--clock", "2MHz").out != ""
        )
