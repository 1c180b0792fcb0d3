"""`--crystal` turns one oscillator of the project file; a bus clock above every grade asks whether it was meant."""

import pytest

SOURCE = "        ORG   $C000\nMAIN    LDX   #1000\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n"
PROJECT = "processor: 6809\nprocessor_grade: 68B09\ncrystal: 4 MHz\ndivide: 4\n"


@pytest.fixture(autouse=True)
def tower(folder):
    (folder / "main.asm").write_text(SOURCE)
    (folder / "clockhop.yaml").write_text(PROJECT)
    return folder


@pytest.mark.parametrize("knob", ["crystal=8MHz", "8 MHz"])
def test_a_crystal_of_8_mhz_makes_a_bus_clock_of_2_mhz(clockhop, knob):
    result = clockhop("durations", "main.asm", "--form", "lines", "--crystal", knob)
    assert "main.asm:2:9: note: duration: MAIN takes 8008 cycles, 4.004 ms at 2 MHz\n" in result.out
    assert result.err == ""


def test_a_bus_clock_of_8_mhz_asks_whether_the_crystal_was_meant(tower, clockhop):
    assert clockhop("check", "main.asm", "--clock", "8MHz").err == (
        "caution: bus clock 8 MHz is above every grade on the board (2 MHz); was the crystal meant? "
        "--crystal crystal=8MHz makes a bus clock of 2 MHz\n"
    )
    (tower / "clockhop.yaml").unlink()
    assert clockhop("durations", "main.asm", "--cpu", "6809", "--clock", "8MHz").err == (
        "caution: bus clock 8 MHz is above every grade on the board (2 MHz); was the crystal meant? "
        "8 MHz / 4 is 2 MHz\n"
    )
    assert clockhop("durations", "main.asm", "--cpu", "6809", "--clock", "2MHz").err == ""


def test_a_crystal_that_is_not_there_is_said(tower, clockhop):
    assert clockhop("check", "main.asm", "--crystal", "SOUND=8MHz").err == (
        'clockhop: clockhop.yaml: no oscillator "SOUND" to turn; accepted: crystal\n'
    )
    (tower / "clockhop.yaml").write_text("processor: 6809\nclock: 1 MHz\n")
    assert clockhop("check", "main.asm", "--crystal", "8MHz").err == (
        'clockhop: --crystal "8MHz": say which, as NAME=FREQUENCY; clockhop.yaml names: none\n'
    )
    (tower / "clockhop.yaml").unlink()
    assert clockhop("check", "main.asm", "--cpu", "6809", "--crystal", "8MHz").err == (
        'clockhop: --crystal "8MHz": no clockhop.yaml is found that has one; use --clock\n'
    )
