"""Findings that are accepted: left out, counted, and told where they are not there."""

import pytest
from clockhop.rules import Finding
from clockhop.rules import judge as judge_all

TWO_WRITES = """\
LCD     EQU   $8000
GO      LDA   #$0C
        STA   LCD
SECOND  STA   LCD{}
        RTS
"""
LCD = "parts: {lcd: {family: 44780, at: $8000, mode: 8-bit, clock: 270 kHz, grade: 5 V}}\n"
NOTE = " ; timing: accept access-too-soon because the dial is never read back"


def named(judgement):
    return [v.name for v in judgement.verdicts if isinstance(v, Finding)]


def test_a_note_leaves_the_finding_out_and_it_is_counted(case):
    plain = judge_all(case(TWO_WRITES.format(""), board=LCD))
    assert (named(plain), plain.accepted) == (["access-too-soon"], 0)
    noted = judge_all(case(TWO_WRITES.format(NOTE), board=LCD))
    assert (named(noted), noted.accepted) == ([], 1)


def test_a_note_at_the_first_of_the_two_accesses_does_too(case):
    text = TWO_WRITES.format("").replace("        STA   LCD\n", f"        STA   LCD{NOTE}\n")
    judgement = judge_all(case(text, board=LCD))
    assert (named(judgement), judgement.accepted) == ([], 1)


def test_a_note_that_nothing_answers_to_is_a_warning(case):
    text = TWO_WRITES.format("").replace("        RTS\n", f"        RTS{NOTE}\n")
    judgement = judge_all(case(text, board=LCD))
    assert named(judgement) == ["access-too-soon", "unused-acceptance"]
    finding = judgement.verdicts[-1]
    assert finding.message == "access-too-soon is accepted and not found; remove the acceptance"
    assert (finding.severity, str(finding.place)) == ("warning", "tower.asm:5")


def test_findings_accepted_everywhere_are_left_out_and_that_is_a_note(case):
    board = LCD + "accept: [{finding: access-too-soon, because: never read back}]\n"
    judgement = judge_all(case(TWO_WRITES.format(""), board=board))
    assert (named(judgement), judgement.accepted) == (["blanket-acceptance"], 1)
    finding = judgement.verdicts[-1]
    assert finding.message == "access-too-soon is accepted everywhere, 1 finding; name the places with at:"
    assert (finding.severity, finding.place.path) == ("note", "clockhop.yaml")
    both = board.replace("}]", "}, {finding: blanket-acceptance, because: a dark panel}]")
    judgement = judge_all(case(TWO_WRITES.format(""), board=both))
    assert (named(judgement), judgement.accepted) == ([], 2)


@pytest.mark.parametrize("at", ["at: LCD, ", "at: SECOND, ", "at: tower.asm:4, "])
def test_the_project_file_accepts_at_a_label_or_at_a_line(case, at):
    board = LCD + f"accept: [{{finding: access-too-soon, {at}because: never read back}}]\n"
    judgement = judge_all(case(TWO_WRITES.format(""), board=board))
    assert (named(judgement), judgement.accepted) == ([], 1)


@pytest.mark.parametrize("at", ["at: GO, ", "at: tower.asm:3, ", "at: bells.asm:4, "])
def test_the_project_file_accepts_nothing_elsewhere(case, at):
    board = LCD + f"accept: [{{finding: access-too-soon, {at}because: never read back}}]\n"
    judgement = judge_all(case(TWO_WRITES.format(""), board=board))
    assert named(judgement) == ["access-too-soon", "unused-acceptance"]
    assert judgement.verdicts[-1].place.path == "clockhop.yaml"


def test_a_name_that_no_finding_has_is_never_found(case):
    board = LCD + "accept: [{finding: access-to-soon, because: never read back}]\n"
    judgement = judge_all(case(TWO_WRITES.format(""), board=board))
    assert named(judgement) == ["access-too-soon", "unused-acceptance"]
