"""What must lie between two operations: worst case of the sheet, the part's own clock, modes, grades."""

from fractions import Fraction

import pytest
from clockhop.board import LeastGap, MostGap
from clockhop.quantity import Duration, parse_clock, parse_duration


def us(text):
    return Duration(Fraction(text) / 1_000_000)


def one_part(fields):
    return f"processor: 6809\nclock: 1 MHz\nparts: {{it: {{{fields}}}}}\n"


def access(made, port, direction, value=None, place=None):
    return made.operation(made.parts[0], port, direction, value, place)


def limits(made, first, then, clock=None):
    (first,), (then,) = first, then
    return made.limits(made.parts[0], first, then, clock)


def test_a_44780_command_takes_999_nineteenths_us_with_its_oscillator_at_190_khz(board):
    made = board(one_part("family: HD44780, at: $8000"))
    command = access(made, "command", "write", 0x0C)
    (limit,) = limits(made, command, access(made, "data", "write"))
    assert limit.least == us("999/19")
    assert limit.least.text(digits=3, rounding="up") == "52.6 us"
    assert (limit.kind, limit.whose) == ("busy", "44780")
    assert limit.source == ("HD44780U Dot Matrix LCD Controller/Driver data sheet ADE-207-272(Z), Table 6")


@pytest.mark.parametrize("value", [0x01, 0x02])
def test_44780_clear_and_home_take_2_16_ms(board, value):
    made = board(one_part("family: 44780, at: $8000"))
    (limit,) = limits(made, access(made, "command", "write", value), access(made, "data", "write"))
    assert limit.least == us("2160")


def test_a_44780_whose_oscillator_is_stated_as_250_khz_takes_39_96_us(board):
    made = board(one_part("family: 44780, at: $8000, clock: 250 kHz"))
    (limit,) = limits(made, access(made, "data", "write"), access(made, "data", "write"))
    assert limit.least == us("39.96")


def test_a_44780_limit_is_satisfied_by_bit_7_of_the_command_port_reading_0(board):
    made = board(one_part("family: 44780, at: $8000"))
    (limit,) = limits(made, access(made, "command", "write", 0x01), access(made, "data", "write"))
    assert (limit.poll.port, limit.poll.mask, limit.poll.ready) == ("command", 0x80, 0x00)


def test_the_busy_flag_may_be_read_while_a_44780_is_busy(board):
    made = board(one_part("family: 44780, at: $8000"))
    assert limits(made, access(made, "command", "write", 0x01), access(made, "command", "read")) == ()


def test_44780_initialisation_asks_4_1_ms_after_the_first_function_set_and_100_us_after_any(board):
    made = board(one_part("family: 44780, at: $8000"))
    function_set = access(made, "command", "write", 0x38)
    first, later, busy = limits(made, function_set, function_set)
    assert (first.least, first.provided) == (us("4100"), "it is the first function set after power-on")
    assert (later.least, later.provided, later.poll) == (us("100"), "", None)
    assert busy.least == us("999/19")


def test_a_44780_is_left_alone_for_40_ms_after_power_on_or_15_ms_at_5_v(board):
    for grade, least in (("3 V", "40 ms"), ("5 V", "15 ms")):
        made = board(one_part(f"family: 44780, at: $8000, grade: {grade}"))
        power_on = made.power_on(made.parts[0])
        (limit,) = limits(made, (power_on,), access(made, "command", "write", 0x38))
        assert limit.least == parse_duration(least)


def test_the_halves_of_a_44780_byte_are_500_ns_apart_at_5_v(board):
    made = board(one_part("family: 44780, at: $8000, mode: 4-bit, grade: 5 V"))
    half = access(made, "data", "write", None, "first")
    (limit,) = limits(made, half, access(made, "data", "write", None, "second"))
    assert limit.least == us("0.5")


@pytest.mark.parametrize(
    ("mode", "least"), [("graphics", "8"), ("multicolor", "8"), ("text", "3.1"), ("blanked", "2")]
)
def test_9918_video_memory_accesses_are_8_us_apart_unless_the_mode_allows_less(board, mode, least):
    made = board(one_part(f"family: TMS9918A, at: $8100, mode: {mode}"))
    write, read = access(made, "data", "write"), access(made, "data", "read")
    for first, then in ((write, write), (read, write), (write, read)):
        (limit,) = limits(made, first, then)
        assert limit.least == us(least)
    (ahead,) = limits(made, access(made, "control", "write", 0x00, "second"), read)
    assert ahead.least == us(least)


def test_a_9918_without_a_mode_is_taken_as_graphics_which_is_the_strictest(board):
    made = board(one_part("family: 9918, at: $8100"))
    assert (made.parts[0].mode.name, made.parts[0].mode_stated) == ("graphics", False)


def test_9918_set_up_bytes_are_2_us_apart_in_every_mode(board):
    made = board(one_part("family: 9918, at: $8100, mode: text"))
    first = access(made, "control", "write", None, "first")
    second = access(made, "control", "write", 0x40, "second")
    assert [limit.least for limit in limits(made, first, second)] == [us("2")]
    assert [limit.least for limit in limits(made, second, access(made, "data", "write"))] == [us("2")]


