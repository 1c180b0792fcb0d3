"""Lines as people write them, cut into label, operation, operand and comment."""

import pytest
from clockhop.source import Span, operands, parse

LINES = [
    # labels
    ("LOOP  DECB", ("LOOP", "DECB", None, None)),
    ("LOOP: DECB", ("LOOP", "DECB", None, None)),
    ("LOOP:DECB", ("LOOP", "DECB", None, None)),
    ("LOOP:: DECB", ("LOOP", "DECB", None, None)),
    ("  LOOP: DECB", ("LOOP", "DECB", None, None)),
    ("LOOP", ("LOOP", None, None, None)),
    ("LOOP:", ("LOOP", None, None, None)),
    ("LOOP    ; round", ("LOOP", None, None, "; round")),
    ("LOOP    * round", ("LOOP", None, None, "* round")),
    ("_a.b$1 NOP", ("_a.b$1", "NOP", None, None)),
    ("1$ NOP", ("1$", "NOP", None, None)),
    ("10 NOP", ("10", "NOP", None, None)),
    ("@x NOP", ("@x", "NOP", None, None)),
    ("x@ NOP", ("x@", "NOP", None, None)),
    (".x NOP", (".x", "NOP", None, None)),
    ("a?b NOP", ("a?b", "NOP", None, None)),
    # assignments
    ("PIA EQU $8000", ("PIA", "EQU", "$8000", None)),
    ("PIA = $8000", ("PIA", "=", "$8000", None)),
    ("PIA=$8000", ("PIA", "=", "$8000", None)),
    ("  PIA = $8000", ("PIA", "=", "$8000", None)),
    ("  PIA EQU $8000", ("PIA", "EQU", "$8000", None)),
    ("  LDA SET", (None, "LDA", "SET", None)),
    ("PIA := 5", ("PIA", ":=", "5", None)),
    # the operation in column 1
    ("LBRA LDB 7,U", ("LBRA", "LDB", "7,U", None)),
    ("RTS", (None, "RTS", None, None)),
    ("CLRA clear it", (None, "CLRA", None, "clear it")),
    ("LDA #5", (None, "LDA", "#5", None)),
    ("NOP: RTS", ("NOP", "RTS", None, None)),
    ("NOP = 5", ("NOP", "=", "5", None)),
    ("NOP EQU 5", ("NOP", "EQU", "5", None)),
    ("PAGE EQU 5", ("PAGE", "EQU", "5", None)),
    ("ERROR LDA #5", ("ERROR", "LDA", "#5", None)),
    ("ERROR", ("ERROR", None, None, None)),
    ("ENDC", (None, "ENDC", None, None)),
    (".org $100", (None, ".org", "$100", None)),
    ("#include <bells.h>", (None, "#include", "<bells.h>", None)),
    # comments
    ("* a star", (None, None, None, "* a star")),
    ("; a semicolon", (None, None, None, "; a semicolon")),
    ("   * a star", (None, None, None, "* a star")),
    ("   ; a semicolon", (None, None, None, "; a semicolon")),
    ("# a hash", (None, None, None, "# a hash")),
    (" LDA #1;tight", (None, "LDA", "#1", ";tight")),
    (" LDA #1 load it", (None, "LDA", "#1", "load it")),
    (" LDA COUNT * load it", (None, "LDA", "COUNT", "* load it")),
    (" LDA COUNT = what is left", (None, "LDA", "COUNT", "= what is left")),
    (" LDA COUNT - the rest", (None, "LDA", "COUNT", "- the rest")),
    (" FCB $9B,$3E * 99999999.9", (None, "FCB", "$9B,$3E", "* 99999999.9")),
    (" FCB $86,$28 * ((2*PI)**9)/9!", (None, "FCB", "$86,$28", "* ((2*PI)**9)/9!")),
    (" FCB $80,$00 -0.5", (None, "FCB", "$80,$00", "-0.5")),
    (" BNE AWAY = if <>", (None, "BNE", "AWAY", "= if <>")),
    ("    DECB    =", (None, "DECB", None, "=")),
    (" NOP 2 cycles", (None, "NOP", None, "2 cycles")),
    (" NOP $20", (None, "NOP", None, "$20")),
    (" NOP (pad)", (None, "NOP", None, "(pad)")),
    (" BRA * for ever", (None, "BRA", "*", "for ever")),
    (" BNE *-3 wait", (None, "BNE", "*-3", "wait")),
    # blanks inside operands
    (" LDA COUNT and go on", (None, "LDA", "COUNT", "and go on")),
    (" LDX #TOP and 15", (None, "LDX", "#TOP and 15", None)),
    (" LDX #TOP + 1", (None, "LDX", "#TOP + 1", None)),
    (" LDX #TOP + 1 ; next", (None, "LDX", "#TOP + 1", "; next")),
    (" LDX #(TOP + HALF) * 2 ; all", (None, "LDX", "#(TOP + HALF) * 2", "; all")),
    (" LDD #TOP * 2", (None, "LDD", "#TOP * 2", None)),
    (" PSHS A, B, X keep", (None, "PSHS", "A, B, X", "keep")),
    (" LEAX A , X ; add", (None, "LEAX", "A , X", "; add")),
    (" JMP [ $FFFE ] go", (None, "JMP", "[ $FFFE ]", "go")),
    # automatic increments end an operand, they don't begin a sum
    (" STA ,X+ next", (None, "STA", ",X+", "next")),
    (" STA ,X++ next", (None, "STA", ",X++", "next")),
    (" TFM X+,Y+ copy", (None, "TFM", "X+,Y+", "copy")),
    # characters and strings come before comments
    (" CMPA #'; ; end?", (None, "CMPA", "#';", "; end?")),
    (" CMPA #';' ; end?", (None, "CMPA", "#';'", "; end?")),
    (" CMPA #'A+1 next", (None, "CMPA", "#'A+1", "next")),
    (" CMPA #' ", (None, "CMPA", "#' ", None)),
    (" CMPA #'' quote", (None, "CMPA", "#''", "quote")),
    (" FCB 'A,'B,$0D text", (None, "FCB", "'A,'B,$0D", "text")),
    (" FCB 'it''s * ok',0 text", (None, "FCB", "'it''s * ok',0", "text")),
    (' FCC "a;b",0 text', (None, "FCC", '"a;b",0', "text")),
    (" FCC /a ; * b/ text", (None, "FCC", "/a ; * b/", "text")),
    (" FCC |a b| text", (None, "FCC", "|a b|", "text")),
    (" TTL The clock; part one", (None, "TTL", "The clock; part one", None)),
    # padding
    ("\x1a\x1a", (None, None, None, None)),
    ("\f NOP", (None, "NOP", None, None)),
    (" NOP\x1a", (None, "NOP", None, None)),
    ("", (None, None, None, None)),
]


