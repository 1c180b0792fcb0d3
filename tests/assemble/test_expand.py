"""Conditions, macros, repetitions, includes."""

import pytest
from clockhop.assemble import assemble
from clockhop.cpu import load


def listing(program):
    return [i.action.code.hex() for i in program.instructions]


CONDITIONS = [
    ("IF 1", True),
    ("IF 0", False),
    ("IF CLOCK>1", True),
    ("IFEQ CLOCK-2", True),
    ("IFEQ CLOCK", False),
    ("IFNE CLOCK", True),
    ("IFGT CLOCK", True),
    ("IFGT CLOCK-2", False),
    ("IFGE CLOCK-2", True),
    ("IFLT CLOCK-3", True),
    ("IFLT CLOCK-2", False),
    ("IFLE CLOCK-2", True),
    ("IFDEF CLOCK", True),
    ("IFDEF BELLS", False),
    ("IFNDEF BELLS", True),
    ("IFNDEF CLOCK", False),
    ("IFP1", True),
    ("IFC one,one", True),
    ("IFC one,two", False),
    ("IFNC one,two", True),
    ("IFB", True),
    ("IFB x", False),
    ("IFNB x", True),
]


@pytest.mark.parametrize(("condition", "holds"), CONDITIONS)
def test_a_condition_decides_which_lines_count(assembled, condition, holds):
    program = assembled(f"CLOCK EQU 2\n {condition}\n NOP\n ELSE\n RTS\n ENDC\n MUL\n")
    assert listing(program) == (["12", "3d"] if holds else ["39", "3d"])
    assert (program.statements, program.understood) == (7, 7)


def test_conditions_nest_and_skipped_ones_are_only_counted(assembled):
    text = " IF 0\n IF 1\n NOP\n ELSE\n NOP\n ENDC\n strange stuff\n ELSE\n IF 1\n RTS\n ENDIF\n ENDC\n"
    program = assembled(text)
    assert listing(program) == ["39"]
    assert program.opaque == ()
    assert program.problems == ()


def test_elseif_takes_the_first_that_holds(assembled):
    text = "N EQU 2\n IF N=1\n NOP\n ELSEIF N=2\n RTS\n ELSEIF N=2\n MUL\n ELSE\n CLRA\n ENDIF\n"
    assert listing(assembled(text)) == ["39"]


def test_preprocessor_spellings_do_the_same(assembled):
    text = "#define FAST 1\n#ifdef FAST\n NOP\n#else\n RTS\n#endif\n# a comment\n"
    assert listing(assembled(text)) == ["12"]


def test_defines_from_outside_decide_and_go_before_the_source(assembled):
    text = " IFEQ H6309\n NOP\n ELSE\n RTS\n ENDC\nTICKS EQU 5\n LDA #TICKS\n"
    assert listing(assembled(text, defines={"H6309": 1, "TICKS": 7})) == ["39", "8607"]
    assert listing(assembled(text, defines={"H6309": 0})) == ["12", "8605"]


def test_a_name_that_would_decide_a_condition_is_reported(assembled):
    program = assembled(" IFEQ H6309\n NOP\n ENDC\n IFDEF PAL\n ENDC\n")
    assert program.undefined == ("H6309", "PAL")
    assert listing(program) == []


def test_of_a_condition_that_is_not_understood_all_branches_count(assembled):
    text = (
        " IF 1\n IFCARRY SET\n NOP\n ELSE\n MUL\n ENDIF\n ELSE\n IFCARRY SET\n ENDIF\n CLRA\n ENDIF\n RTS\n"
    )
    program = assembled(text)
    assert listing(program) == ["12", "3d", "39"]
    assert [opaque.cause for opaque in program.opaque] == ['"IFCARRY" is no instruction, directive or macro']
    assert program.problems == ()


