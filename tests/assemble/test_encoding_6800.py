"""Forms of the 6800 and its relatives against opcodes worked by hand from the makers' instruction tables."""

from collections.abc import Callable

import pytest

CASES = [
    ("6800", " LDA A #$12", "8612"),
    ("6800", " LDAB #$12", "c612"),
    ("6800", " LDA #$12", "8612"),
    ("6800", " STA B $12", "d712"),
    ("6800", " STA A $1234", "b71234"),
    ("6800", " STA A X", "a700"),
    ("6800", " STA A ,X", "a700"),
    ("6800", " STA A 255,X", "a7ff"),
    ("6800", " INC A", "4c"),
    ("6800", " INC $12", "7c0012"),
    ("6800", " INC X", "6c00"),
    ("6800", " JMP X", "6e00"),
    ("6800", " JSR 5,X", "ad05"),
    ("6800", " JSR $12", "bd0012"),
    ("6800", " LDX #$1234", "ce1234"),
    ("6800", " CPX $12", "9c12"),
    ("6800", " BRA *", "20fe"),
    ("6800", " PSH A", "36"),
    ("6801", " JSR $12", "9d12"),
    ("6801", " LDD 3,X", "ec03"),
    ("6801", " BRN *", "21fe"),
    ("6801", " BHS *", "24fe"),
    ("6303", " AIM #$F0,$12", "71f012"),
    ("6303", " OIM #$F0,3,X", "62f003"),
    ("6303", " TIM #$80,$12", "7b8012"),
    ("6303", " XGDX", "18"),
    ("68hc11", " LDAA 3,Y", "18a603"),
    ("68hc11", " LDY 3,X", "1aee03"),
    ("68hc11", " LDX 3,Y", "cdee03"),
    ("68hc11", " CPD #1", "1a830001"),
    ("68hc11", " CPX 3,Y", "cdac03"),
    ("68hc11", " BSET $12 $40", "141240"),
    ("68hc11", " BSET $12,#$40", "141240"),
    ("68hc11", " BCLR 3,Y $FE", "181d03fe"),
    ("68hc11", " BCLR 3,X ~$FE", "1d0301"),
    ("68hc11", " BSET X $80", "1c0080"),
    ("68hc11", " BRSET $12 $40 *", "121240fc"),
    ("68hc11", " BRCLR 3,X,$40,*", "1f0340fc"),
    ("68hc11", " BRCLR 3,Y $40 *", "181f0340fb"),
    ("68hc11", " BRCLR $12 %100 * wait", "131204fc"),
]


@pytest.mark.parametrize(("cpu", "text", "expected"), CASES)
def test_an_operand_makes_the_maker_s_bytes(
    code: Callable[..., str], cpu: str, text: str, expected: str
) -> None:
    assert code(f"{text}\n", cpu) == expected


def test_an_address_beyond_page_zero_in_a_form_that_reaches_page_zero_alone_is_said(assembled):
    # BSET of the 68HC11 has no extended form: 14 04 01 sets a bit at $0004, not in port B at $1004.
    program = assembled("PORTB EQU $1004\n BSET PORTB #1\n STAA PORTB\n", cpu="68hc11")
    assert [each.action.code.hex() for each in program.instructions] == ["140401", "b71004"]
    (problem,) = program.problems
    assert problem.message == "4100 does not fit in 8 bits; assembled as 4"
