"""Every form of every report, whole."""

import json
from fractions import Fraction
from importlib.resources import files

import jsonschema
import pytest
from clockhop.errors import Place
from clockhop.quantity import Clock, Duration
from clockhop.report import Durations, Judged, check, durations, summarise, write
from clockhop.rules import Finding, Holds, Open, PadGoal
from clockhop.timing import Query

US = Fraction(1, 1_000_000)


@pytest.fixture
def verdicts(panel, two_mhz):
    """Two findings, one of them on an output that hurts, a requirement kept and one that is not known."""

    def written(site):
        return site.access.address == 0x8001

    (gap,) = panel.timings.gaps(Query(written, written, lambda _: False))
    return (
        Finding(
            name="wait-too-short",
            severity="warning",
            place=Place("panel.asm", 16, 9),
            message="DELAY takes 200008 cycles, 100.004 ms at 2 MHz; 200 ms stated; count #49999 is exact",
            subject="DELAY",
            hurts=True,
        ),
        Finding(
            name="access-too-soon",
            severity="error",
            place=Place("panel.asm", 7, 9),
            message="LCDCMD written 62 cycles after line 3, 31 us at 2 MHz; 44780 needs 52.6 us; pad 44 cycles",
            subject="LCDCMD",
            notes=("panel.asm:3: STA LCDCMD", "HD44780U data sheet ADE-207-272(Z), Table 6"),
            measured_cycles=62,
            measured=Duration(31 * US),
            limit=Duration(Fraction(999, 19) * US),
            clock=two_mhz,
            holds_up_to=Clock(Fraction(62) / (Fraction(999, 19) * US)),
            goal=PadGoal(gap.first, gap.then, 44, gap.path),
        ),
        Holds("LCDCMD after DELAY", Duration(Fraction(1, 10)), Duration(Fraction(1, 1000)), None),
        Open("LCDCMD after POLL", "POLL loops until what is read at $9000 changes"),
    )


@pytest.fixture
def checked(panel, verdicts):
    return check([Judged(panel, verdicts, accepted=3)])


@pytest.mark.parametrize(("form", "name"), [("text", "txt"), ("lines", "log"), ("json", "json")])
def test_durations_are_written_as_in_the_golden_file(panel, golden, form, name):
    golden(f"durations.{name}", write(Durations((durations(panel),)), form))


@pytest.mark.parametrize(("form", "name"), [("text", "txt"), ("lines", "log"), ("json", "json")])
def test_findings_are_written_as_in_the_golden_file(checked, golden, form, name):
    golden(f"check.{name}", write(checked, form))


@pytest.mark.parametrize("command", ["check", "durations"])
def test_the_json_forms_keep_their_schema(panel, checked, command):
    report = checked if command == "check" else Durations((durations(panel),))
    schema = json.loads(files("clockhop.shared").joinpath(f"schemas/report-{command}.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(write(report, "json")), schema)


def test_only_the_text_form_is_painted_and_only_in_its_words(checked):
    def paint(text, style):
        return f"<{style}>{text}</>" if style else text

    assert "7:9: <error>error: access-too-soon</>: LCDCMD written" in write(checked, "text", paint)
    assert "<" not in write(checked, "lines", paint)
    assert "<" not in write(checked, "json", paint)


def test_the_level_decides_what_fails(panel, verdicts):
    def only(*severities):
        chosen = tuple(v for v in verdicts if isinstance(v, Finding) and v.severity in severities)
        return check([Judged(panel, chosen, 0)])

    levels = ("error", "warning", "note", "never")
    assert [only("error").fails(level) for level in levels] == [True, True, True, False]
    assert [only("warning").fails(level) for level in levels] == [False, True, True, False]
    assert [only().fails(level) for level in levels] == [False, False, False, False]


def test_a_summary_without_findings_says_none(panel):
    assert "findings: none\n" in summarise(check([Judged(panel, (), 0)]))


def test_a_finding_of_two_builds_stands_once_and_one_of_a_single_build_names_it(panel, verdicts):
    both = check([Judged(panel, verdicts[:2], 0), Judged(panel, verdicts[:1], 0)])
    assert [len(row.builds) for row in both.findings] == [1, 1]
    assert len(write(both, "lines").splitlines()) == 2


def test_the_caution_about_ratings_is_said_once_and_only_with_a_reason(panel):
    over = Finding("over-rating", "warning", Place("clockhop.yaml", 1, 1), "6809 at 2 MHz", "6809")
    assert check([Judged(panel, (over, over), 0)]).cautions == (
        "running parts beyond their data sheet is at the owner's risk; "
        "data sheets, local codes and licensed practice decide",
    )
    assert check([Judged(panel, (), 0)]).cautions == ()


def test_the_cautions_of_a_part_are_said_where_a_finding_is_about_it(panel, verdicts):
    (caution,) = check([Judged(panel, verdicts[1:], 0)]).cautions
    assert caution.startswith("lcd: early parts with a 160 kHz oscillator need up to 120 us for a command")