def test_a_name_defined_further_down_cannot_decide_and_is_said(assembled):
    program = assembled(" IF FAST\n NOP\n ENDC\n IFNDEF SLOW\nSLOW EQU 1\n ENDC\nFAST EQU 1\n")
    assert program.undefined == ()
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        "tower.asm:1:2: FAST is defined further down; the condition counts as not met"
    ]


def test_open_and_stray_conditions_are_problems(assembled):
    program = assembled(" ENDC\n IF 1\n NOP\n")
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        "tower.asm:1:2: ENDC without IF",
        "tower.asm:2:2: IF has no end in this file",
    ]


def test_a_stray_else_alone_in_column_1_is_a_label(assembled):
    program = assembled("ELSE\n JMP >ELSE\n")
    assert listing(program) == ["7e0000"]


def test_numbered_and_named_parameters_are_put_in(assembled):
    load = "LOAD MACRO\n LDA #\\1\n LDB #\\2\n ENDM\n"
    wait = "WAIT MACRO count ; how often\n LDX #count\n LDY #\\count\n ENDM\n"
    text = f"{load}{wait} LOAD 1,2\n WAIT 3\n"
    assert listing(assembled(text)) == ["8601", "c602", "8e0003", "108e0003"]


def test_other_marks_of_parameters(assembled):
    text = "LOAD MACRO a\n LDA #&1\n LDA #&a\n LDA #{1}\n LDA #{a}\n LDA #\\#\n LDA #$F&1\n ENDM\n LOAD 7\n"
    assert listing(assembled(text)) == ["8607", "8607", "8607", "8607", "8601", "8601"]


def test_the_name_may_stand_behind_the_word_macro(assembled):
    assert listing(assembled(" MACRO LOAD value\n LDA #value\n ENDM\n LOAD 9\n")) == ["8609"]


def test_arguments_count_from_0_in_a_macro_that_asks_for_0(assembled):
    assert listing(assembled("LOAD MACRO\n LDA #\\0\n LDB #\\1\n ENDM\n LOAD 1,2\n")) == ["8601", "c602"]


def test_a_string_is_one_argument(assembled):
    program = assembled("SAY MACRO\n FCC \\1\n FCB \\2\n ENDM\n SAY 'ab,; c',4\n")
    assert bytes(program.data[address] for address in range(7)) == b"ab,; c\x04"


def test_labels_inside_a_macro_are_made_single_by_its_number(assembled):
    text = "PAD MACRO\nP\\@ DECB\n BNE P\\@\n ENDM\n PAD\n PAD\n"
    program = assembled(text)
    assert listing(program) == ["5a", "26fd", "5a", "26fd"]
    assert program.problems == ()


def test_local_labels_inside_a_macro_belong_to_its_use(assembled):
    text = "PAD MACRO\n.p DECB\n BNE .p\n BRA \\1\n ENDM\nTOP NOP\n.out RTS\n PAD .out\n PAD .out\n"
    assert listing(assembled(text)) == ["12", "39", "5a", "26fd", "20fa", "5a", "26fd", "20f5"]


def test_a_macro_goes_before_an_instruction_and_may_use_it(assembled):
    text = "LDA MACRO\n LDA #\\1\n NOP\n ENDM\n LDA 5\n"
    assert listing(assembled(text)) == ["8605", "12"]


def test_exitm_leaves_the_macro_and_its_conditions(assembled):
    text = "PAD MACRO\n NOP\n IF \\1\n EXITM\n ENDC\n MUL\n ENDM\n PAD 1\n PAD 0\n RTS\n"
    program = assembled(text)
    assert listing(program) == ["12", "12", "3d", "39"]
    assert program.problems == ()


def test_a_macro_may_define_and_use_others(assembled):
    text = "OUTER MACRO\n INNER \\1\n ENDM\nINNER MACRO\n LDA #\\1\n ENDM\n OUTER 3\n"
    assert listing(assembled(text)) == ["8603"]


