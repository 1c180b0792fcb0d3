"""`clockhop parts`: the families there are data for, and the sheet of one."""

import json
from pathlib import Path

import jsonschema
import pytest
from clockhop.board import families

SCHEMA = json.loads((Path(__file__).parents[2] / "shared/schemas/report-parts.json").read_text())


def test_without_a_name_each_family_has_a_line_with_its_part_numbers(clockhop):
    lines = clockhop("parts").out.splitlines()
    assert [line.split()[0] for line in lines] == [family.name for family in families()]
    (serial,) = (line for line in lines if line.startswith("6850 "))
    assert serial == (
        "6850        6850 serial port: ACIA6850, MC6850, HD6850, EF6850, 68A50, MC68A50, HD68A50, EF68A50, "
        "68B50, MC68B50, HD68B50, EF68B50"
    )


def test_a_part_is_shown_with_limits_modes_polls_and_sources(clockhop):
    out = clockhop("parts", "ym2151").out
    assert (
        """\
limits, judged by check
  write register to select register or write register, at least  68 periods of the chip clock; or not busy is
      polled
      Emulation notes: busy flag modelled as 64 input clocks, busy flag paragraph
      64 in the notes, about 68 quoted from memory; the longer is used; 19 us at 3.58 MHz
"""
        in out
    )
    assert "  not busy  data and $80 reads $00\n" in out


def test_a_limit_in_periods_of_a_clock_known_at_its_slowest_says_the_time(clockhop):
    assert "clear to next access, at least    2.16 ms, 410.4 periods of the internal oscillator" in (
        clockhop("parts", "44780").out
    )


def test_a_part_number_shows_its_grade_alone(clockhop):
    every, one = clockhop("parts", "6850").out, clockhop("parts", "68b50").out
    assert "  bus clock at most     plain 1 MHz, A 1.5 MHz, B 2 MHz\n" in every
    assert one.startswith("6850: 6850 serial port, grade B\n")
    assert "  bus clock at most     2 MHz\n" in one


def test_figures_that_nothing_judges_are_under_a_title_that_says_so(clockhop):
    out = clockhop("parts", "GAL16V8-7").out
    assert "figures, shown only\n  clock to output at most  12 ns\n      from memory\n" in out


def test_a_typing_slip_is_offered_the_nearest_and_nonsense_the_list(clockhop):
    result = clockhop("parts", "68B51")
    assert (result.status, result.out) == (2, "")
    assert result.err == 'clockhop: unknown part "68B51"; nearest: 68B50, 68B45, 68B21\n'
    assert clockhop("parts", "bell").err == 'clockhop: unknown part "bell"; clockhop parts lists them\n'


@pytest.mark.parametrize("name", [family.name for family in families()])
def test_the_sheet_of_every_family_fits_110_columns_and_its_schema(clockhop, name):
    assert max(map(len, clockhop("parts", name).out.splitlines())) <= 110
    value = json.loads(clockhop("parts", name, "--form", "json").out)
    jsonschema.validate(value, SCHEMA)
    assert value["families"][0]["name"] == name


def test_the_list_fits_the_same_schema(clockhop):
    value = json.loads(clockhop("parts", "--form", "json").out)
    jsonschema.validate(value, SCHEMA)
    assert len(value["families"]) == len(families())


def test_a_time_in_json_is_an_exact_fraction_of_a_second(clockhop):
    value = json.loads(clockhop("parts", "28C256-15", "--form", "json").out)
    (section,) = (each for each in value["families"][0]["sections"] if each["title"] == "bus times")
    first = section["lines"][0]
    assert first["values"] == [{"grade": None, "text": "150 ns", "hz": None, "seconds": "3/20000000"}]
    assert (first["what"], first["evidence"]["number"]) == ("access time at most", "0006M-PEEPR-12/09")


def test_in_lines_every_statement_stands_alone(clockhop):
    lines = clockhop("parts", "74S138", "--form", "lines").out.splitlines()
    assert lines == [
        "74138: bus times: delay at most: 12 ns; DM74S138 data sheet, switching characteristics; 15 pF, 25 C",
        "74138: bus times: enable delay at most: 11 ns; DM74S138 data sheet, switching characteristics; 15 pF, 25 C",
    ]
