"""Waits at 8 and 16 times the clock, whose counters are too narrow: an outer level goes round them."""

from fractions import Fraction

import pytest

# What the program reads behind the wait keeps all registers but one alive.
Z80 = """\
        ORG   0C000H
MAIN:   CALL  DELAY
        LD    C,0
        OR    A
        RET
DELAY:  LD    B,200     ; a stroke
LOOP:   DJNZ  LOOP
        RET
        END   MAIN
"""
I8080 = """\
        ORG   0C000H
MAIN:   CALL  DELAY
        MVI   C,0
        ORA   A
        RET
DELAY:  MVI   B,200     ; a stroke
LOOP:   DCR   B
        JNZ   LOOP
        RET
        END   MAIN
"""
MOS = """\
        ORG   $C000
MAIN    JSR   DELAY
        LDY   #0
        RTS
DELAY   LDX   #200      ; a stroke
LOOP    DEX
        BNE   LOOP
        RTS
        END   MAIN
"""
M6800 = """\
        ORG   $C000
MAIN    JSR   DELAY
        CLRB
        RTS
DELAY   LDAA  #200      ; a stroke
LOOP    DECA
        BNE   LOOP
        RTS
        END   MAIN
"""
M6809 = """\
        ORG   $C000
MAIN    JSR   DELAY
        CLRA
        RTS
DELAY   LDB   #200      ; a stroke
LOOP    DECB
        BNE   LOOP
        RTS
        END   MAIN
"""


@pytest.mark.parametrize(
    ("cpu", "text", "old", "new", "time", "load", "inner", "turn"),
    [
        # 7 + 200 * 13 - 5 + 10 = 2612 become 20896: 7 + 8 * (7 + 2595 + 4 + 12) - 5 + 10 = 20956.
        ("z80", Z80, 2612, 20956, "2.612 ms", "LD    C,8", "LD    B,200", ["DEC   C", "JR    NZ,DELAY1"]),
        # 7 + 200 * 15 + 10 = 3017 become 24136: 7 + 8 * (7 + 3000 + 5 + 10) + 10 = 24193.
        ("8080", I8080, 3017, 24193, "3.017 ms", "MVI   C,8", "MVI   B,200", ["DCR   C", "JNZ   DELAY1"]),
        # 7 + 200 * 14 - 3 + 10 = 2814 become 22512:
        # 7 + 8 * (7 + 2797 + 4 + 10) - 3 + 10 = 22558.
        ("8085", I8080, 2814, 22558, "2.814 ms", "MVI   C,8", "MVI   B,200", ["DCR   C", "JNZ   DELAY1"]),
        # 2 + 200 * 5 - 1 + 6 = 1007 become 8056. Eight passes of 1006 are a cycle short, 2 + 50 * 161 - 1 + 6 = 8057
        # with passes of 2 + 31 * 5 - 1 + 5.
        ("6502", MOS, 1007, 8057, "1.007 ms", "LDY   #50", "LDX   #31", ["DEY", "BNE   DELAY1"]),
        # 2 + 200 * 6 + 5 = 1207 become 19312: 2 + 16 * (2 + 1200 + 2 + 4) + 5 = 19335.
        ("6800", M6800, 1207, 19335, "1.207 ms", "LDAB  #16", "LDAA  #200", ["DECB", "BNE   DELAY1"]),
        # 2 + 200 * 5 + 5 = 1007 become 16112: 2 + 16 * (2 + 1000 + 2 + 3) + 5 = 16119.
        ("6809", M6809, 1007, 16119, "1.007 ms", "LDA   #16", "LDB   #200", ["DECA", "BNE   DELAY1"]),
    ],
)
def test_an_8_bit_count_that_pads_do_not_keep_gets_an_outer_level(
    mend, cpu, text, old, new, time, load, inner, turn
):
    clock = "16 MHz" if "16" in load else "8 MHz"
    runs = cpu != "6502"  # what the executor of these tests starts
    mended = mend(text, clock, "1 MHz", cpu=cpu, states=2 * runs)
    mark = ":" if ":" in text else ""
    assert mended.mends == [("retime", "DELAY", "proved")]
    first = text[: text.index("DELAY" + mark + "  ")].count("\n") + 1
    assert mended.line(first) == f"{f'DELAY{mark}':8}{load:16}; a stroke; timing: takes {time}"
    assert mended.line(first + 1) == f"{f'DELAY1{mark}':8}{inner}"
    end = first + (4 if "DJNZ" not in text else 3)
    assert [mended.line(end + n).strip() for n in (0, 1)] == turn
    assert mended.plan.mends[0].result.startswith(f"{new} cycles, ")
    assert mended.new_cycles - mended.old_cycles == (new - old) * runs


def test_a_loop_in_a_line_of_code_gets_its_note_at_the_head_of_the_outer_one(mend):
    text = (
        "COUNT   equ   200\n        org   $C000\nMain    ldab  #COUNT\nLoop    decb\n        bne   Loop\n"
        "        clra\n        clrb\n        rts\n        end   Main\n"
    )
    mended = mend(text, "16 MHz", "1 MHz", cpu="6800")
    # The loop alone lasts 1200 cycles; 16 passes of 2 + 1200 + 2 + 4 are 19328 where 19200 are needed. CLRA, CLRB and
    # RTS are 9 more and each load 2.
    assert mended.mends == [("retime", "Loop", "proved")]
    assert mended.text.splitlines()[:7] == [
        "COUNT   equ   200",
        "        org   $C000",
        "Main    ldaa  #16",
        "loop1   ldab  #COUNT  ; timing: takes 1.2 ms",
        "Loop    decb",
        "        bne   Loop",
        "        deca",
    ]
    assert (mended.old_cycles, mended.new_cycles) == (1211, 2 + 19328 + 9)


def test_within_0_1_percent_both_counts_are_sought_and_a_note_of_the_routine_stays(mend):
    text = M6809.replace("; a stroke", "; timing: takes 1 ms")
    mended = mend(text, "16 MHz", within=Fraction(1, 1000))
    # 16000 to 16016 cycles; 2 + 22 * (2 + 144 * 5 + 5) + 5 = 16001.
    assert [mended.line(n) for n in (5, 6)] == [
        "DELAY   LDA   #22       ; timing: takes 1 ms",
        "DELAY1  LDB   #144",
    ]
    assert mended.plan.mends[0].result == "16001 cycles, 1.00006 ms at 16 MHz: 62.5 ns longer"


def test_without_a_free_register_it_is_left_and_says_what_to_do(mend):
    text = Z80.replace(
        "        OR    A\n        RET\n",
        "        PUSH  AF\n        PUSH  BC\n        PUSH  DE\n        PUSH  HL\nHALT:   JR    HALT\n",
    )
    mended = mend(text, "8 MHz", "1 MHz", cpu="z80", states=0)
    assert mended.mends == []
    ((name, reason),) = mended.left
    assert name == "DELAY"
    assert reason.endswith(
        "its counter is too narrow for the new count, and pads in the loop do not reach it; a wider counter or an "
        "outer level finds no register that nobody reads there: save one on the stack around the wait, or run the "
        "wait more often"
    )
