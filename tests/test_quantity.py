"""Frequencies and times: exact in, exact out, rounded only in print."""

from fractions import Fraction

import pytest
from clockhop.errors import Place, QuantityError
from clockhop.quantity import Clock, Duration, Stretch, parse_clock, parse_duration


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("1 MHz", Fraction(1_000_000)),
        ("3.579545MHz", Fraction(3_579_545)),
        ("500 kHz", Fraction(500_000)),
        ("1843200 Hz", Fraction(1_843_200)),
        ("0.9216 MHz", Fraction(921_600)),
        ("315/88 MHz", Fraction(315_000_000, 88)),
        ("  2\tMHz ", Fraction(2_000_000)),
    ],
)
def test_a_clock_is_read_exactly(text, hz):
    assert parse_clock(text) == Clock(hz)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("20 ms", Fraction(1, 50)),
        ("52.6 us", Fraction(526, 10_000_000)),
        ("52.6 µs", Fraction(526, 10_000_000)),
        ("52.6 μs", Fraction(526, 10_000_000)),
        ("1.5 s", Fraction(3, 2)),
        ("150 ns", Fraction(15, 100_000_000)),
        ("999/19 us", Fraction(999, 19_000_000)),
    ],
)
def test_a_time_is_read_exactly(text, seconds):
    assert parse_duration(text) == Duration(seconds)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("2 mhz", 'clock "2 mhz": unknown unit; write Hz, kHz or MHz'),
        ("2 ms", 'clock "2 ms": unknown unit; write Hz, kHz or MHz'),
        ("2", 'clock "2": no unit; write it like 1.8432MHz'),
        ("", 'clock "": not a number and a unit; write it like 1.8432MHz'),
        ("fast", 'clock "fast": not a number and a unit; write it like 1.8432MHz'),
        ("1,8 MHz", 'clock "1,8 MHz": not a number and a unit; write it like 1.8432MHz'),
        ("-1 MHz", 'clock "-1 MHz": not a number and a unit; write it like 1.8432MHz'),
        ("1/0 MHz", 'clock "1/0 MHz": not a number and a unit; write it like 1.8432MHz'),
        ("0 MHz", 'clock "0 MHz": is zero; write a frequency above zero'),
    ],
)
def test_what_is_no_clock_is_refused_with_what_would_be_accepted(text, message):
    with pytest.raises(QuantityError) as caught:
        parse_clock(text)
    assert str(caught.value) == message


def test_a_time_with_an_unknown_unit_names_its_place():
    with pytest.raises(QuantityError) as caught:
        parse_duration("20 msec", Place("clockhop.yaml", 12, 10))
    assert str(caught.value) == 'clockhop.yaml:12:10: time "20 msec": unknown unit; write s, ms, us or ns'


def test_62_cycles_are_31_us_at_2_mhz_and_back():
    clock = Clock(Fraction(2_000_000))
    assert clock.duration(62) == Duration(Fraction(31, 1_000_000))
    assert Duration(Fraction(31, 1_000_000)).cycles(clock) == 62


def test_one_and_a_half_us_are_2_7648_cycles_at_1_8432_mhz():
    assert Duration(Fraction(15, 10_000_000)).cycles(Clock(Fraction(1_843_200))) == Fraction(27648, 10000)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (Fraction(100_004, 1_000_000), "100.004 ms"),
        (Fraction(31, 1_000_000), "31 us"),
        (Fraction(1, 2), "0.5 s"),
        (Fraction(1, 5), "200 ms"),
        (Fraction(250, 10**9), "250 ns"),
        (Fraction(1, 2 * 10**9), "0.5 ns"),
        (Fraction(40), "40 s"),
        (Fraction(0), "0 s"),
        (Fraction(-31, 1_000_000), "-31 us"),
        (Fraction(-1, 40), "-25 ms"),
    ],
)
def test_a_time_prints_in_the_unit_people_use(seconds, text):
    assert Duration(seconds).text() == text


def test_999_nineteenths_us_print_as_52_5789_and_rounded_up_as_52_6():
    worst = Duration(Fraction(999, 19_000_000))  # 52.578947...
    assert worst.text() == "52.5789 us"
    assert worst.text(digits=3, rounding="up") == "52.6 us"
    assert worst.text(digits=3, rounding="down") == "52.5 us"


def test_rounding_up_across_a_unit_prints_1_ms_not_1000_us():
    assert Duration(Fraction(9_999_999, 10**10)).text(rounding="up") == "1 ms"


@pytest.mark.parametrize(
    ("hz", "text"),
    [
        (Fraction(2_000_000), "2 MHz"),
        (Fraction(921_600), "921.6 kHz"),
        (Fraction(10_738_635), "10.738635 MHz"),
        (Fraction(50), "50 Hz"),
        (Fraction(315_000_000, 88), "3.57954545 MHz"),
    ],
)
def test_a_clock_prints_as_on_its_crystal(hz, text):
    assert Clock(hz).text() == text


def test_a_fastest_clock_of_1_17845_mhz_is_rounded_down():
    assert Clock(Fraction(1_178_459)).text(digits=6, rounding="down") == "1.17845 MHz"
    assert Clock(Fraction(1_178_459)).text(digits=6, rounding="up") == "1.17846 MHz"
    assert Clock(Fraction(1_178_459)).text(digits=6) == "1.17846 MHz"


def test_times_and_clocks_are_ordered():
    assert parse_duration("52.6 us") < parse_duration("1.52 ms")
    assert parse_clock("500 kHz") < parse_clock("1 MHz")


def test_a_stretched_cycle_counts_in_the_mean_and_not_in_the_fastest():
    # Every 65th cycle is a seventh longer: 912 periods of 14.31818 MHz for 65 cycles of 14.
    clock = Clock(Fraction(14_318_180, 14), stretch=Stretch(65, Fraction(1, 7)))
    assert clock.duration(65).seconds == Fraction(912, 14_318_180)
    assert clock.duration(65).cycles(clock) == 65
    assert clock.fastest.duration(65).seconds == Fraction(910, 14_318_180)
    assert clock.slowest.duration(65) == clock.duration(65)
