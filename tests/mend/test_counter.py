"""Counters of other processors: loops of one instruction, loops that count up, loops that work something out."""


def test_a_loop_of_one_instruction_gets_its_pads_before_it_under_its_label(mend):
    text = (
        "        ORG   8000H\nPAUSE:  LD    B,200         ; the gong\n"
        "PAUSE1: DJNZ  PAUSE1        ; and on\n        RET\n"
    )
    mended = mend(text, "5 MHz", "2.5 MHz", cpu="z80", states=0)
    # 7 + 199 * 13 + 8 + 10 = 2612 cycles; at twice the clock 5224 are needed, and B counts to 256 at most.
    assert mended.mends == [("retime", "PAUSE", "proved")]
    assert mended.text.splitlines()[1:] == [
        "PAUSE:  LD    B,249         ; the gong; timing: takes 1.0448 ms",
        "PAUSE1: NOP",
        "        NOP",
        "        DJNZ  PAUSE1        ; and on",
        "        RET",
    ]
    # 7 + 248 * 21 + 16 + 10
    assert mended.plan.mends[0].result.startswith("5241 cycles, ")


def test_a_nest_that_counts_up_from_zero_gets_pads_inside_and_fewer_turns_outside(mend):
    text = (
        "        ORG   $C000\nMAIN    JSR   PAUSE\n        LDA   #0\n        LDX   #0\n        LDY   #0\n        RTS\n"
        "PAUSE   LDY   #0\nOUTER   LDX   #0\nINNER   INX\n        NOP\n        BNE   INNER\n        INY\n"
        "        BNE   OUTER\n        RTS\n"
    )
    mended = mend(text, "2 MHz", "1 MHz", cpu="6502", states=0)
    # 2 + 256 * (2 + 256 * 7 - 1 + 5) - 1 + 6 cycles become 2 + 240 * (2 + 256 * 15 - 1 + 5) - 1 + 6 = 923047.
    assert mended.mends == [("retime", "PAUSE", "proved")]
    assert mended.line(7) == "PAUSE   LDY   #16  ; timing: takes 460.295 ms"
    assert mended.text.count("NOP") == 5
    assert mended.plan.mends[0].result.startswith("923047 cycles, ")


def test_a_loop_whose_result_is_read_behind_it_is_no_wait(mend):
    text = (
        "        ORG   $C000\nMAIN    LDX   #3\nSHIFT   LSRB\n        LEAX  -1,X\n        BNE   SHIFT\n"
        "        STB   $10\n        CLRA\n        RTS\n        END   MAIN\n"
    )
    mended = mend(text, "2 MHz", "1 MHz", states=0)
    assert (mended.mends, mended.left) == ([], [])