def test_two_9918_control_bytes_are_certainly_2_us_apart_even_if_neither_place_nor_value_is_known(board):
    made = board(one_part("family: 9918, at: $8100"))
    control = access(made, "control", "write")
    (found,) = made.requirements(made.parts[0], control, control)
    assert (found.limit.least, found.certain) == (us("2"), True)


def test_a_76489_takes_32_of_its_own_clocks_which_is_8_us_at_4_mhz(board):
    made = board(one_part("family: 76489, at: $8300, clock: 4 MHz"))
    write = access(made, "data", "write")
    (limit,) = limits(made, write, write)
    assert limit.least == us("8")


def test_a_76494_takes_4_of_its_own_clocks(board):
    made = board(one_part("family: SN76494, at: $8300, clock: 500 kHz"))
    write = access(made, "data", "write")
    assert limits(made, write, write)[0].least == us("8")


def test_a_part_clocked_with_twice_the_bus_takes_half_as_long_at_the_double_clock(board):
    made = board(one_part("family: 76489, at: $8300, clock: bus * 2") + "clocks: [2 MHz]\n")
    write = access(made, "data", "write")
    assert limits(made, write, write, parse_clock("1 MHz"))[0].least == us("16")
    assert limits(made, write, write, parse_clock("2 MHz"))[0].least == us("8")
    # Without a clock the slowest of the board decides: the longest time.
    assert limits(made, write, write)[0].least == us("16")


def test_a_character_of_10_bits_takes_520_83_us_at_19200_baud(board):
    made = board(one_part("family: 6551, at: $8400, mode: 10 bits, baud: 19200"))
    send = access(made, "data", "write")
    (limit,) = limits(made, send, send)
    assert limit.least == us("62500/120")
    assert limit.poll.name == "transmitter empty"


def test_no_poll_helps_a_w65c51n_and_its_caution_says_so(board):
    made = board(one_part("family: W65C51N, at: $8400, mode: 10 bits, baud: 19200"))
    send = access(made, "data", "write")
    assert limits(made, send, send)[0].poll is None
    assert [remark.text.split(":")[0] for remark in made.cautions(made.parts[0])] == [
        "the W65C51N always reads transmitter empty"
    ]


def test_without_a_baud_rate_characters_are_not_judged_and_that_is_said(board):
    made = board(one_part("family: 6850, at: $8200"))
    send = access(made, "data", "write")
    assert limits(made, send, send) == ()
    assert made.unjudged == ("it: state baud: to judge the time between characters",)


def test_6850_polls_bit_1_to_send_and_bit_0_to_receive(board):
    family = board(one_part("family: 6850, at: $8200")).parts[0].family
    assert [(poll.name, poll.mask, poll.ready) for poll in family.polls] == [
        ("transmitter empty", 0x02, 0x02),
        ("receiver full", 0x01, 0x01),
    ]


def test_a_28c256_byte_takes_10_ms_but_within_a_page_the_next_comes_within_150_us(board):
    made = board(one_part("family: 28C256, at: $8000"))
    write, read = access(made, "array", "write"), access(made, "array", "read")
    (limit,) = limits(made, write, write)
    assert isinstance(limit, LeastGap)
    assert limit.least == us("10000")
    assert limit.poll.ready is None  # reads as it was written

    made = board(one_part("family: 28C256, at: $8000, mode: page write"))
    (page,) = limits(made, write, write)
    assert isinstance(page, MostGap)
    assert (page.most, page.provided) == (us("150"), "both bytes are of one page")
    assert limits(made, write, read)[0].least == us("10000")


def test_the_strictest_requirement_of_an_unknown_command_is_the_clear_and_is_not_certain(board):
    made = board(one_part("family: 44780, at: $8000"))
    unknown = access(made, "command", "write")
    found = made.requirements(made.parts[0], unknown, access(made, "data", "write"))
    assert [(item.limit.least, item.certain) for item in found] == [
        (us("2160"), False),
        (us("2160"), False),
        *[(us("999/19"), True)] * 6,  # one for each row of the sheet
    ]
    assert found[0].first.name == "clear"


def test_a_known_command_makes_its_requirement_certain(board):
    made = board(one_part("family: 44780, at: $8000"))
    (found,) = made.requirements(
        made.parts[0], access(made, "command", "write", 0x01), access(made, "data", "write")
    )
    assert (found.limit.least, found.certain) == (us("2160"), True)


def test_the_wait_after_the_first_function_set_is_never_certain(board):
    made = board(one_part("family: 44780, at: $8000"))
    function_set = access(made, "command", "write", 0x30)
    found = made.requirements(made.parts[0], function_set, function_set)
    assert [(item.limit.least, item.certain) for item in found] == [
        (us("4100"), False),
        (us("100"), True),
        (us("999/19"), True),
    ]
