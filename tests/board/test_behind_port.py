"""A part behind a parallel port: its operation happens when the enable line falls."""

import pytest

EIGHT = """\
processor: 6809
clock: 1 MHz
parts:
  dial: {family: 44780, behind: {data: PIA_A, control: PIA_B, enable: bit 0, select: bit 1, read: bit 2}}
"""
FOUR = """\
processor: 6809
clock: 1 MHz
parts:
  dial: {family: 44780, behind: {data: $8000, control: $8000, enable: bit 2, select: bit 1, data_bits: 4-7}}
"""
SYMBOLS = {"PIA_A": 0x8000, "PIA_B": 0x8002}


def told(made, *contents, **more):
    strobe = made.strobe(made.parts[0], *contents, **more)
    return strobe.certain, [operation.name for operation in strobe.operations]


@pytest.mark.parametrize(
    ("before", "after", "data", "expected"),
    [
        (0x01, 0x00, 0x01, (True, ["clear"])),
        (0x03, 0x02, 0x41, (True, ["write data"])),
        (0x05, 0x04, None, (True, ["read busy flag"])),
        (0x07, 0x06, None, (True, ["read data"])),
        (0x00, 0x01, 0x01, (True, [])),
        (0x01, 0x01, 0x01, (True, [])),
        (0x00, 0x00, 0x01, (True, [])),
        (0x01, None, 0x01, (False, ["clear"])),
        (None, 0x00, 0x01, (False, ["clear", "read busy flag", "write data", "read data"])),
        (None, 0x01, 0x01, (True, [])),
    ],
)
def test_the_fall_of_enable_is_the_operation_and_the_data_port_its_value(
    board, before, after, data, expected
):
    assert told(board(EIGHT, SYMBOLS), before, after, data) == expected


def test_both_ports_of_a_part_behind_a_port_are_watched(board):
    made = board(EIGHT, SYMBOLS)
    assert made.watched == {0x8000, 0x8002}
    assert made.behind_at(0x8002) == made.parts
    assert made.behind_at(0x8001) == ()
    assert made.part_at(0x8002) is None


def test_4_data_lines_mean_4_bit_mode_and_a_byte_is_put_together_from_two_halves(board):
    made = board(FOUR)
    assert (made.parts[0].mode.name, made.parts[0].mode_stated) == ("4-bit", True)
    assert told(made, 0x04, 0x00, 0x04, place="first") == (True, ["half a command"])
    assert told(made, 0x34, 0x30, 0x34, place="first") == (True, ["8-bit function set"])
    assert told(made, 0x14, 0x10, 0x14, place="second", first_half=0x04) == (True, ["clear"])
    assert told(made, 0x16, 0x12, 0x16, place="second", first_half=0x46) == (True, ["write data"])
    assert len(told(made, 0x14, 0x10, 0x14, place="second")[1]) == 10


def test_a_76489_behind_a_port_needs_no_select_line(board):
    made = board(
        "processor: 6809\nclock: 1 MHz\n"
        "parts: {gong: {family: 76489, clock: 4 MHz, behind: {data: $8000, control: $8002, enable: bit 7}}}\n"
    )
    assert told(made, 0x80, 0x00, 0x9F) == (True, ["write"])
