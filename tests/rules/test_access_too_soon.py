"""Accesses that come too soon: the code, the finding, and the neighbour that is silent."""

from dataclasses import replace
from fractions import Fraction

from clockhop.quantity import Duration
from clockhop.rules import Finding, Holds, Open, access_too_soon

LCD = "parts:\n  lcd: {family: 44780, ports: {command: LCDCMD, data: LCDDATA}}\n"
TWO_WRITES = """\
LCDCMD  EQU   $8000
LCDDATA EQU   $8001
GO      LDA   #$0C
        STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        RTS
"""


def us(text):
    return Duration(Fraction(text) / 1_000_000)


def kinds(verdicts):
    return [type(verdict) for verdict in verdicts]


def test_writes_62_cycles_apart_are_too_close_at_2_mhz_only(judge):
    (holds,) = judge(access_too_soon, TWO_WRITES, "1 MHz", board=LCD)
    assert isinstance(holds, Holds)
    # 62 cycles in 999/19 us: 1.17918 MHz
    assert (holds.measured, holds.limit) == (us("62"), us("999/19"))
    assert holds.holds_up_to.text(6, "down") == "1.17917 MHz"

    (finding,) = judge(access_too_soon, TWO_WRITES, "1 MHz", "2 MHz", board=LCD)
    assert (finding.place.line, finding.measured, finding.limit) == (8, us("31"), us("999/19"))
    assert finding.message == (
        "LCDCMD written 62 cycles after line 4, 31 us at 2 MHz; 44780 needs 52.6 us; pad 44 cycles"
    )
    assert (finding.strobes.fewest, finding.strobes.most) == (62, 62)
    assert finding.notes == (
        "tower.asm:4: STA LCDCMD",
        "tower.asm:5: LDB #11",
        "tower.asm:6: WAIT DECB",
        "tower.asm:8: STA LCDCMD",
        "strobe to strobe on a scope: 62 us at 1 MHz, 31 us at 2 MHz",
        "44780: 52.579 us after display control (oscillator at its slowest): "
        "HD44780U Dot Matrix LCD Controller/Driver data sheet ADE-207-272(Z), Table 6",
        "no mode is stated for lcd: 8-bit, the strictest, is taken",
        "no grade is stated for lcd: 3 V, the strictest, is taken",
        "no clock is stated for lcd: 190 kHz, the slowest it may have, is taken",
    )
    assert (finding.goal.cycles, finding.goal.path) == (44, (1, 2, 3, 5))
    assert (finding.severity, finding.short_before) == ("error", False)


PANEL = "parts:\n  panel: {family: 9918, ports: {data: VD, control: VC}, mode: graphics}\n"
PORTS = "VD EQU $8000\nVC EQU $8001\n"
FILL = PORTS + "GO LDX #100\nFILL STA VD\n LEAX -1,X\n BNE FILL\n RTS\n"


def test_a_fill_every_13_cycles_is_too_fast_above_1_625_mhz(judge):
    (holds,) = judge(access_too_soon, FILL, "1.625 MHz", board=PANEL)
    assert isinstance(holds, Holds)
    assert holds.holds_up_to.text() == "1.625 MHz"

    (finding,) = judge(access_too_soon, FILL, "2 MHz", board=PANEL)
    assert finding.message == "VD written every 13 cycles, 6.5 us at 2 MHz; 9918 needs 8 us; pad 3 cycles"
    assert finding.holds_up_to.text() == "1.625 MHz"


def test_what_was_short_at_the_old_clock_says_so(judge):
    (finding,) = judge(access_too_soon, FILL, "2 MHz", board=PANEL, written_for="1.8 MHz")
    assert finding.short_before
    assert finding.notes[-1] == "short at the old clock as well"
    (finding,) = judge(access_too_soon, FILL, "2 MHz", board=PANEL, written_for="1 MHz")
    assert not finding.short_before


def test_without_a_clock_nothing_is_judged(case):
    from dataclasses import replace

    assert list(access_too_soon.judge(replace(case(FILL, board=PANEL), clocks=()))) == []


