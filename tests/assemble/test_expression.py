"""Numbers and operators, read from one FDB at address $0100."""

import pytest

VALUES = [
    ("$61A8", 25000),
    ("0x61a8", 25000),
    ("61A8H", 25000),
    ("0FFh", 255),
    ("25000", 25000),
    ("%1010", 10),
    ("0b1010", 10),
    ("1010B", 10),
    ("17O", 15),
    ("17q", 15),
    ("0o17", 15),
    ("@17", 15),
    ("'A", 65),
    ("'A'", 65),
    ("'\\n'", 10),
    ('"A"', 65),
    ("*", 0x100),
    ("$", 0x100),
    (".", 0x100),
    ("*+2", 0x102),
    ("**2", 0x200),
    ("5*%11", 15),
    ("5%%11", 2),
    ("$-1", 0xFF),
    (".+1", 0x101),
    ("2+3*4", 14),
    ("(2+3)*4", 20),
    ("2*(3+(4-1))", 12),
    ("10-2-3", 5),
    ("100/7", 14),
    ("-7/2", 0xFFFD),
    ("10%4", 2),
    ("10 mod 4", 2),
    ("$F0&$3C", 0x30),
    ("$F0 and $3C", 0x30),
    ("$F0|$0F", 0xFF),
    ("$F0!$0F", 0xFF),
    ("$F0 or 1", 0xF1),
    ("$FF^$0F", 0xF0),
    ("$FF xor $0F", 0xF0),
    ("~$FF", 0xFF00),
    ("^$FF", 0xFF00),
    ("!5", 0),
    ("!0", 1),
    ("1<<4", 16),
    ("$100>>4", 16),
    ("$100!>4", 16),
    ("1!<4", 16),
    ("1 shl 4", 16),
    ("-1", 0xFFFF),
    ("+5", 5),
    ("2=2", 1),
    ("2==3", 0),
    ("2<>3", 1),
    ("2!=2", 0),
    ("2<3", 1),
    ("3<=2", 0),
    ("3>2", 1),
    ("2>=3", 0),
    ("1&&0", 0),
    ("1||0", 1),
    ("high($1234)", 0x12),
    ("low($1234)", 0x34),
    ("TWO", 2),
    ("two", 2),
    ("THREE.X_1", 3),
]


@pytest.mark.parametrize(("text", "value"), VALUES, ids=[text for text, _ in VALUES])
def test_an_expression_has_this_value(assembled, text, value):
    program = assembled(f"TWO EQU 2\nTHREE.X_1 EQU 3\n ORG $100\n FDB {text}\n")
    assert program.opaque == ()
    assert program.data[0x100] << 8 | program.data[0x101] == value


def test_where_precedence_changes_a_value_both_readings_are_said(assembled):
    program = assembled("TOP EQU 10-4/2\nOK EQU 10+4-2\nSURE EQU (10-4)/2\n")
    assert program.symbols["TOP"].value == 8
    assert [problem.message for problem in program.problems] == [
        "8 with * and / first, 3 from left to right; 8 is taken, "
        "write parentheses or state the habit left-to-right or multiply-first"
    ]


def test_a_division_by_zero_has_no_value(assembled):
    program = assembled("TOP EQU 5/0\n LDA #TOP\n")
    assert program.symbols["TOP"].value is None
    assert program.instructions[0].operands[0].value is None


def test_an_unknown_name_has_no_value_and_is_said_once(assembled):
    program = assembled(" LDX #BELLS\n LDY #BELLS\n JSR RING\n BRA AWAY\n")
    assert [i.operands[0].value for i in program.instructions] == [None, None, None, None]
    assert [i.action.code.hex() for i in program.instructions] == ["8e0000", "108e0000", "bd0000", "20fe"]
    assert [problem.message for problem in program.problems] == [
        "BELLS is defined nowhere; its value is unknown",
        "RING is defined nowhere; its value is unknown",
        "AWAY is defined nowhere; its value is unknown",
    ]
    assert (program.symbols["BELLS"].kind, len(program.symbols["BELLS"].uses)) == ("unknown", 2)


def test_a_name_of_another_file_is_no_problem(assembled):
    assert assembled(" IMPORT RING, TOLL\nHANG EXTERN\n JSR RING\n JSR HANG\n").problems == ()
