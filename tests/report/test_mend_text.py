"""What `mend` tells of a plan that changes nothing, and that its JSON form keeps its schema."""

import json
from importlib.resources import files

import jsonschema
import pytest
from clockhop.errors import Place
from clockhop.mend import Left, Options, Plan, plan
from clockhop.quantity import parse_clock
from clockhop.report import Mends, write
from clockhop.report.mends import PlanReport

ONE, TWO = parse_clock("1 MHz"), parse_clock("2 MHz")


@pytest.fixture
def told():
    """The text and the lines of a plan without mends for a program written for 1 MHz."""

    def tell(clock, *left):
        plan = Plan(clock, ONE, (), left, {}, {})
        report = Mends((PlanReport("panel.asm", "panel.asm", "6809", plan, (), ()),), None)
        return write(report, "text").splitlines(), write(report, "lines").splitlines()

    return tell


def test_at_the_clock_it_was_written_for_another_clock_is_asked_for(told):
    text, lines = told(ONE)
    assert text == [
        "panel.asm, 6809: mends for 1 MHz, written for 1 MHz",
        "",
        "nothing to mend at the clock it was written for; name another with --clock",
    ]
    assert lines == []


def test_at_another_clock_nothing_to_mend_is_all(told):
    assert told(TWO)[0][-1] == "nothing to mend"


def test_what_is_left_names_its_subject_once(told):
    place = Place("panel.asm", 7, 9)
    text, lines = told(
        TWO,
        Left("WAIT", place, "it is a ruler"),
        Left("LCDCMD", place, "LCDCMD written every 20 cycles"),
    )
    assert text[2:6] == [
        "left as it is:",
        "panel.asm:7:9: WAIT: it is a ruler",
        "panel.asm:7:9: LCDCMD written every 20 cycles",
        "",
    ]
    assert text[6:] == ["nothing mended, 2 left as they are"]
    assert lines == [
        "panel.asm:7:9: note: left: WAIT: it is a ruler",
        "panel.asm:7:9: note: left: LCDCMD written every 20 cycles",
    ]


def test_the_json_form_keeps_its_schema(panel):
    schema = json.loads(files("clockhop.shared").joinpath("schemas/report-mend.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    made = plan(panel, Options(TWO, ONE))
    left = Left("WAIT", Place("panel.asm", 7, 9), "it is a ruler")
    made = Plan(TWO, ONE, made.mends, (*made.left, left), made.before, made.after)
    report = Mends((PlanReport("panel", "panel.asm", "6809", made, (), ()),), None)
    value = json.loads(write(report, "json"))
    assert value["builds"][0]["mends"]
    jsonschema.validate(value, schema)