SET_UP = PORTS + "GO CLRA\n STA VC\n LDB #{}\n STB VC\n {}\n RTS\n"


def test_the_second_byte_of_a_pair_decides_what_has_to_wait(judge):
    # STB 5 cycles after its own write to that of the next STA or LDA: 2.5 us at 2 MHz
    to_read = judge(access_too_soon, SET_UP.format("$00", "LDA VD"), "2 MHz", board=PANEL)
    assert [v.limit for v in to_read if isinstance(v, Finding)] == [us("8")]
    to_write = judge(access_too_soon, SET_UP.format("$40", "STA VD"), "2 MHz", board=PANEL)
    assert kinds(to_write) == [Holds, Holds]
    register = judge(access_too_soon, SET_UP.format("$81", "LDA VD"), "2 MHz", board=PANEL)
    assert kinds(register) == [Holds]


def test_a_read_of_status_begins_a_new_pair(judge):
    text = PORTS + "GO LDA #$81\n STA VC\n LDA VC\n LDA #$81\n STA VC\n LDA #0\n STA VC\n LDA VD\n RTS\n"
    # the last control byte is a second one: set read address
    findings = [v for v in judge(access_too_soon, text, "2 MHz", board=PANEL) if isinstance(v, Finding)]
    assert [(v.place.line, v.limit) for v in findings] == [(10, us("8"))]


ONE_LCD = "parts: {lcd: {family: 44780, at: $8000, mode: 8-bit, clock: 270 kHz, grade: 5 V}}\n"


def test_an_unknown_value_is_judged_by_what_holds_whatever_it_is(judge):
    text = (
        "LCD EQU $8000\nGO STA LCD\n BSR WAIT\n LDA #$0C\n STA LCD\n RTS\n"
        "WAIT LDX #{}\nAGAIN LEAX -1,X\n BNE AGAIN\n RTS\n"
    )
    # BSR 7, LDX 3, 8 a turn, RTS 5, LDA 2, STA 5
    (verdict,) = judge(access_too_soon, text.format(20), "2 MHz", board=ONE_LCD)
    assert verdict == Open(
        "LCD at tower.asm:5",
        "written 182 cycles after line 2, 91 us at 2 MHz, and 44780 may need 1.52 ms: "
        "the value written is not known; it may be clear",
    )
    (verdict,) = judge(access_too_soon, text.format(1000), "2 MHz", board=ONE_LCD)
    assert isinstance(verdict, Holds)
    (verdict,) = judge(access_too_soon, text.format(2), "2 MHz", board=ONE_LCD)
    # 22 + 2*8 = 38 cycles, 19 us: too short for every command
    assert (verdict.measured_cycles, verdict.limit) == (38, us("37"))
    assert verdict.notes[-1] == "1.52 ms may be needed: the value written is not known; it may be clear"


def test_a_wait_whose_count_the_caller_hands_over_is_no_fault_and_no_comfort(judge):
    text = "LCD EQU $8000\nGO LDA #$0C\n STA LCD\nWAIT DECB\n BNE WAIT\n STA LCD\n RTS\n"
    (verdict,) = judge(access_too_soon, text, "2 MHz", board=ONE_LCD)
    assert verdict == Open(
        "LCD at tower.asm:6",
        "written 10 cycles after line 3, 5 us at 2 MHz, and 44780 may need 37 us: "
        "WAIT takes 5*B cycles, and B is not known here",
    )


def test_a_call_of_what_is_not_in_the_source_is_no_fault_and_no_comfort(judge):
    text = "LCD EQU $8000\nGO LDA #$0C\n STA LCD\n JSR $F000\n STA LCD\n RTS\n"
    (verdict,) = judge(access_too_soon, text, "2 MHz", board=ONE_LCD)
    assert isinstance(verdict, Open)
    assert "written 13 cycles after line 3" in verdict.reason
    assert "$F000, which is not in this source" in verdict.reason


