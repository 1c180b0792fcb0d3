"""Margins: linear in the length of a cycle, with the exact clock at which each requirement ends."""

from dataclasses import replace
from fractions import Fraction

import pytest
from clockhop.errors import Place
from clockhop.quantity import Clock, Duration, Stretch, parse_clock
from clockhop.rules import (
    Finding,
    Open,
    access_too_late,
    access_too_soon,
    handler_too_long,
    margins,
    rate_off,
)
from clockhop.rules.margin import Margin
from hypothesis import given, settings
from hypothesis.strategies import integers

LCD = "parts:\n  lcd: {family: 44780, grade: 5 V, ports: {command: LCDCMD}}\n"
TWO_WRITES = """\
LCDCMD  EQU   $8000
        ORG   $C000
GO      LDA   #$0C
        STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        RTS
"""
STEP = Fraction(1, 10**6)


def us(text):
    return Duration(Fraction(text) / 1_000_000)


def of(kind, found):
    return [each for each in found if isinstance(each, Margin) and each.kind == kind]


def test_62_cycles_have_9_4_us_to_spare_at_1_mhz_and_lack_21_6_at_2_mhz(case):
    (row,) = of("spacing", margins(case(TWO_WRITES, "1 MHz", "2 MHz", board=LCD)))
    one, two = parse_clock("1 MHz"), parse_clock("2 MHz")
    assert (row.at(one), row.at(two)) == (us(62 - Fraction(999, 19)), us(31 - Fraction(999, 19)))
    assert row.share(one) == (62 - Fraction(999, 19)) / Fraction(999, 19)
    assert (row.highest, row.lowest, row.never) == (Clock(62 * 10**6 / Fraction(999, 19)), None, False)
    assert (row.subject, row.cause) == ("LCDCMD written 62 cycles after line 4", "44780 needs 52.6 us")


@pytest.mark.parametrize("cycles", [1, 3, 11, 40, 200])
def test_the_rule_finds_nothing_at_the_highest_clock_and_something_just_above(case, judge, cycles):
    text = TWO_WRITES.replace("#11", f"#{cycles}")
    (row,) = of("spacing", margins(case(text, "1 MHz", board=LCD)))
    edge = row.highest.hz
    for hz, broken in ((edge - STEP, False), (edge, False), (edge + STEP, True), (edge / 3, False)):
        found = judge(access_too_soon, text, f"{hz} Hz", board=LCD)
        assert isinstance(found[0], Finding) is broken
        assert (row.at(Clock(hz)).seconds < 0) is broken


def test_a_deadline_has_a_lowest_clock_and_the_rule_agrees_on_both_sides(case, judge):
    text = """\
ROM     EQU   $8000
        ORG   $C000
GO      STA   ROM
        LDB   #20
WAIT    DECB
        BNE   WAIT
        STA   ROM
        RTS
"""
    board = 'parts:\n  rom: {family: 28C256, grade: "-15", mode: page write, at: ROM}\n'
    (row,) = of("deadline", margins(case(text, "1 MHz", board=board)))
    # 2 + 20 * 5 + 5 = 107 cycles in at most 150 us.
    assert (row.lowest.hz, row.highest) == (Fraction(107 * 10**6, 150), None)
    assert row.at(parse_clock("1 MHz")) == us("43")
    for hz, late in ((row.lowest.hz - STEP, True), (row.lowest.hz, False)):
        found = judge(access_too_late, text, f"{hz} Hz", board=board)
        # Whether both bytes are of one page is not known, so what is late is open.
        assert isinstance(found[0], Open) is late


def test_a_handler_has_a_lowest_clock(case, judge):
    text = "        ORG   $C000\nMAIN    BRA   MAIN\nFRAME   RTI\n"
    board = "interrupts: {IRQ: {entry: FRAME, period: 20 us}}\n"
    (row,) = of("deadline", margins(case(text, "1 MHz", board=board)))
    # 19 cycles to enter it, 15 for an RTI that pulls everything: 34 cycles in 20 us are 1.7 MHz.
    assert (row.subject, row.lowest) == (
        "FRAME takes up to 34 cycles with its entry",
        parse_clock("1.7 MHz"),
    )
    assert isinstance(judge(handler_too_long, text, "1.699 MHz", board=board)[0], Finding)
    assert not isinstance(judge(handler_too_long, text, "1.7 MHz", board=board)[0], Finding)


