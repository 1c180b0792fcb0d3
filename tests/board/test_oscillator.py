"""The clock tree: everything is an exact fraction, and follows the oscillator it hangs on."""

from fractions import Fraction
from pathlib import Path

import pytest
from clockhop.board import FixedClock, read
from clockhop.errors import BoardError
from clockhop.quantity import Clock, parse_clock

TOWER = """\
processor: 6809
oscillators:
  MAIN: {frequency: 14.31818 MHz, ppm: 50}
  SOUND: 3.579545 MHz
clock: MAIN / 14
clocks: [MAIN / 7, 2 MHz]
written_for: MAIN / 14
parts:
  chimes: {family: "76489", at: $8000, clock: SOUND}
  panel: {family: 9918, at: $8010, clock: MAIN * 3 / 4}
"""


def made(text=TOWER, **turned):
    return read(text, Path("clockhop.yaml"), {name: parse_clock(clock) for name, clock in turned.items()})


def test_clocks_made_from_an_oscillator_are_exact():
    project = made()
    assert [clock.hz for clock in project.clocks] == [
        Fraction(14318180, 14),
        Fraction(14318180, 7),
        2_000_000,
    ]
    assert [part.clock for part in project.parts] == [
        FixedClock(parse_clock("3.579545 MHz")),
        FixedClock(parse_clock("10.738635 MHz")),
    ]


def test_what_hangs_on_an_oscillator_follows_it_and_the_old_clock_stays():
    project = made(MAIN="28.63636 MHz")
    assert [clock.hz for clock in project.clocks] == [
        Fraction(28636360, 14),
        Fraction(28636360, 7),
        2_000_000,
    ]
    assert project.written_for == Clock(Fraction(14318180, 14))
    assert [part.clock for part in project.parts] == [
        FixedClock(parse_clock("3.579545 MHz")),
        FixedClock(parse_clock("21.47727 MHz"), was=parse_clock("10.738635 MHz")),
    ]


def test_a_tolerance_of_50_ppm_comes_with_every_clock_made_from_it():
    bus = made(MAIN="14 MHz").clocks[0]
    assert (bus.fastest.hz, bus.slowest.hz) == (1_000_050, 999_950)
    assert made().parts[1].clock.clock.ppm == 50
    assert made().clocks[2].ppm == 0


def test_a_crystal_written_in_short_is_an_oscillator_named_crystal():
    project = made("processor: 6809\ncrystal: 3.6864 MHz\ndivide: 4\n", crystal="7.3728 MHz")
    assert project.clocks == (parse_clock("1.8432 MHz"),)
    assert (project.bus.name, project.bus.times) == ("crystal", Fraction(1, 4))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("clock: MAIN / 2\n", '"MAIN" is no oscillator of the board; write a frequency such as 2 MHz'),
        (
            "oscillators: {MAIN: 4 MHz}\nclock: MIAN / 2\n",
            '"MIAN" is no oscillator of the board; nearest: MAIN',
        ),
        ("oscillators: {bus: 4 MHz}\n", '"bus" can\'t name an oscillator'),
        (
            "oscillators: {MAIN: {frequency: 4 MHz, ppm: few}}\n",
            '"few" is no tolerance; write parts per million',
        ),
        (
            "oscillators: {crystal: 4 MHz}\ncrystal: 4 MHz\ndivide: 4\n",
            "crystal: gives an oscillator of that name",
        ),
    ],
)
def test_a_clock_that_can_t_be_made_is_said(text, message):
    with pytest.raises(BoardError) as fault:
        made(f"processor: 6809\n{text}")
    assert message in str(fault.value)


def test_an_oscillator_that_is_not_there_can_t_be_turned():
    with pytest.raises(BoardError) as fault:
        made(MIAN="8 MHz")
    assert str(fault.value) == 'clockhop.yaml: no oscillator "MIAN" to turn; nearest: MAIN'