def test_a_finding_inside_a_macro_points_at_its_outermost_use(assembled):
    text = "INNER MACRO\n NOP\n ENDM\nOUTER MACRO\n INNER\n ENDM\nGO OUTER\n"
    origin = assembled(text).instructions[0].origin
    assert (str(origin.place), str(origin.text_place)) == ("tower.asm:7:4", "tower.asm:2:2")
    assert [str(use) for use in origin.uses] == ["tower.asm:7:4", "tower.asm:5:2"]


def test_a_label_before_a_macro_use_is_kept(assembled):
    program = assembled("PAD MACRO\n NOP\n ENDM\nGO PAD\n")
    assert program.instructions[0].labels == ("GO",)


def test_a_number_keeps_its_place_in_a_macro_unless_a_parameter_made_it(assembled):
    program = assembled("PAD MACRO\n LDX #\\1\n LDB #25 ; \\1\n ENDM\n PAD 7\n")
    given, written = (i.operands[0] for i in program.instructions)
    assert (given.value, given.span) == (7, None)
    source = program.files[0]
    assert source.data[written.span.start : written.span.end] == b"25"


def test_a_macro_that_uses_itself_ends_in_one_problem(assembled):
    program = assembled("RING MACRO\n NOP\n RING\n ENDM\n RING\n RTS\n")
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        "tower.asm:5:2: macro RING is used more than 200 deep; uses it itself"
    ]
    assert listing(program)[-1] == "39"


def test_a_macro_without_end_is_a_problem(assembled):
    program = assembled("RING MACRO\n NOP\n")
    assert [problem.message for problem in program.problems] == ["MACRO has no end in this file"]


def test_a_repetition_repeats(assembled):
    assert listing(assembled("N EQU 3\n REPT N\n NOP\n ENDR\n RTS\n")) == ["12", "12", "12", "39"]
    assert listing(assembled(" REPT 2\n REPT 2\n NOP\n ENDR\n MUL\n ENDR\n")) == ["12", "12", "3d"] * 2


def test_an_unknown_repetition_is_not_understood(assembled):
    program = assembled(" REPT WHO\n NOP\n ENDR\n RTS\n")
    assert [opaque.cause for opaque in program.opaque] == ["how often it repeats is not known: WHO"]
    assert listing(program) == ["39"]


INCLUDES = [
    "INCLUDE bells.inc",
    'INCLUDE "bells.inc"',
    "INCLUDE 'bells.inc'",
    "USE bells.inc ; them",
    "LIB bells.inc",
]


@pytest.mark.parametrize(
    "text", [f" {text}" for text in INCLUDES] + ["#include <bells.inc>", " .include bells.inc"]
)
def test_an_include_is_read_in_its_place(assembled, text):
    program = assembled(f" NOP\n{text}\n LDA #BELLS\n", files={"bells.inc": "BELLS EQU 8\n MUL\n"})
    assert listing(program) == ["12", "3d", "8608"]
    assert [source.name for source in program.files] == ["tower.asm", "bells.inc"]
    included = program.instructions[1].origin
    assert (str(included.place), [str(place) for place in included.includes]) == (
        "bells.inc:2:2",
        [f"tower.asm:2:{2 if text.startswith(' ') else 1}"],
    )


def test_an_include_is_looked_for_beside_its_file_then_in_the_given_folders(assembled):
    files = {
        "lib/bells.inc": " USE more.inc\n",
        "lib/more.inc": " NOP\n",
        "more.inc": " MUL\n",
        "far/x.inc": " RTS\n",
    }
    text = " USE lib\\bells.inc\n USE x.inc\n"
    assert listing(assembled(text, files=files, include_paths=["near", "far"])) == ["12", "39"]


