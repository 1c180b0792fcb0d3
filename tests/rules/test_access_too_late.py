"""Accesses that come later than the part allows."""

from clockhop.rules import Holds, Open, access_too_late

HAMMER = """\
families:
  - family: hammer driver
    title: hammer driver of the great bell
    kind: device
    sources: {maker: {title: driver card, number: sheet 3}}
    ports: {latch: 0}
    operations:
      pull: {port: latch, does: write, bits: xxxxxxx1}
      release: {port: latch, does: write}
    limits:
      - {kind: max_gap, first: pull, then: release, most: 40 ms, source: maker, page: p. 2}
parts: {hammer: {family: hammer driver, at: HAMMER, hurts: true}}
"""
PULL = """\
HAMMER  EQU   $8010
GO      LDA   #1
        STA   HAMMER
        LDX   #5000
HOLD    LEAX  -1,X
        BNE   HOLD
        CLRA
        STA   HAMMER
        RTS
"""


def test_a_hammer_pulled_for_40010_cycles_is_released_too_late_at_1_mhz(judge):
    # LDX 3, 5000 turns of 8, CLRA 2, STA 5
    (finding,) = judge(access_too_late, PULL, "1 MHz", "2 MHz", board=HAMMER)
    assert finding.message == (
        "HAMMER written up to 40010 cycles after line 3, 40.01 ms at 1 MHz; hammer driver allows 40 ms"
    )
    assert (finding.severity, finding.hurts, finding.short_before) == ("error", True, False)
    assert finding.notes[-1] == "hammer driver: 40 ms: driver card sheet 3, p. 2"

    (holds,) = judge(access_too_late, PULL, "2 MHz", board=HAMMER)
    assert isinstance(holds, Holds)


def test_a_way_that_nothing_bounds_is_not_judged(judge):
    text = PULL.replace("HOLD    LEAX  -1,X\n        BNE", "HOLD    LDB   HAMMER\n        BMI")
    (verdict,) = judge(access_too_late, text, "1 MHz", board=HAMMER)
    assert verdict == Open(
        "HAMMER at tower.asm:8",
        "nothing bounds how long after line 3 it is written; hammer driver allows 40 ms",
    )


def test_bytes_of_an_eeprom_may_be_of_different_pages(judge):
    text = "GO LDA #1\n STA $8000\n LDX #100\nHOLD LEAX -1,X\n BNE HOLD\n STA $8001\n RTS\n"
    board = "parts: {store: {family: 28C256, at: $8000, mode: page write}}\n"
    (verdict,) = judge(access_too_late, text, "1 MHz", board=board)
    assert verdict.reason == (
        "written up to 808 cycles after line 2, 808 us at 1 MHz; 28C256 allows 150 us: "
        "whether both bytes are of one page is not known"
    )
