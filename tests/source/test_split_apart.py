"""Lines for processors whose accumulator, or mask, may stand behind a blank (MC6800 data sheet, M68HC11 manual)."""

import pytest
from clockhop.assemble import words
from clockhop.cpu import load
from clockhop.source import parse

LINES = [
    (" LDA A #1 load", (None, "LDA A", "#1", "load")),
    (" LDAA #1 load", (None, "LDAA", "#1", "load")),
    (" lda  b  COUNT", (None, "lda  b", "COUNT", None)),
    ("LOOP DEC B", ("LOOP", "DEC B", None, None)),
    (" DEC BELLS", (None, "DEC", "BELLS", None)),
    (" INC A count", (None, "INC A", None, "count")),
    (" PSH A", (None, "PSH A", None, None)),
    ("PSH A", (None, "PSH A", None, None)),
    ("AND LDA A #1", ("AND", "LDA A", "#1", None)),
    (" STA A X", (None, "STA A", "X", None)),
    (" BRA A", (None, "BRA", "A", None)),
    (" ADD A;tight", (None, "ADD A", None, ";tight")),
    (" BSET FLAGS,X $40 set", (None, "BSET", "FLAGS,X $40", "set")),
    (" BSET FLAGS,X,$40 set", (None, "BSET", "FLAGS,X,$40", "set")),
    (" BSET FLAGS $40 set", (None, "BSET", "FLAGS $40", "set")),
    (" BSET FLAGS,#$40 set", (None, "BSET", "FLAGS,#$40", "set")),
    (" BRCLR FLAGS $04 * wait", (None, "BRCLR", "FLAGS $04 *", "wait")),
    (" BRCLR 0,Y %100 WAIT ; wait", (None, "BRCLR", "0,Y %100 WAIT", "; wait")),
    ("* = $1000", (None, "* =", "$1000", None)),
    ("        *=$1000 ; here", (None, "*=", "$1000", "; here")),
    ("* = bells that ring", (None, None, None, "* = bells that ring")),
    (" BRCLR FLAGS $04 ; lost", (None, "BRCLR", "FLAGS $04", "; lost")),
]


@pytest.mark.parametrize(("line", "fields"), LINES)
def test_a_second_word_belongs_to_the_operation_and_more_parts_to_the_operand(
    line: str, fields: tuple[str | None, ...]
) -> None:
    source = parse(line.encode(), "one.asm", words(load("68hc11")))
    (found,) = source.statements
    spans = (found.label, found.operation, found.operand, found.comment)
    assert tuple(source.of(span) if span else None for span in spans) == fields


def test_on_a_6809_the_second_word_is_an_operand() -> None:
    source = parse(b" INC A\n", "one.asm", words(load("6809")))
    assert source.of(source.statements[0].operand) == "A"
