"""How far a finding can be mended, as the JSON form of a check tells it."""

import pytest
from clockhop.assemble import words
from clockhop.board import read
from clockhop.chain import Request, judge, run
from clockhop.cpu import load
from clockhop.quantity import parse_clock
from clockhop.report import Judged, check, mended
from clockhop.source import parse

# Two writes 62 cycles apart, 31 us at 2 MHz; a 44780 needs 52.6 us after the first.
TWO_WRITES = """\
LCDCMD  EQU   $8001
START   LDA   #$80
        STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        RTS
        END   START
"""


@pytest.fixture
def judged(tmp_path):
    def make(text, part):
        project = read(f"processor: 6809\nparts:\n  lcd: {part}\n", tmp_path / "clockhop.yaml")
        clock = parse_clock("2 MHz")
        request = Request("panel.asm", "6809", (clock,), clock, project)
        chain = run(request, lambda path: parse(text.encode(), path, words(load("6809"))))
        found = judge(chain).verdicts
        return chain, [
            each for each in found if getattr(each, "name", "access-too-soon") == "access-too-soon"
        ]

    return make


LCD = "{family: 44780, grade: 5 V, mode: 8-bit, ports: {command: LCDCMD}}"


def test_a_pad_that_touches_nothing_live_is_proved(judged):
    chain, verdicts = judged(TWO_WRITES, LCD)
    assert mended(chain, verdicts) == ("proved",)


def test_without_a_finding_there_is_nothing_to_mend(judged):
    chain, verdicts = judged(TWO_WRITES, LCD.replace("LCDCMD", "$9000"))
    assert mended(chain, verdicts) == ()


def test_a_finding_of_two_builds_is_as_good_as_the_weaker_of_its_mends(judged):
    chain, verdicts = judged(TWO_WRITES, LCD)
    (row,) = check([Judged(chain, verdicts, 0, ("proved",)), Judged(chain, verdicts, 0, ("shown",))]).findings
    assert row.mend == "shown"
    (row,) = check([Judged(chain, verdicts, 0, ("none",)), Judged(chain, verdicts, 0, ("proved",))]).findings
    assert row.mend == "none"
