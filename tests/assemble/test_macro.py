"""Macros and repetitions as different assemblers spell them."""

import pytest


def listing(program):
    assert [opaque.cause for opaque in program.opaque] == []
    return [i.action.code.hex() for i in program.instructions]


PARAMETERS = {
    "by number behind a stroke": ("RING MACRO\n LDA #\\1\n LDB #\\2\n ENDM\n", "RING 3,4"),
    "by number behind a percent sign": ("RING MACRO\n LDA #%1\n LDB #%2\n ENDM\n", "RING 3,4"),
    "by number behind a question mark": ("RING MACRO\n LDA #?1\n LDB #?2\n ENDM\n", "RING 3,4"),
    "by number in braces": ("RING MACRO\n LDA #{1}\n LDB #{2}\n ENDM\n", "RING 3,4"),
    "by number behind an ampersand": ("RING MACRO\n LDA #&1\n LDB #&2\n ENDM\n", "RING 3,4"),
    "by name alone": ("RING MACRO n,len\n LDA #n\n LDB #len\n ENDM\n", "RING 3,4"),
    "by name behind a stroke": ("RING MACRO n,len\n LDA #\\n\n LDB #\\{len}\n ENDM\n", "RING 3,4"),
    "by name behind an ampersand": ("RING MACRO &n,&len\n LDA #&n\n LDB #&len\n ENDM\n", "RING 3,4"),
    "by name with a mark of its own": ('RING MACRO "N,%L\n LDA #"N\n LDB #%L\n ENDM\n', "RING 3,4"),
    "with a default": ("RING MACRO n,len=4\n LDA #n\n LDB #len\n ENDM\n", "RING 3"),
    "with a default for the first": ("RING MACRO n=3,len\n LDA #n\n LDB #len\n ENDM\n", "RING ,4"),
    "named behind the word": (" MACRO RING n,len\n LDA #n\n LDB #len\n ENDM\n", "RING 3,4"),
}


@pytest.mark.parametrize("form", PARAMETERS)
def test_a_parameter_is_put_in(assembled, form):
    definition, use = PARAMETERS[form]
    assert listing(assembled(f"{definition} {use}\n")) == ["8603", "c604"]


def test_an_argument_in_angles_is_one_and_reaches_the_macro_inside(assembled):
    text = "INNER MACRO a,b\n LDA #a\n LDB #b\n ENDM\nOUTER MACRO list\n INNER list\n ENDM\n OUTER <3,4>\n"
    assert listing(assembled(text)) == ["8603", "c604"]


def test_a_local_name_is_another_in_every_use(assembled):
    text = "WAIT MACRO n\n LOCAL turn\n LDB #n\nturn DECB\n BNE turn\n ENDM\n WAIT 3\n WAIT 4\n"
    program = assembled(text)
    assert listing(program) == ["c603", "5a", "26fd", "c604", "5a", "26fd"]
    assert program.problems == ()


def test_a_macro_made_by_a_macro_takes_both_arguments(assembled):
    text = "MAKE MACRO name,n\nname MACRO len\n LDA #n\n LDB #len\n ENDM\n ENDM\n MAKE RING,3\n RING 4\n"
    assert listing(assembled(text)) == ["8603", "c604"]


def test_a_missing_argument_is_nothing(assembled):
    text = "RING MACRO a,b\n IFB b\n LDA #a\n ELSE\n LDB #b\n ENDC\n ENDM\n RING 3\n RING 3,4\n"
    assert listing(assembled(text)) == ["8603", "c604"]


REPEATED = {
    "so often": " REPT 2\n NOP\n ENDR\n",
    "so often, ended as a macro": " REPT 2\n NOP\n ENDM\n",
    "so often, by another word": " DUP 2\n NOP\n ENDD\n".replace("ENDD", "EDUP"),
    "once for each of some texts": " IRP op,<NOP,NOP>\n op\n ENDM\n",
    "once for each of some texts without angles": " IRP op,NOP,NOP\n op\n ENDM\n",
    "once for each character": " IRPC c,PP\n NO\\c\n ENDM\n",
    "one repetition in another": " REPT 1\n REPT 2\n NOP\n ENDR\n ENDR\n",
}


@pytest.mark.parametrize("form", REPEATED)
def test_a_body_is_repeated(assembled, form):
    assert listing(assembled(REPEATED[form])) == ["12", "12"]


def test_a_repetition_counts_its_turns(assembled):
    program = assembled(" .repeat 3, N\n LDA #N\n .endrepeat\n", "6502")
    assert listing(program) == ["a900", "a901", "a902"]


def test_a_macro_is_left_from_inside_a_repetition(assembled):
    text = "RING MACRO n\n REPT 5\n NOP\n IFEQ n\n EXITM\n ENDC\n ENDR\n RTS\n ENDM\n RING 0\n MUL\n"
    assert listing(assembled(text)) == ["12", "3d"]


def test_texts_are_compared(assembled):
    text = 'RING MACRO n\n IF "\\n"="LOUD"\n NOP\n ELSE\n RTS\n ENDC\n ENDM\n RING LOUD\n RING SOFT\n'
    assert listing(assembled(text)) == ["12", "39"]


@pytest.mark.parametrize("mark", ["\\@", "\\?"])
def test_the_number_of_the_use_makes_names_single(assembled, mark):
    program = assembled(f"WAIT MACRO\nturn{mark} DECB\n BNE turn{mark}\n ENDM\n WAIT\n WAIT\n")
    assert listing(program) == ["5a", "26fd", "5a", "26fd"]
    assert program.problems == ()
