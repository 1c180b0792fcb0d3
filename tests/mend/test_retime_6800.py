"""Waits of the 6800 and its relatives at another clock; figures by hand from the makers' tables.

On a 6800 LDX # takes 3 cycles, LDA B # 2, DEX 4, DEC B 2, BNE 4, NOP 2, RTS 5; on a 6303 DEX, DEC B and NOP 1, BNE 3;
on a 68HC11 DEX and BNE 3, DECB and NOP 2.
"""

import pytest

START = "        ORG   $C000\nMAIN    BSR   DELAY\n        CLR A\n        RTS\n"
WORD = START + "DELAY   LDX   #25000\nLOOP    DEX\n        BNE   LOOP\n        RTS\n        END   MAIN\n"
BYTE = START + "DELAY   LDA B #200\nLOOP    DEC B\n        BNE   LOOP\n        RTS\n        END   MAIN\n"


@pytest.mark.parametrize(
    ("cpu", "count", "cycles", "time"),
    [
        # 3 + 25000 * 8 + 5 = 200008 become 400016 = 3 + 50001 * 8 + 5; BSR, CLRA and RTS are 15 more.
        ("6800", 50001, 400_016 + 15, "200.008 ms"),
        # 3 + 25000 * 6 + 5 = 150008 become at least 300016: 3 + 50002 * 6 + 5 = 300020; 13 more.
        ("6801", 50002, 300_020 + 13, "150.008 ms"),
        ("68hc11", 50002, 300_020 + 13, "150.008 ms"),
        # 3 + 25000 * 4 + 5 = 100008 become 200016 = 3 + 50002 * 4 + 5; 11 more.
        ("6303", 50002, 200_016 + 11, "100.008 ms"),
    ],
)
def test_a_16_bit_countdown_at_twice_the_clock(mend, cpu, count, cycles, time):
    mended = mend(WORD, "2 MHz", "1 MHz", cpu=cpu, states=1)
    assert mended.mends == [("retime", "DELAY", "proved")]
    assert mended.line(5) == f"DELAY   LDX   #{count}  ; timing: takes {time}"
    assert mended.new_cycles == cycles


@pytest.mark.parametrize(
    ("cpu", "count", "pads", "cycles", "time"),
    [
        # 2 + 200 * 6 + 5 = 1207 become 2414; 256 turns of 8 are not enough, 2 + 241 * 10 + 5 = 2417.
        ("6800", 241, ["NOP", "NOP"], 2417 + 15, "1.207 ms"),
        # 2 + 200 * 4 + 5 = 807 become 1614; 256 turns of 6 are not enough, 2 + 230 * 7 + 5 = 1617.
        ("6303", 230, ["BRN   *"], 1617 + 11, "807 us"),
        # 2 + 200 * 5 + 5 = 1007 become 2014; 256 turns of 7 are not enough, 2 + 223 * 9 + 5 = 2014.
        ("68hc11", 223, ["NOP", "NOP"], 2014 + 13, "1.007 ms"),
    ],
)
def test_an_8_bit_counter_that_overflows_gets_pads_in_its_loop(mend, cpu, count, pads, cycles, time):
    mended = mend(BYTE, "2 MHz", "1 MHz", cpu=cpu)
    assert mended.line(5) == f"DELAY   LDA B #{count}  ; timing: takes {time}"
    assert [mended.line(7 + place).strip() for place in range(len(pads))] == pads
    assert mended.new_cycles == cycles


def test_a_wait_that_saves_its_register_on_the_stack_is_proved_too(mend):
    text = WORD.replace("DELAY   LDX", "DELAY   PSH A\n        LDX").replace(
        "        RTS\n        END", "        PUL A\n        RTS\n        END"
    )
    mended = mend(text, "2 MHz", "1 MHz", cpu="6800", states=1)
    # 4 + 200008 + 4 are 200016; 4 + 3 + 50002 * 8 + 4 + 5 = 400032.
    assert mended.mends == [("retime", "DELAY", "proved")]
    assert mended.new_cycles == 400_032 + 15
