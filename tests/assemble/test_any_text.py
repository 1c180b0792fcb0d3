"""Whatever stands in a file: no exception, every statement counted, the same result a second time."""

from hypothesis import given, settings
from hypothesis import strategies as st

WORDS = [
    *["LDA", "ldx", "LEAX", "BNE", "RTS", "PSHS", "TFR", "os9", "ring"],
    *["EQU", "=", "SET", "ORG", "RMB", "FCB", "FCC", "FDB", "FILL", "ALIGN", "SETDP", "MOD", "EMOD", "END"],
    *[
        "IF",
        "IFEQ",
        "IFDEF",
        "IFC",
        "ELSE",
        "ELSEIF",
        "ENDC",
        "MACRO",
        "ENDM",
        "EXITM",
        "REPT",
        "ENDR",
        "USE",
    ],
    *["PHASE", "DEPHASE", "EXPORT", "#define", "#ifdef"],
    *["IRP", "IRPC", "LOCAL", "SECTION", "ENDSECT", "STRUCT", "ENDSTRUCT", "PROC", "ENDPROC", "MODULE"],
    *["REG", "HEX", "QUAT", "TEXT", "ring.b", "LDA,", "ring", "+", "-", ":"],
]
OPERANDS = [
    *[
        "#1",
        "#256",
        ",X",
        "0,X",
        "1,PCR",
        "TOP",
        "TOP+1",
        "*-1",
        "[,X++]",
        "A,B",
        "@x",
        "1b",
        "1f",
        "x@",
        "WHO",
    ],
    *[
        "'A",
        "'",
        '"ab"',
        "/ab/",
        "<TOP",
        "5/0",
        "1<<90",
        "((1))",
        "$FFFFFF",
        "-1",
        "tower.asm",
        "\\1",
        "ring 5",
    ],
    *[":+", "--", "++", "x,<a,b>", "#ALL", "sizeof{x}", "A::B", "hi TOP", "16#FF", "9#9", "!.", "\\?", "x=5"],
    *["+", ",", "(", ")", "#", "[", "%", "$", "1 + 2", "* x", "; timing: takes", "timing: runs 3 times"],
]
LABELS = ["", "", "TOP", "top:", "@x", "x@", ".y", "1", "ring", "LDA", "?", "\\1"]

line = st.tuples(st.sampled_from(LABELS), st.sampled_from(WORDS), st.sampled_from(OPERANDS)).map(" ".join)
texts = st.lists(st.one_of(line, st.sampled_from(OPERANDS), st.just("")), max_size=25).map("\n".join)


@settings(max_examples=300)
@given(text=texts, cpu=st.sampled_from(["6809", "6809", "68hc11", "6502"]))
def test_a_program_of_any_words_is_assembled(assembled, text, cpu):
    program = assembled(text, cpu)
    assert 0 <= program.understood <= program.statements
    assert len(list(program.bytes())) >= len(program.instructions)
    again = assembled(text, cpu)
    assert [i.action.code for i in program.instructions] == [i.action.code for i in again.instructions]


@settings(max_examples=200)
@given(data=st.binary(max_size=200).map(lambda data: data.replace(b"\0", b" ")))
def test_a_program_of_any_bytes_is_assembled(assembled, data):
    program = assembled(data)
    assert 0 <= program.understood <= program.statements


def test_a_very_deep_expression_is_not_understood(assembled):
    program = assembled(f" LDA #{'(' * 5000}1{')' * 5000}\n FDB {'1+' * 5000}1\n")
    assert len(program.opaque) == 2
