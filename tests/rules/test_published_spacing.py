"""Published distances between two writes of a Z80 whose board adds a wait to every opcode fetch."""

from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from clockhop.quantity import Clock, Duration
from clockhop.rules import Margin, margins

WORKED = yaml.safe_load(
    (Path(__file__).parents[1] / "reference/worked/spacing.yaml").read_text(encoding="utf-8")
)["entries"]
ROWS = [entry for entry in WORKED if "code" in entry]
CLOCK = Clock(Fraction(3_579_545))
PANEL = "parts:\n  panel: {family: 9918, mode: graphics, ports: {data: io:$98}}\n"


def test_every_published_row_is_reproduced_or_left_out_with_a_reason():
    assert (len(WORKED), len(ROWS)) == (9, 5)
    assert all(entry.get("left_out") for entry in WORKED if "code" not in entry)


@pytest.mark.parametrize("entry", ROWS, ids=lambda entry: entry["id"])
def test_two_writes_are_as_far_apart_as_published(case, entry):
    text = f"        ORG 0C000H\nMAIN:   LD BC,4098H\n        LD HL,0D000H\n{entry['code']}        RET\n"
    found = margins(case(text, "3.579545 MHz", board=PANEL, cpu="z80-m1wait"))
    (row,) = [each for each in found if isinstance(each, Margin) and each.kind == "spacing"]
    states = int(entry["exact"])
    # 8 us are 28.64 T-states; the highest clock is the one at which the T-states are 8 us.
    assert row.highest.hz == Fraction(states * 10**6, 8)
    assert row.at(CLOCK) == Duration(states / CLOCK.hz - Fraction(8, 10**6))
    assert (row.at(CLOCK).seconds >= 0) is (states >= 29)
