"""Branches that a mend would put out of reach get their long form, and code that only moves keeps its time."""

from collections.abc import Mapping

import pytest
from clockhop.cpu import load
from clockhop.mend.longform import long_form

PANEL = "parts:\n  panel: {family: 9918, at: PANEL, mode: graphics, clock: 10.738635 MHz}\n"
NOPS = "        NOP\n"


def motorola(branch: str, filler: int = 117) -> str:
    # STA 3 bytes twice, LEAX 2, the filler and the branch 2: 127 of 128 bytes that a short branch reaches back.
    return f"""\
PANEL   EQU   $9000
        ORG   $C000
MAIN    LDX   #3
FILL    STA   PANEL
        STA   PANEL
{NOPS * filler}        LEAX  -1,X
{branch}        CLRA
        RTS
        END   MAIN
"""


def test_a_short_branch_that_a_pad_puts_out_of_reach_becomes_long_and_costs_3_cycles_more(mend):
    mended = mend(motorola("        BNE   FILL  ; again\n"), "2 MHz", "1 MHz", board=PANEL)
    # STA takes 5 cycles where 8 us are 16: 11 more, three times; LBNE takes 6 taken and 5 passed, BNE 3.
    assert mended.mends == [("reach", "BNE FILL", "proved"), ("pad", "PANEL", "proved")]
    assert mended.text.splitlines()[-4] == "        LBNE  FILL  ; again"
    assert mended.new_cycles - mended.old_cycles == 3 * 11 + 2 * 3 + 2
    (long, _) = mended.plan.mends
    assert long.reason == "BNE FILL would not reach FILL any more"
    assert long.result == "LBNE FILL, cycles taken 6 for 3, passed 5 for 3"
    assert long.evidence.lines == (
        "it goes where the short one went under the same condition, tried for all that decides it",
        "registers, flags and memory hold the same behind it",
        "rests on the 6809 table, entered only as the text shows",
    )


def test_a_branch_in_a_macro_used_twice_can_not_be_long_and_the_pad_is_left(mend):
    text = motorola("        AGAIN\n").replace(
        "MAIN ", "AGAIN   MACRO\n        BNE   FILL\n        ENDM\nMAIN "
    )
    mended = mend(
        text.replace("        RTS\n", "OTHER   RTS\nFAR     AGAIN\n"), "2 MHz", "1 MHz", board=PANEL, states=0
    )
    assert mended.mends == []
    assert (
        "would not reach its target: its line is in a macro that is used more than once" in mended.left[0][1]
    )


MOS = f"""\
PANEL   = $9000
        * = $C000
MAIN    LDX #3
FILL    STA PANEL
        DEX
        STA PANEL
{NOPS * 118}        BNE FILL
        LDX #0
        RTS
"""


def test_a_6502_branches_over_a_jump(mend):
    mended = mend(MOS, "2 MHz", "1 MHz", board=PANEL, cpu="6502", states=0)
    assert mended.mends == [("reach", "BNE FILL", "proved"), ("pad", "PANEL", "proved")]
    assert mended.text.splitlines()[-4:-2] == ["        BEQ *+5", "        JMP FILL"]
    assert mended.plan.mends[0].result == "BEQ *+5 / JMP FILL, cycles taken 5 for 3, passed 3 for 2"


def zilog(behind: str) -> str:
    # LD (nn),A 3 bytes twice, the filler and DJNZ 2: 127 bytes.
    return f"""\
PANEL   EQU   9000H
        ORG   0C000H
Main:   LD    B,3
Fill:   LD    (PANEL),A
        LD    (PANEL),A
{NOPS * 119}        djnz  Fill
{behind}        RET
        END   Main
"""


def test_a_z80_counts_and_jumps_where_nobody_reads_the_flags(mend):
    mended = mend(zilog("        XOR   A\n"), "4 MHz", "1 MHz", board=PANEL, cpu="z80", states=0)
    assert [m[:2] for m in mended.mends] == [("reach", "DJNZ Fill"), ("pad", "PANEL")]
    assert mended.text.splitlines()[-5:-2] == ["        dec   b", "        jp    nz,Fill", "        XOR   A"]
    assert mended.plan.mends[0].result == "DEC B / JP NZ,Fill, cycles taken 14 for 13, passed 14 for 8"