def test_a_busy_flag_left_on_ready_satisfies_the_wait_and_left_on_busy_does_not(judge):
    text = "LCD EQU $8000\nGO LDA #$0C\n STA LCD\nBUSY LDB LCD\n {} BUSY\n STA LCD\n RTS\n"
    assert judge(access_too_soon, text.format("BMI"), "2 MHz", board=ONE_LCD) == []
    (finding,) = judge(access_too_soon, text.format("BPL"), "2 MHz", board=ONE_LCD)
    # LDB 5, BPL 3, STA 5
    assert finding.measured_cycles == 13


def test_a_display_is_left_alone_for_15_ms_after_reset(judge):
    text = " ORG $F000\nLCD EQU $8000\nGO LDA #$38\n STA LCD\n BRA *\n ORG $FFFE\n FDB GO\n"
    (finding,) = judge(access_too_soon, text, "2 MHz", board=ONE_LCD)
    assert finding.message == (
        "LCD written 7 cycles after reset, 3.5 us at 2 MHz; 44780 needs 15 ms; pad 29993 cycles"
    )
    assert finding.goal is None
    assert judge(access_too_soon, text.replace(" FDB GO\n", ""), "2 MHz", board=ONE_LCD) == []


BEHIND = """\
parts:
  dial:
    family: 44780
    behind: {data: PA, control: PB, enable: bit 0, select: bit 1, read: bit 2}
    grade: 5 V
    mode: 8-bit
    clock: 270 kHz
"""
STROBED = """\
PA      EQU   $8000
PB      EQU   $8002
GO      LDA   #{}
        BSR   CMD
        LDA   #$0C
        BSR   CMD
        RTS
CMD     STA   PA
        CLRB
        STB   PB
        INCB
        STB   PB
        CLRB
        STB   PB
        RTS
"""


def test_behind_a_port_the_fall_of_enable_is_the_access_and_the_data_lines_its_value(judge):
    # from fall to fall: RTS 5, LDA 2, BSR 7, STA 5, CLRB 2, STB 5, INCB 2, STB 5, CLRB 2, STB 5
    (finding,) = judge(access_too_soon, STROBED.format("$01"), "2 MHz", board=BEHIND)
    assert (
        finding.message == "PB written every 40 cycles, 20 us at 2 MHz; 44780 needs 1.52 ms; pad 3000 cycles"
    )
    (finding,) = judge(access_too_soon, STROBED.format("$0F"), "2 MHz", board=BEHIND)
    assert (finding.limit, finding.goal.cycles) == (us("37"), 34)
    (holds,) = judge(access_too_soon, STROBED.format("$0F"), "1 MHz", board=BEHIND)
    assert isinstance(holds, Holds)


def test_lines_that_an_unknown_value_was_written_to_tell_nothing_certain(judge):
    text = "PA EQU $8000\nPB EQU $8002\nGO STB PB\n STA PB\n STB PB\n STA PB\n RTS\n"
    verdicts = judge(access_too_soon, text, "2 MHz", board=BEHIND)
    assert verdicts
    assert set(kinds(verdicts)) == {Open}


HALVES = """\
parts:
  dial: {family: 44780, ports: {command: LCDCMD, data: LCDDATA}, mode: 4-bit, grade: 5 V, clock: 270 kHz}
"""


def test_the_halves_of_a_byte_follow_each_other_at_once_and_bytes_do_not(judge):
    text = "LCDCMD EQU $8000\nLCDDATA EQU $8001\nGO LDA #$40\n STA LCDDATA\n LDA #$10\n"
    text += " STA LCDDATA\n STA LCDDATA\n RTS\n"
    (finding,) = [v for v in judge(access_too_soon, text, "2 MHz", board=HALVES) if isinstance(v, Finding)]
    assert (finding.place.line, finding.measured_cycles, finding.limit) == (7, 5, us("37"))


INTERRUPTED = """\
VD      EQU   $8000
VC      EQU   $8001
GO      {}
AGAIN   LDA   #0
        STA   VC
        LDB   #0
        STB   VC
        MUL
        MUL
        LDA   VD
        BRA   AGAIN
TICK    LDA   VC
        STA   VD
        RTI
"""
TICKING = PANEL + "interrupts: {IRQ: {entry: TICK, period: 20 ms}}\n"


