"""Limits by the mode that the program itself sets: which one counts where, and what is said where it isn't known."""

from clockhop.rules import access_too_soon

PANEL = "parts: {panel: {family: 9918, at: $8000}}\n"
SET = " LDA #%s\n STA $8001\n NOP\n NOP\n LDA #$81\n STA $8001\n NOP\n NOP\n"
TWICE = " STA $8000\n STA $8000\n RTS\n"
CLEAR = " ORG $C000\nGO CLRA\n" + SET + TWICE


def test_in_text_mode_3_1_us_are_enough_and_it_says_which_line_set_it(judge):
    text = CLEAR % "$D0"
    assert not [each for each in judge(access_too_soon, text, board=PANEL) if hasattr(each, "message")]
    (finding,) = [x for x in judge(access_too_soon, text, "2 MHz", board=PANEL) if hasattr(x, "message")]
    assert finding.message == (
        "$8000 written 5 cycles after line 11, 2.5 us at 2 MHz; 9918 needs 3.1 us in mode text; pad 2 cycles"
    )
    assert "panel is in mode text: set at tower.asm:8" in finding.notes


def test_with_the_display_off_2_us_are_enough(judge):
    faults = [x for x in judge(access_too_soon, CLEAR % "$90", "2 MHz", board=PANEL) if hasattr(x, "message")]
    assert faults == []


def test_what_nobody_sets_is_the_strictest_or_what_is_stated(judge):
    text = " ORG $C000\nGO CLRA\n" + TWICE
    (finding,) = [x for x in judge(access_too_soon, text, board=PANEL) if hasattr(x, "message")]
    assert finding.message.endswith("9918 needs 8 us in mode graphics; pad 3 cycles")
    assert (
        "no mode is stated for panel: graphics, the strictest, is taken; in another mode 2 us"
        in finding.notes
    )
    stated = PANEL.replace("9918,", "9918, mode: text,")
    assert not [x for x in judge(access_too_soon, text, board=stated) if hasattr(x, "message")]


BY_SWITCH = (
    " ORG $C000\nGO LDB $9000\n BEQ DARK\n"
    + SET % "$D0"
    + " BRA DRAW\nDARK NOP\n"
    + SET % "$90"
    + "DRAW STA $8000\n STA $8000\n RTS\n"
)


def test_of_two_modes_the_stricter_counts_and_both_are_named(judge):
    (finding,) = [x for x in judge(access_too_soon, BY_SWITCH, "2 MHz", board=PANEL) if hasattr(x, "message")]
    assert finding.message.endswith("9918 needs 3.1 us in mode text; pad 2 cycles")
    assert "panel is in mode text or blanked: set at tower.asm:9, tower.asm:19" in finding.notes
    assert "which of them is not known: text, the strictest, is taken; in another mode 2 us" in finding.notes


def test_a_status_read_begins_a_pair_anew(judge):
    # Without the read the $D0 would be the second byte of the lone $00.
    text = " ORG $C000\nGO LDA #0\n STA $8001\n LDA $8001\n" + SET % "$D0" + TWICE
    (finding,) = [x for x in judge(access_too_soon, text, "2 MHz", board=PANEL) if hasattr(x, "message")]
    assert finding.message.endswith("9918 needs 3.1 us in mode text; pad 2 cycles")


def test_a_handler_that_sets_another_mode_is_reckoned_with(judge):
    handler = "FLIP LDA $8001\n" + SET % "$C0" + " RTI\n"
    board = PANEL + "interrupts: {IRQ: {entry: FLIP}}\n"
    found = judge(access_too_soon, CLEAR % "$D0" + handler, board=board)
    (finding,) = [x for x in found if hasattr(x, "message") and "through" not in x.message]
    assert finding.message.endswith("9918 needs 8 us in mode graphics; pad 3 cycles")
    assert any(note.startswith("panel is in mode graphics or text: set at ") for note in finding.notes)


LINE = "parts: {line: {family: 6850, at: $8000, baud: 9600}}\n"


def test_the_word_format_tells_how_long_a_character_takes(judge):
    # $15: 8 bits without parity, 10 in all, 1041.67 us; $11: two stop bits, 11 in all, 1145.83 us.
    for control, pad in (("$15", 1037), ("$11", 1141)):
        text = f"GO LDA #3\n STA $8000\n LDA #{control}\n STA $8000\n STA $8001\n STA $8001\n RTS\n"
        (finding,) = [x for x in judge(access_too_soon, text, board=LINE) if hasattr(x, "message")]
        assert finding.goal.cycles == pad


def test_the_line_control_of_a_16450_tells_it_too(judge):
    board = "parts: {line: {family: '16450', at: $8000, baud: 9600, clock: 1.8432 MHz}}\n"
    text = "GO LDA #7\n STA $8003\n STA $8000\n STA $8000\n RTS\n"
    (finding,) = [x for x in judge(access_too_soon, text, board=board) if hasattr(x, "message")]
    # 8 bits and two stop bits.
    assert "16x50 needs 1.15 ms in mode 11 bits" in finding.message


def test_a_6551_needs_both_of_its_registers_to_tell(judge):
    board = "parts: {line: {family: '6551', at: $8000, baud: 9600}}\n"
    both = "GO LDA #$1E\n STA $8003\n LDA #$0B\n STA $8002\n STA $8000\n STA $8000\n RTS\n"
    (finding,) = [x for x in judge(access_too_soon, both, board=board) if hasattr(x, "message")]
    assert "needs 1.05 ms in mode 10 bits" in finding.message
    one = both.replace("STA $8002", "STA $9002")
    (finding,) = [x for x in judge(access_too_soon, one, board=board) if hasattr(x, "message")]
    assert "needs 1.15 ms in mode 11 bits" in finding.message