def test_a_z80_branches_to_a_jump_beside_it_where_the_flags_are_read(mend):
    mended = mend(zilog("        RET   Z\n"), "4 MHz", "1 MHz", board=PANEL, cpu="z80", states=0)
    lines = ["        djnz  $+4", "        jr    $+5", "        jp    Fill"]
    assert mended.text.splitlines()[-6:-3] == lines
    long = "DJNZ to the jump behind it / JR $+5 / JP Fill, cycles taken 23 for 13, passed 20 for 8"
    assert mended.plan.mends[0].result == long


@pytest.mark.parametrize(
    ("cpu", "mnemonic", "lines", "hop"),
    [
        ("6800", "BGT", (("BLE", "*+5"), ("JMP", "\0")), None),
        ("6800", "BSR", (("JSR", "\0"),), None),
        ("6809", "BRA", (("LBRA", "\0"),), None),
        ("65c02", "BRA", (("JMP", "\0"),), None),
        ("z80", "JR", (("JP", "\0"),), None),
        # That not all bits of a mask are set does not mean that all are clear: no opposite branch stands in for it.
        ("68hc11", "BRSET", (("BRA", "*+5"), ("JMP", "\0")), 6),
    ],
)
def test_the_long_form_comes_from_the_table(cpu, mnemonic, lines, hop):
    processor = load(cpu)
    row = next(row for row in processor.mnemonics[mnemonic] if "," not in row.form.variants[0].pattern or hop)
    variant = row.form.variants[0]
    fields: Mapping[str, int] = {
        hole.name: 0x4010 if hole.kind == "relative" else 0x10 for hole in variant.holes
    }
    form = long_form(processor, processor.bind(row, variant, fields, 0x4000), frozenset())
    assert form is not None
    assert (form.lines, form.hop) == (lines, hop)


def test_a_branch_that_counts_its_target_from_its_own_place_is_not_padded_over(mend):
    text = """\
PANEL   EQU   $9000
        ORG   $C000
MAIN    LDB   #3
LOOP    STA   PANEL
        DECB
        BEQ   *+7
        STA   PANEL
        BRA   LOOP
        CLRA
        RTS
        END   MAIN
"""
    mended = mend(text, "4 MHz", "1 MHz", board=PANEL, states=0)
    assert "BEQ in line 6 would go elsewhere: its target does not move with the code" in mended.left[0][1]
    # The other pair of writes has a place for a pad before the branch.
    assert mended.mends == [("pad", "PANEL", "proved")]
    assert "BEQ   *+7\n        STA   PANEL\n        BRA   LOOP\n" in mended.text


# STA, STA and the filler up to $C0F8, where LDX stands; BNE ends at $C0FD.
PAGE = f"""\
PANEL   = $9000
        * = $C000
MAIN    LDA #32
        STA PANEL
        STA PANEL
{NOPS * 240}        LDX #100
WAIT    DEX
        BNE WAIT
        LDX #0
        RTS
"""


def test_a_pad_that_moves_a_wait_of_499_cycles_across_a_page_is_not_made(mend):
    # 3 bytes of pads and more put the end of BNE on the next page.
    mended = mend(PAGE, "1.5 MHz", board=PANEL, cpu="6502", states=0)
    assert mended.mends == []
    reason = "WAIT would move, and BNE in line 248 would take 4 cycles for 3 at its new place; align it first"
    assert mended.left[-1][1].endswith(reason)


def test_nor_where_the_wait_has_been_retimed(mend):
    mended = mend(PAGE, "1.5 MHz", "1 MHz", board=PANEL, cpu="6502", states=0)
    assert mended.mends == [("retime", "WAIT", "proved")]
    assert mended.left[-1][1].endswith("WAIT lasts what it has to, and would then last 898 cycles")
