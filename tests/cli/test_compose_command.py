"""`clockhop compose`: code that lasts a given time, and keeps its note once it is pasted."""

import json
from pathlib import Path

import jsonschema
import pytest

SCHEMA = json.loads((Path(__file__).parents[2] / "shared/schemas/report-compose.json").read_text())
ON_6809 = ("--cpu", "6809", "--clock", "2MHz")


def test_the_text_says_what_it_is_above_the_code(clockhop):
    assert (
        clockhop("compose", "20ms", "--cpu", "6502", "--clock", "1MHz").out
        == """\
; 20000 cycles, 20 ms at 1 MHz, exact; 15 bytes
; changes X, Y; flags N Z
; keep it in one page of 256 bytes: a branch into another takes longer
WAIT    JMP     *+3             ; timing: takes 20 ms
        NOP
        LDY     #38
WAIT1   LDX     #104
WAIT2   DEX
        BNE     WAIT2
        DEY
        BNE     WAIT1
        RTS
"""
    )


def test_one_line_for_a_build_log_has_the_same_figures(clockhop):
    assert clockhop("compose", "1/3s", *ON_6809, "--inline", "--form", "lines").out.startswith(
        "WAIT: 666667 cycles, 333.334 ms at 2 MHz, 167 ns more than 1/3 s; "
    )


def test_the_json_form_keeps_its_schema_and_its_times_exact(clockhop):
    value = json.loads(clockhop("compose", "1/3s", *ON_6809, "--form", "json").out)
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(value, SCHEMA)
    assert (value["cycles"], value["seconds"], value["longer"]) == (666667, "666667/2000000", "1/6000000")


@pytest.mark.parametrize("inline", [True, False])
@pytest.mark.parametrize(
    ("cpu", "word"), [("6809", "JSR"), ("6502", "JSR"), ("z80", "CALL"), ("8080", "CALL")]
)
@pytest.mark.parametrize("time", ["100us", "20ms", "1s"])
def test_check_finds_its_note_kept_at_its_clock_and_broken_at_twice_that(
    clockhop, folder, cpu, word, inline, time
):
    text = clockhop("compose", time, "--cpu", cpu, "--clock", "1MHz", *(["--inline"] * inline)).out
    colon = ":" * (word == "CALL")
    jump = {"6809": "BRA", "6502": "JMP", "z80": "JR", "8080": "JMP"}[cpu]
    code = f"{text} {jump} TOLL\n" if inline else f" {word} WAIT\n {jump} TOLL\n{text}"
    (folder / "tower.asm").write_text(f" ORG 4096\nTOLL{colon} NOP\n{code}")
    result = clockhop("check", "tower.asm", "--cpu", cpu, "--clock", "1MHz", "--form", "lines")
    assert (result.status, result.out) == (0, "")
    result = clockhop("check", "tower.asm", "--cpu", cpu, "--clock", "2MHz", "--form", "lines")
    assert result.status == 1
    assert ": error: wait-too-short: WAIT" in result.out


def test_processor_and_clock_come_from_the_project_file(clockhop, folder):
    (folder / "clockhop.yaml").write_text("processor: 6809\nclock: 1 MHz\nclocks: [2 MHz]\n")
    assert "; 2000 cycles, 1 ms at 2 MHz, exact" in clockhop("compose", "1ms").out
    assert "; 1000 cycles, 1 ms at 1 MHz, exact" in clockhop("compose", "1ms", "--clock", "1MHz").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["1us", *ON_6809], "1 us is 2 cycles: the shortest routine is 5 cycles, 2.5 us at 2 MHz"),
        (["20", *ON_6809], 'time "20": no unit; write it like 52.6us'),
        (["20ms", "--cpu", "6809"], "no clock is known; add --clock, such as --clock 2MHz"),
        (["20ms", "--clock", "2MHz"], "no processor is known; add --cpu, such as --cpu 6809"),
        (["20ms", "--cpu", "6808a", "--clock", "2MHz"], '--cpu: unknown processor "6808a"; nearest: '),
        (["0s", *ON_6809], "0 s is 0 cycles: the shortest routine is 5 cycles, 2.5 us at 2 MHz"),
    ],
)
def test_what_can_not_be_done_is_said_in_one_line(clockhop, arguments, said):
    result = clockhop("compose", *arguments)
    assert (result.status, result.out, result.err.count("\n")) == (2, "", 1)
    assert result.err.startswith(f"clockhop: {said}")
