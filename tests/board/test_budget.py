"""Sums of access time beside the sheets' own, as in tests/reference/worked, and beside the figures people quote."""

from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from clockhop.board import budgets, read
from clockhop.errors import BoardError
from clockhop.quantity import Clock, parse_clock

WORKED = yaml.safe_load(
    (Path(__file__).parents[1] / "reference/worked/access_budget.yaml").read_text(encoding="utf-8")
)
BOARD = """\
processor: {processor}
processor_grade: {grade}
bus: {{{way}}}
memory:
  rom: {{from: $8000, to: $FFFF, kind: rom, part: 28C256, grade: "-15", waits: {waits}}}
"""


def paths(clock, processor="6809", grade="68B09", way="enable: address, output: tied", waits=0):
    text = BOARD.format(processor=processor, grade=grade, way=way, waits=waits)
    made = read(text, Path("clockhop.yaml")).memories(())
    (budget,) = budgets(made, clock if isinstance(clock, Clock) else parse_clock(clock))
    return {path.kind: path for path in budget.paths}


def ns(time):
    return time.seconds * 10**9


def left(path):
    """What is left behind each line of a sum."""
    total, found = Fraction(0), []
    for term in path.terms:
        total += ns(term.time)
        found.append(total)
    return found


@pytest.mark.parametrize(
    "entry", [e for e in WORKED["entries"] if "board" in e], ids=lambda entry: entry["id"]
)
def test_what_a_sheet_prints_comes_out(entry):
    board = entry["board"]
    found = paths(
        Clock(Fraction(board["hz"])),
        board["processor"],
        board["grade"],
        board.get("way", "enable: address"),
        board.get("waits", 0),
    )
    assert ns(found[board["path"]].left) == Fraction(entry["exact_ns"])


@pytest.mark.parametrize(
    ("way", "sums"),
    [
        # A cycle of 250 ns; the 15 ns decoder; address delay 110 and set-up 40 of the 2 MHz grade; E falls in 20.
        ("enable: address, decoder: 15 ns", [250, 235, 125, 85, 65]),
        # Three quarters of it, less the decoder: what people quote.
        (
            "enable: E or Q, decoder: 15 ns",
            [250, Fraction("187.5"), Fraction("172.5"), Fraction("132.5"), Fraction("112.5")],
        ),
        ("enable: E, decoder: 15 ns", [250, 125, 110, 70, 40]),
    ],
)
def test_at_4_mhz_the_figures_people_quote_stand_in_the_sums(way, sums):
    assert left(paths("4 MHz", way=way)["chip enable"]) == sums


def test_a_wait_state_adds_a_cycle_and_logic_and_buffers_take_their_longest_delay():
    way = "enable: E, decoder: [74S138, 74LS00], output: E, strobe: 74LS00, buffers: 74LS245"
    found = paths("4 MHz", way=way, waits=1)
    # 250 - 125 + 250 - 12 - 10 - 12 - 40 - 30, the same without the decoder's 12, and 250 + 250 - 12 - 110 - 40 - 20.
    assert [ns(found[kind].left) for kind in ("chip enable", "output enable", "address")] == [271, 283, 318]
    assert [term.text for term in found["chip enable"].terms][2:6] == [
        "1 wait",
        "decoder 74S138",
        "decoder 74LS00",
        "buffer 74LS245",
    ]


def test_the_highest_clock_is_exact_just_below_and_just_above():
    path = paths("4 MHz", way="enable: address, decoder: 15 ns")["chip enable"]
    # 150 + 15 + 110 + 40 + 20 ns are a cycle of 335 ns.
    assert path.fastest.hz == Fraction(10**9, 335)
    edge, step = path.fastest.hz, Fraction(1, 10**9)
    assert paths(Clock(edge), way="enable: address, decoder: 15 ns")["chip enable"].margin.seconds == 0
    for hz, holds in ((edge - step, True), (edge + step, False)):
        margin = paths(Clock(hz), way="enable: address, decoder: 15 ns")["chip enable"].margin
        assert (margin.seconds > 0) is holds


def test_a_path_that_can_t_be_added_up_says_what_to_state():
    made = read(
        "processor: 6809\nmemory: {rom: {from: $8000, to: $FFFF, kind: rom, part: 28C256}}\n", Path("x")
    ).memories(())
    (budget,) = budgets(made, parse_clock("1 MHz"))
    assert [(each.kind, each.reason) for each in budget.unsummed] == [
        ("chip enable", "state enable: of rom, one of address, E, E or Q, tied"),
        ("output enable", "state output: of rom, one of address, E, E or Q, tied"),
    ]
    assert [path.kind for path in budget.paths] == ["address"]


@pytest.mark.parametrize(
    ("way", "message"),
    [
        ("enable: RD", 'unknown value "RD"'),
        (
            "decoder: 74LS139",
            'unknown logic "74LS139"; write a time such as 15 ns, or a part; nearest: 74LS138',
        ),
    ],
)
def test_a_way_that_is_not_understood_is_an_error(way, message):
    with pytest.raises(BoardError) as fault:
        paths("1 MHz", way=way)
    assert message in str(fault.value)