def test_a_wait_holds_up_to_the_clock_at_which_it_lasts_as_its_note_says(case):
    text = """\
        ORG   $C000
DELAY   LDX   #25000 ; timing: takes at least 100 ms
LOOP    LEAX  -1,X
        BNE   LOOP
        RTS
"""
    (row,) = of("wait", margins(case(text, "1 MHz")))
    assert row.highest.hz == 2_000_080
    (slow,) = of("deadline", margins(case(text.replace("at least", "at most"), "1 MHz")))
    assert (slow.lowest.hz, slow.highest) == (2_000_080, None)


def test_a_part_clocked_from_the_bus_keeps_its_margin_at_every_clock(case):
    text = "TONES   EQU   $8000\n        ORG   $C000\nGO      STA   TONES\n{pads}        STA   TONES\n        RTS\n"
    board = 'parts:\n  chimes: {family: "76489", at: TONES, clock: bus * 2}\n'
    # 32 of its clocks are 16 cycles; STA and 6 NOPs are 17, STA and 5 are 15.
    (wide,) = of("spacing", margins(case(text.format(pads="        NOP\n" * 6), "1 MHz", board=board)))
    (tight,) = of("spacing", margins(case(text.format(pads="        NOP\n" * 5), "1 MHz", board=board)))
    assert [(row.highest, row.lowest, row.never) for row in (wide, tight)] == [
        (None, None, False),
        (None, None, True),
    ]
    assert wide.at(parse_clock("4 MHz")) == us("1/4")


def test_memory_and_grades_end_at_their_clocks(case):
    board = """\
processor_grade: 68B09
processor_tried: 4 MHz
bus: {enable: address, output: tied, decoder: 15 ns}
memory:
  rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}
"""
    found = list(margins(case("        ORG   $E000\nMAIN    RTS\n", "2 MHz", board=board)))
    # The longest cycle may be 10 us; 150 + 15 + 110 + 40 + 20 ns are 335.
    assert [(row.kind, row.subject, row.lowest, row.highest) for row in found] == [
        ("memory", "rom: address path", None, Clock(Fraction(10**9, 320))),
        ("memory", "rom: chip enable path", None, Clock(Fraction(10**9, 335))),
        ("grade", "6809: a cycle of the bus", None, parse_clock("2 MHz")),
        ("grade", "6809: a cycle of the bus", parse_clock("100 kHz"), None),
    ]
    assert found[2].tried == parse_clock("4 MHz")


def test_what_holds_at_a_clock_holds_at_every_lower_one_where_only_time_is_needed(case):
    (row,) = of("spacing", margins(case(TWO_WRITES, "1 MHz", board=LCD)))
    clocks = [Clock(Fraction(n * 10**5)) for n in range(1, 40)]
    verdicts = [row.at(clock).seconds >= 0 for clock in clocks]
    assert verdicts == sorted(verdicts, reverse=True)


LINE = "written_for: 614.4 kHz\nparts: {line: {family: 6850, at: $8000, clock: bus, baud: 9600}}\n"
BY_64 = "GO      LDA #$03\n        STA $8000\n        LDA #$16\n        STA $8000\nHERE    BRA HERE\n"


