"""What evidence rests on; beside a line that was not understood a mend of any kind is at most shown."""

from pathlib import Path

import pytest
from clockhop.assemble import words
from clockhop.board import read
from clockhop.chain import Request, run
from clockhop.cpu import load
from clockhop.mend import Mend, Options, plan
from clockhop.quantity import parse_clock
from clockhop.source import parse

BOARD = """\
processor: 6809
parts:
  panel: {family: 9918, at: $9000, mode: graphics, clock: 10.738635 MHz}
  via: {family: 6522, at: $8000}
"""
UNREAD = "        FROB  %1\n"
HEAD = "PANEL   EQU   $9000\n        ORG   $C000\n"
TAIL = "HERE    BRA   HERE\n        END   MAIN\n"
LOOP = "LOOP    LEAX  -1,X\n        BNE   LOOP\n        LDX   #0\n"
WAIT = f"{HEAD}@MAIN    LDX   #100\n{LOOP}{TAIL}"
PAD = f"{HEAD}MAIN    STA   PANEL\n        STA   PANEL\n@        CLRA\n{TAIL}"
POLL = "MAIN    LDX   #200\nASK     LDA   PANEL\n        BMI   DONE\n        LEAX  -1,X\n        BNE   ASK\n"
ASK = f"{HEAD}@{POLL}DONE    LDX   #0\n{TAIL}"
LATCH = "        LDD   #9998\n        STB   $8004\n        STA   $8005\n"
TIMER = f"{HEAD}MAIN    LDA   #$40\n        STA   $800B\n{LATCH}@{TAIL}"


def mends(text: str) -> list[Mend]:
    project = read(BOARD, Path("clockhop.yaml"))
    old, new = parse_clock("1 MHz"), parse_clock("2 MHz")
    vocabulary = words(load("6809"))
    chain = run(
        Request("tower.asm", "6809", (new,), old, project),
        lambda path: parse(text.encode(), path, vocabulary),
    )
    return list(plan(chain, Options(new, old)).mends)


@pytest.mark.parametrize(
    ("text", "kind", "subject"),
    [
        (WAIT, "retime", "LOOP"),
        (PAD, "pad", "PANEL"),
        (ASK, "retime", "ASK"),
        (TIMER, "number", "via timer 1"),
    ],
)
def test_every_kind_of_mend_names_its_ground_and_is_shown_beside_an_unread_line(text, kind, subject):
    (mend,) = [each for each in mends(text.replace("@", "")) if each.kind == kind]
    assert (mend.subject, mend.evidence.grade) == (subject, "proved")
    assert mend.evidence.lines[-1].startswith("rests on the 6809 table")
    assert mend.evidence.lines[-1].endswith(", entered only as the text shows")
    beside = [each for each in mends(text.replace("@", UNREAD)) if each.kind == kind]
    assert [each.evidence.grade for each in beside] == ["shown"]
    assert not any(each.made for each in beside)
    assert "was not understood" in beside[0].evidence.lines[0]


def test_what_is_taken_to_hold_from_the_start_is_named():
    text = (
        "        ORG   $C000\nMAIN    LDX   #100\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        LDX   #0\n"
        + TAIL
    )
    old, new = parse_clock("1 MHz"), parse_clock("2 MHz")
    vocabulary = words(load("6309-native"))
    chain = run(
        Request("tower.asm", "6309-native", (new,), old), lambda path: parse(text.encode(), path, vocabulary)
    )
    (mend,) = plan(chain, Options(new, old)).mends
    assert (
        mend.evidence.lines[-1]
        == "rests on the 6309-native table with MD = 1, entered only as the text shows"
    )
