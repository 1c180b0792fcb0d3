"""Strobe, delay and set-up of parts on the bus, each against its sheet."""

import pytest
from clockhop.quantity import Clock, parse_clock, parse_duration
from clockhop.rules import Finding, Holds, Margin, bus_too_fast, margins

GO = "GO RTS\n"
SERIAL = "processor_grade: 68B09\nparts: {line: {family: 6850, grade: 68B50, at: $8000}}\n"


def test_a_68b50_gets_95_ns_of_the_220_it_needs_at_4_mhz(judge):
    assert isinstance(judge(bus_too_fast, GO, "2 MHz", board=SERIAL)[0], Holds)
    (found,) = judge(bus_too_fast, GO, "2 MHz", "4 MHz", board=SERIAL)
    # Half of 250 ns less the 30 ns of the edges of E.
    assert found.message == (
        "line gets 95 ns of strobe width at 4 MHz; 68B50 needs 220 ns; 125 ns short, holds up to 2 MHz"
    )
    assert [note.split(":")[0] for note in found.notes] == [
        *("strobe width", "read delay", "address set-up", "write set-up", "address hold"),
    ]


@pytest.mark.parametrize(
    ("subject", "at_2_mhz"),
    [
        # 250 ns high less 30, 220 needed; less 40 of set-up, 150 needed; 250 low less 30 and 110, 40 needed;
        # 375 from Q less 110 and 20, 60 needed.
        ("strobe width", "0 ns"),
        ("read delay", "30 ns"),
        ("address set-up", "70 ns"),
        ("write set-up", "185 ns"),
    ],
)
def test_each_time_has_its_row_and_its_exact_end(case, subject, at_2_mhz):
    rows = [row for row in margins(case(GO, "2 MHz", board=SERIAL)) if isinstance(row, Margin)]
    (row,) = [row for row in rows if row.kind == "bus" and row.subject == f"line: {subject}"]
    assert row.at(parse_clock("2 MHz")) == parse_duration(at_2_mhz)
    assert row.at(row.highest).seconds == 0
    assert row.at(Clock(row.highest.hz + 1)).seconds < 0 < row.at(Clock(row.highest.hz - 1)).seconds


def test_a_wait_state_and_a_port_between_help(judge):
    waited = SERIAL.replace("at: $8000", "at: $8000, waits: 1")
    assert isinstance(judge(bus_too_fast, GO, "2.2 MHz", board=waited)[0], Holds)
    behind = (
        "processor_grade: 68B09\nparts: {gong: {family: 76489, clock: 3.579545 MHz, "
        "behind: {data: $8000, control: $8001, enable: bit 0}}}\n"
    )
    assert judge(bus_too_fast, GO, "4 MHz", board=behind) == []


def test_what_was_tried_is_said_and_stays_a_finding(judge):
    tried = SERIAL.replace("at: $8000", "at: $8000, tried: 4 MHz")
    (found,) = judge(bus_too_fast, GO, "4 MHz", board=tried)
    assert isinstance(found, Finding)
    assert found.message.endswith("; tried at 4 MHz, not rated")


def test_an_8085_gives_a_write_pulse_of_a_cycle_and_a_half(judge):
    board = "processor_grade: 8085A-2\nparts: {clock: {family: 28C256, at: $8000}}\n"
    (found,) = judge(bus_too_fast, GO.replace("RTS", "RET"), "10 MHz", board=board, cpu="8085")
    # 150 ns less 70 are 80 of the 100 needed; between two there are 150 less 80 of 50.
    assert "clock gets 80 ns of strobe width at 10 MHz" in found.message
