"""What an access means to a part: port, direction, place in a pair and value tell the operations apart."""

import pytest
from clockhop.board import families

LCD = """\
processor: 6809
clock: 1 MHz
parts: {dial: {family: 44780, at: $8000}}
"""
PANEL = """\
processor: 6809
clock: 1 MHz
parts: {panel: {family: 9918, ports: {data: $8100, control: $8101}}}
"""
NIBBLES = """\
processor: 6809
clock: 1 MHz
parts: {dial: {family: 44780, at: $8000, mode: 4-bit}}
"""


def names(operations):
    return [operation.name for operation in operations]


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (0x01, "clear"),
        (0x02, "home"),
        (0x03, "home"),
        (0x06, "entry mode set"),
        (0x0C, "display control"),
        (0x14, "shift"),
        (0x20, "4-bit function set"),
        (0x38, "8-bit function set"),
        (0x40, "set character address"),
        (0x80, "set display address"),
        (0xC0, "set display address"),
        (0x00, "other command"),
    ],
)
def test_a_44780_command_is_known_by_its_highest_bit_set(board, value, name):
    lcd = board(LCD)
    assert names(lcd.operation(lcd.parts[0], "command", "write", value)) == [name]


def test_a_44780_command_of_unknown_value_may_be_any_of_10(board):
    lcd = board(LCD)
    assert names(lcd.operation(lcd.parts[0], "command", "write", None)) == [
        "clear",
        "home",
        "entry mode set",
        "display control",
        "shift",
        "8-bit function set",
        "4-bit function set",
        "set character address",
        "set display address",
        "other command",
    ]


def test_44780_data_and_reads_are_one_operation_each_whatever_the_value(board):
    lcd = board(LCD)
    (dial,) = lcd.parts
    assert names(lcd.operation(dial, "data", "write", 0x01)) == ["write data"]
    assert names(lcd.operation(dial, "data", "read", None)) == ["read data"]
    assert names(lcd.operation(dial, "command", "read", None)) == ["read busy flag"]


@pytest.mark.parametrize(
    ("place", "value", "expected"),
    [
        ("first", 0x00, ["set-up, first byte"]),
        ("second", 0x00, ["set read address"]),
        ("second", 0x3F, ["set read address"]),
        ("second", 0x40, ["set write address"]),
        ("second", 0x87, ["set register"]),
        ("second", None, ["set read address", "set write address", "set register"]),
        (None, 0x40, ["set-up, first byte", "set write address"]),
        (None, None, ["set-up, first byte", "set read address", "set write address", "set register"]),
    ],
)
def test_the_second_set_up_byte_of_a_9918_says_what_is_set(board, place, value, expected):
    panel = board(PANEL)
    assert names(panel.operation(panel.parts[0], "control", "write", value, place)) == expected


def test_after_a_status_read_the_next_9918_control_byte_is_a_first_one(board):
    pair = board(PANEL).parts[0].family.pair
    assert (pair.port, pair.direction) == ("control", "write")
    assert pair.restarts == ("read status", "read video memory", "write video memory")
    assert pair.evidence.from_memory


def test_in_4_bit_mode_a_byte_is_known_at_its_second_half(board):
    lcd = board(NIBBLES)
    (dial,) = lcd.parts
    assert names(lcd.operation(dial, "command", "write", 0x00, "first")) == ["half a command"]
    assert names(lcd.operation(dial, "command", "write", 0x01, "second")) == ["clear"]
    assert names(lcd.operation(dial, "data", "write", None, "second")) == ["write data"]
    assert names(lcd.operation(dial, "data", "write", None)) == ["half a data byte", "write data"]


def test_in_4_bit_mode_0011_is_the_function_set_that_forces_8_bits(board):
    lcd = board(NIBBLES)
    assert names(lcd.operation(lcd.parts[0], "command", "write", 0x30, "first")) == ["8-bit function set"]


def test_6850_control_value_3_is_a_master_reset_and_21_sets_the_mode(board):
    serial = board("processor: 6809\nclock: 1 MHz\nparts: {line: {family: 68B50, at: $8200}}\n")
    (line,) = serial.parts
    assert names(serial.operation(line, "control", "write", 0x03)) == ["master reset"]
    assert names(serial.operation(line, "control", "write", 0x15)) == ["set mode"]
    assert names(serial.operation(line, "control", "write", None)) == ["master reset", "set mode"]


@pytest.mark.parametrize("name", [family.name for family in families() if family.ports])
def test_every_value_written_to_or_read_from_any_port_of_any_family_is_some_operation(board, name):
    text = f"processor: 6809\nclock: 1 MHz\nparts: {{it: {{family: {name}, at: $8000, clock: 1 MHz}}}}\n"
    made = board(text)
    (it,) = made.parts
    for port in it.family.ports:
        for direction in ("read", "write"):
            for value in range(256):
                assert made.operation(it, port.name, direction, value), (port, direction, value)