def test_an_interrupt_brings_its_last_write_close_to_the_next_read_of_the_program(judge):
    unmasked = judge(access_too_soon, INTERRUPTED.format("ANDCC #$EF"), "3 MHz", board=TICKING)
    (finding,) = [v for v in unmasked if isinstance(v, Finding)]
    # RTI 15 after an IRQ, LDA 5
    assert finding.message == (
        "VD read 20 cycles after line 13 through IRQ, 6.66667 us at 3 MHz; 9918 needs 8 us; pad 4 cycles"
    )
    assert finding.notes[:3] == ("tower.asm:13: STA VD", "tower.asm:14: RTI", "tower.asm:10: LDA VD")


def test_a_masked_interrupt_makes_no_pairs_and_an_unknown_mask_is_said(judge):
    masked = judge(access_too_soon, INTERRUPTED.format("ORCC #$50"), "3 MHz", board=TICKING)
    assert set(kinds(masked)) == {Holds}
    unknown = judge(access_too_soon, INTERRUPTED.format("NOP"), "3 MHz", board=TICKING)
    (verdict,) = [v for v in unknown if isinstance(v, Open)]
    assert verdict.reason.endswith("whether IRQ is masked there is not known")


def test_characters_without_a_baud_rate_are_not_judged_and_it_is_said(judge):
    board = "parts: {line: {family: 6850, at: $8000}}\n"
    text = "GO STA $8001\n STA $8001\n RTS\n"
    assert judge(access_too_soon, text, board=board) == [
        Open("line", "state baud: to judge the time between characters")
    ]
    (finding,) = judge(access_too_soon, text, board=board.replace("6850,", "6850, baud: 9600,"))
    # no format is set: 11 bits at 9600 baud are 1145.83 us, and the writes 5 cycles apart at 1 MHz
    assert finding.goal.cycles == 1141


NOPS = " NOP\n" * 15


def test_a_long_way_is_shown_by_its_first_and_last_six_instructions(judge):
    text = f"LCD EQU $8000\nGO LDA #$0C\n STA LCD\n{NOPS} STA LCD\n RTS\n"
    (finding,) = judge(access_too_soon, text, "2 MHz", board=ONE_LCD)
    # 15 of 2 and STA 5
    assert finding.measured_cycles == 35
    assert finding.notes[5:8] == ("tower.asm:8: NOP", "... 5 instructions ...", "tower.asm:14: NOP")


def test_wait_states_of_the_rom_lengthen_the_gap_between_two_writes(judge):
    text = "PANEL   EQU $9000\n        ORG $C000\nMAIN    STA PANEL\n        NOP\n        STA PANEL\n        RTS\n"
    panel = "parts:\n  panel: {family: 9918, at: PANEL, mode: text, clock: 10.738635 MHz}\n"
    (finding,) = judge(access_too_soon, text, "3 MHz", board=panel)
    assert finding.measured == us("7/3")
    slow = f"{panel}memory:\n  rom: {{from: $C000, to: $FFFF, kind: rom, waits: 1}}\n"
    # NOP 2 + 1 and STA 5 + 3: 11 cycles.
    (finding,) = judge(access_too_soon, text, "4 MHz", board=slow)
    assert finding.measured == us("11/4")


def test_the_stricter_side_of_a_crystal_s_tolerance_counts(case):
    # 62 cycles at 1.179 MHz are 52.587 us, 8 ns more than needed; 300 ppm are 16 ns.
    board = f"oscillators: {{MAIN: {{frequency: 1.179 MHz, ppm: 300}}}}\nclock: MAIN\n{LCD}"
    made = case(TWO_WRITES, "1.179 MHz", board=board)
    assert kinds(access_too_soon.judge(made)) == [Holds]
    (finding,) = access_too_soon.judge(replace(made, clocks=made.board.clocks))
    assert finding.measured.text(7) == "52.57117 us"