@pytest.mark.parametrize(("line", "fields"), LINES, ids=[line for line, _ in LINES])
def test_a_line_is_cut_into_these_fields(words, line, fields):
    source = parse(line.encode(), "clock.asm", words)
    if not line:
        assert source.statements == ()
        return
    (statement,) = source.statements
    spans = (statement.label, statement.operation, statement.operand, statement.comment)
    assert tuple(source.of(span) if span else None for span in spans) == fields


def test_a_name_defined_elsewhere_in_the_file_makes_a_spaced_product_an_expression(words):
    source = parse(b"SIZE EQU 5\n LDX #TOP * SIZE\n LDX #TOP * LATER\n", "clock.asm", words)
    assert [source.of(s.operand) for s in source.statements if s.operand] == ["5", "#TOP * SIZE", "#TOP"]


@pytest.mark.parametrize(
    ("text", "shape", "parts"),
    [
        ("1,2 , 3", "values", ["1", "2", "3"]),
        ("'A,'B", "values", ["'A", "'B"]),
        ("'H,$00,',,$01", "values", ["'H", "$00", "',", "$01"]),
        ("'A,'B,$0D", "values", ["'A", "'B", "$0D"]),
        ("'AB,C',0", "values", ["'AB,C'", "0"]),
        ('"a,b",(1,2)', "values", ['"a,b"', "(1,2)"]),
        ("/a,b/,0", "text", ["/a,b/", "0"]),
        ("$1,$2", "plain", ["$1", "$2"]),
        ("", "plain", [""]),
    ],
)
def test_commas_inside_quotes_and_brackets_do_not_separate_values(text, shape, parts):
    assert [text[part.start : part.end] for part in operands(text, shape)] == parts


def test_spans_are_byte_offsets(words):
    source = parse("TOP NOP ; café\n LDA #1\n".encode(), "clock.asm", words)
    assert source.statements[1].operand == Span(21, 23)
    assert source.of(source.statements[0].comment) == "; café"
