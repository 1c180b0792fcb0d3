"""Reports on a panel driver of the bell tower, and the files their forms are compared with."""

from collections.abc import Callable
from pathlib import Path

import pytest
from clockhop.assemble import words
from clockhop.board import read
from clockhop.chain import Chain, Request, run
from clockhop.cpu import load
from clockhop.quantity import parse_clock
from clockhop.source import parse

GOLDEN = Path(__file__).parent / "golden"

PANEL = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        LDA   #20
        LBSR  PAUSE
        LBSR  DELAY
        LBSR  DELAY
        RTS
PAUSE   DECA
        BNE   PAUSE
        RTS
DELAY   LDX   #25000
LOOP    LEAX  -1,X
        BNE   LOOP
        RTS
POLL    LDA   $9000
        BITA  #1
        BEQ   POLL
        RTS
        END   START
"""

PROJECT = """\
processor: 6809
clock: 1 MHz
clocks: [2 MHz]
written_for: 1 MHz
parts:
  lcd: {family: 44780, at: $8001}
  striker: {family: output, at: $8010, hurts: true}
  log: {family: W65C51N, at: $8020, clock: 1.8432 MHz}
"""


@pytest.fixture
def panel() -> Chain:
    """The build of the panel driver, from texts held in memory."""
    project = read(PROJECT, Path("clockhop.yaml"))
    request = Request("panel.asm", "6809", project.clocks, project.written_for, project, gaps_at=("LCDCMD",))
    return run(request, lambda path: parse(PANEL.encode(), path, words(load("6809"))))


@pytest.fixture
def two_mhz():
    return parse_clock("2 MHz")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compares a text with a golden file; with --write-golden writes the file first."""

    def compare(name: str, text: str) -> None:
        path = GOLDEN / name
        if request.config.getoption("--write-golden"):
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        assert text == path.read_text(encoding="utf-8")

    return compare