def test_a_missing_include_leaves_its_symbols_unknown_and_is_said_once(assembled):
    program = assembled(" USE bells.inc\n LDA #BELLS\n STA LCD\n")
    assert [opaque.cause for opaque in program.opaque] == [
        'include file "bells.inc" was not found or can\'t be read; its symbols are unknown'
    ]
    assert program.problems == ()
    assert program.symbols["BELLS"].kind == "unknown"
    assert [i.certain for i in program.instructions] == [False, False]


def test_an_include_of_itself_is_one_problem(assembled):
    program = assembled(
        " USE a.inc\n RTS\n", files={"a.inc": " NOP\n USE b.inc\n", "b.inc": " USE a.inc\n MUL\n"}
    )
    assert listing(program) == ["12", "3d", "39"]
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        'b.inc:1:2: "a.inc" includes itself; passed over'
    ]


def test_endless_expansion_ends_in_one_problem(assembled, monkeypatch):
    monkeypatch.setattr("clockhop.assemble.expand.LONGEST", 1000)
    program = assembled(" REPT 60000\n NOP\n ENDR\n")
    assert [problem.message for problem in program.problems] == [
        "more than 1000 lines after expansion; stopped here"
    ]
    assert len(program.instructions) == 1000


def test_an_unknown_word_is_an_opaque_line_with_its_label_kept(assembled):
    program = assembled("TOP ring 5\n NOP\n")
    (opaque,) = program.opaque
    assert (opaque.cause, str(opaque.origin.place)) == (
        '"ring" is no instruction, directive or macro',
        "tower.asm:1:5",
    )
    assert program.symbols["TOP"].value == 0
    assert (program.statements, program.understood) == (2, 1)


def test_statements_on_one_line_follow_each_other_through_macros_too(assembled):
    text = "TWO MACRO\n LD A,1 ! LD B,2\n ENDM\n TWO \\ TWO \\ BAD\n"
    program = assembled(text, "z80")
    assert [each.action.code.hex() for each in program.instructions] == ["3e01", "0602", "3e01", "0602"]
    (opaque,) = program.opaque
    assert (opaque.origin.line, opaque.origin.column, program.statements) == (4, 14, 10)


def test_a_file_is_looked_for_beside_its_includer_in_the_given_folders_and_beside_the_main_file(assembled):
    text = " INCLUDE sub/one.z80\n MACLIB B:BELLS\n"
    files = {
        "sub/one.z80": ' INCLUDE "two.z80"\n INCLUDE <three.z80>\n INCLUDE (four.z80)\n',
        "sub/two.z80": " LD A,2\n",
        "lib/three.z80": " LD A,3\n",
        "four.z80": " LD A,4\n",
        "BELLS.LIB": " LD A,5\n",
    }
    program = assembled(text, "z80", files, include_paths=("lib",))
    assert [each.action.code.hex() for each in program.instructions] == ["3e02", "3e03", "3e04", "3e05"]
    assert program.opaque == ()


def test_a_missing_file_is_offered_where_its_case_differs_and_may_have_what_is_strange(tmp_path):
    (tmp_path / "bells.inc").write_text(" NOP\n")
    main = tmp_path / "tower.asm"
    main.write_text(' INCLUDE "Bells.inc"\n INCLUDE /dev/zero\n RING 5\n LD A,STROKES\n')
    program = assemble(str(main), load("z80"))
    causes = [each.cause for each in program.opaque]
    assert causes[0].endswith('"bells.inc" is there, only its case differs; its symbols are unknown')
    assert causes[2] == causes[0]  # what is strange may stand in the first file that is missing
    assert program.problems == ()


def test_of_included_bytes_a_stretch_may_be_taken(tmp_path):
    (tmp_path / "bells.bin").write_bytes(bytes(10))
    main = tmp_path / "tower.asm"
    main.write_text(' INCBIN "bells.bin"\n INCBIN "bells.bin",4\n INCBIN bells.bin,4,5\nEND1: NOP\n')
    assert assemble(str(main), load("z80")).symbols["END1"].value == 10 + 6 + 5