def test_a_rate_has_two_sides_and_the_rule_agrees_on_both(case, judge):
    (row,) = of("rate", margins(case(BY_64, "614.4 kHz", board=LINE)))
    # 64 periods a bit, 9600 baud to 2 %.
    assert (row.lowest, row.highest) == (Clock(Fraction(602_112)), Clock(Fraction(626_688)))
    assert row.at(parse_clock("614.4 kHz")).seconds == Fraction(1, 9600) * (1 - Fraction(100, 102))
    for hz, broken in (
        (row.lowest.hz - STEP, True),
        (row.lowest.hz, False),
        (row.highest.hz, False),
        (row.highest.hz + STEP, True),
    ):
        (found,) = judge(rate_off, BY_64, f"{hz} Hz", board=LINE)
        assert isinstance(found, Finding) is broken
        assert (row.at(Clock(hz)).seconds < 0) is broken


def test_a_rate_from_a_clock_of_its_own_stays(case):
    (row,) = of("rate", margins(case(BY_64, "1 MHz", board=LINE.replace("clock: bus", "clock: 614.4 kHz"))))
    assert (row.stays, row.highest, row.lowest, row.never) == (True, None, None, False)


@given(
    cycles=integers(1, 10**6),
    nanoseconds=integers(1, 10**9),
    hz=integers(10**4, 10**8),
    slower=integers(1, 10**4),
)
@settings(max_examples=60)
def test_a_least_time_that_holds_holds_at_every_slower_clock_and_its_end_is_exact(
    cycles, nanoseconds, hz, slower
):
    row = Margin(
        "spacing",
        "",
        "",
        Place("tower.asm"),
        Fraction(cycles),
        Duration(-Fraction(nanoseconds, 10**9)),
        (Fraction(0), Duration(Fraction(nanoseconds, 10**9))),
    )
    if row.at(Clock(Fraction(hz))).seconds >= 0:
        assert row.at(Clock(Fraction(hz, slower))).seconds >= 0
    assert row.at(row.highest).seconds == 0
    assert row.at(Clock(row.highest.hz * Fraction(10**9 + 1, 10**9))).seconds < 0
    assert row.at(Clock(row.highest.hz * Fraction(10**9 - 1, 10**9))).seconds > 0


def test_stretched_cycles_make_a_longest_time_longer_and_no_shortest_one(case):
    handler = "GO      RTS\nTICK    LDA #1\n        RTI\n"
    board = "interrupts: {IRQ: {entry: TICK, period: 1 ms}}\nstretch: {every: 64, by: 1}\n"
    (plain,) = of("deadline", margins(case(handler, "1 MHz", board=board)))
    clock = Clock(Fraction(10**6), stretch=Stretch(64, Fraction(1)))
    (row,) = of("deadline", margins(replace(case(handler, "1 MHz", board=board), clocks=(clock,))))
    # 19 cycles of entry, 2 and 15; at worst one stretched cycle more than the mean of 36 * 65 / 64.
    assert plain.cycles == -36
    assert row.at(clock).seconds == Fraction(1, 1000) - Fraction(37 * 65, 64 * 10**6)
    spacing = of("spacing", margins(replace(case(TWO_WRITES, "1 MHz", board=LCD), clocks=(clock,))))
    assert spacing[0].at(clock) == us(62 - Fraction(999, 19))


def test_accesses_through_an_unknown_address_are_a_requirement_that_is_not_known(case):
    board = "parts: {panel: {family: 9918, mode: graphics, at: $8000}}\n"
    made = case("GO      LDX $9000\n        STA ,X\n        STA ,X\n        RTS\n", board=board)
    (found,) = [each for each in margins(made) if isinstance(each, Open)]
    assert (found.subject, found.reason) == (
        "2 accesses through pointers that are computed or kept in memory",
        "the address is not known and may be a part's; the first is at tower.asm:2",
    )


def test_a_margin_between_two_accesses_says_what_a_scope_shows(case):
    board = "parts: {panel: {family: 9918, mode: graphics, at: $8000}}\n"
    made = case("GO      STA $8000\n        STA $8000\n        RTS\n", "1 MHz", "2 MHz", board=board)
    (found,) = [each for each in margins(made) if isinstance(each, Margin) and each.strobes]
    assert found.strobes.note() == "strobe to strobe on a scope: 5 us at 1 MHz, 2.5 us at 2 MHz"
