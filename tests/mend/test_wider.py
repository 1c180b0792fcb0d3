"""Waits whose 8-bit counters overflow: a 16-bit register that nobody reads there counts instead."""

import pytest

M6809 = """\
        ORG   $C000
MAIN    JSR   DELAY
        CLRB
        LDX   #0
        RTS
DELAY   LDB   #200      ; a stroke
LOOP    DECB            ; until it falls
        BNE   LOOP
        RTS
        END   MAIN
"""
M6800 = M6809.replace("CLRB", "CLRA").replace("LDB ", "LDAA").replace("DECB", "DECA")
I8080 = """\
        ORG   0C000H
MAIN:   CALL  DELAY
        LXI   D,0
        MVI   B,0
        XRA   A
        RET
DELAY:  MVI   B,0C8H    ; a stroke
LOOP:   DCR   B         ; until it falls
        JNZ   LOOP
        RET
        END   MAIN
"""
Z80 = """\
        ORG   0C000H
MAIN:   CALL  DELAY
        LD    DE,0
        LD    B,0
        XOR   A
        RET
DELAY:  LD    B,200     ; a stroke
LOOP:   DJNZ  LOOP      ; until it falls
        RET
        END   MAIN
"""


@pytest.mark.parametrize(
    ("cpu", "text", "old", "new", "lines"),
    [
        # 2 + 200 * (2 + 3) + 5 = 1007 become 8056 = 3 + 1006 * (5 + 3) + 5.
        ("6809", M6809, 1007, 8056, ["LDX   #1006", "LEAX  -1,X", "BNE   LOOP"]),
        # 2 + 200 * (2 + 4) + 5 = 1207 become 9656 = 3 + 1206 * (4 + 4) + 5.
        ("6800", M6800, 1207, 9656, ["LDX   #1206", "DEX", "BNE   LOOP"]),
        # 2 + 200 * (2 + 3) + 5 = 1007 become 8056; 3 + 1342 * (3 + 3) + 5 = 8060.
        ("68hc11", M6800, 1007, 8060, ["LDX   #1342", "DEX", "BNE   LOOP"]),
        # 7 + 200 * (5 + 10) + 10 = 3017 become 24136; 10 + 1005 * (5 + 5 + 4 + 10) + 10 = 24140.
        ("8080", I8080, 3017, 24140, ["LXI   D,3EDH", "DCX   D", "MOV   A,D", "ORA   E", "JNZ   LOOP"]),
        # 7 + 200 * (4 + 10) - 3 + 10 = 2814 become 22512; 10 + 938 * (6 + 4 + 4 + 10) - 3 + 10 = 22529.
        ("8085", I8080, 2814, 22529, ["LXI   D,3AAH", "DCX   D", "MOV   A,D", "ORA   E", "JNZ   LOOP"]),
        # 7 + 200 * 13 - 5 + 10 = 2612 become 20896; 10 + 804 * (6 + 4 + 4 + 12) - 5 + 10 = 20919.
        ("z80", Z80, 2612, 20919, ["LD    DE,804", "DEC   DE", "LD    A,D", "OR    E", "JR    NZ,LOOP"]),
    ],
)
def test_at_8_times_the_clock_a_16_bit_register_counts_instead(mend, cpu, text, old, new, lines):
    mended = mend(text, "8 MHz", "1 MHz", cpu=cpu)
    assert mended.mends == [("retime", "DELAY", "proved")]
    first = text[: text.index("; a stroke")].count("\n")
    written = [line.partition(";")[0][8:].rstrip() for line in mended.text.splitlines()[first:]]
    assert written[: len(lines) + 1] == [*lines, text.splitlines()[first + 3 - (cpu == "z80")].strip()]
    for line, remark in (
        (mended.line(first + 1), "; a stroke; timing: takes "),
        (mended.line(first + 2), "; until"),
    ):
        assert line.index(remark) == 24
    assert mended.plan.mends[0].result.startswith(f"{new} cycles, ")
    assert mended.new_cycles - mended.old_cycles == new - old


def test_up_to_twice_the_clock_pads_in_the_loop_are_the_lesser_change(mend):
    mended = mend(M6809, "2 MHz", "1 MHz")
    # 2014 cycles are needed: 2 + 223 * (2 + 4 + 3) + 5.
    assert mended.mends == [("retime", "DELAY", "proved")]
    assert [mended.line(n)[8:24].rstrip() for n in (6, 7, 8, 9)] == [
        "LDB   #223",
        "DECB",
        "LEAU  ,U",
        "BNE   LOOP",
    ]


def test_where_x_is_read_behind_it_d_counts_and_where_b_is_read_an_outer_level_in_a_is_made(mend):
    text = M6809.replace("        LDX   #0\n", "        LDA   #0\n")
    mended = mend(text, "8 MHz", "1 MHz")
    # 8056 cycles: 3 + 1150 * (4 + 3) + 5 = 8058 in D; A alone is free where B is read behind it.
    assert mended.line(6)[:20].rstrip() == "DELAY   LDD   #1150"
    kept = mend(text.replace("        CLRB\n", ""), "8 MHz", "1 MHz")
    assert [kept.line(n)[:20].rstrip() for n in (5, 6)] == ["DELAY   LDA   #8", "DELAY1  LDB   #200"]


def test_a_constant_gets_the_count_and_a_step_below_other_code_stays_where_it_is(mend):
    text = (
        "TURNS   equ   $C8     ; turns\n        org   $C000\nMain    bsr   Pause\n        clrb\n        ldx   #0\n"
        "        rts\nPause   ldb   #TURNS\nLoop    nop\n        decb\n        nop\n        bne   Loop\n"
        "        rts\n        end   Main\n"
    )
    mended = mend(text, "8 MHz", "1 MHz")
    # 2 + 200 * 9 + 5 = 1807 become 14456: 3 + 1204 * 12 + 5 = 14456.
    assert mended.mends == [("retime", "Pause", "proved")]
    assert mended.text.splitlines()[:1] + mended.text.splitlines()[6:11] == [
        "TURNS   equ   $4B4    ; turns",
        "Pause   ldx   #TURNS  ; timing: takes 1.807 ms",
        "Loop    nop",
        "        leax  -1,x",
        "        nop",
        "        bne   Loop",
    ]


def test_the_inner_count_of_a_nest_gets_a_wider_counter_too(mend):
    text = (
        "        ORG   $C000\nMAIN    JSR   DELAY\n        LDD   #0\n        LDX   #0\n        RTS\n"
        "DELAY   LDAA  #6\nOUTER   LDAB  #200\nINNER   DECB\n        BNE   INNER\n        INCA\n"
        "        BNE   OUTER\n        RTS\n        END   MAIN\n"
    )
    mended = mend(text, "8 MHz", "1 MHz", cpu="68hc11", states=0)
    # 2 + 250 * (2 + 200 * 5 + 5) + 5 = 251757 become 2014056. A counts up and is left as it is:
    # 2 + 250 * (3 + 1342 * 6 + 5) + 5 = 2015007.
    assert mended.mends == [("retime", "DELAY", "proved")]
    assert [mended.line(n)[8:] for n in (6, 7, 8, 9)] == [
        "LDAA  #6  ; timing: takes 251.757 ms",
        "LDX   #1342",
        "DEX",
        "BNE   INNER",
    ]
    assert mended.plan.mends[0].result.startswith("2015007 cycles, ")
