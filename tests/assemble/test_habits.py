"""Spelling habits of real sources: numbers, names, forms, sections."""

import pytest

NUMBERS = {
    "16#61": 0x61, "2#1010": 10, "0b1_010": 10, "$12_34": 0x1234, "&99": 99, "&1F": 0x1F, "hi $1234": 0x12,
    "lo $1234": 0x34, "6!.3": 2, "4!+3": 7, "6!X3": 5, "#9": 9,
}  # fmt: skip


@pytest.mark.parametrize("written", NUMBERS)
def test_a_number_is_read_as_it_is_written(assembled, written):
    program = assembled(f"BELLS EQU {written}\n")
    assert program.opaque == ()
    assert program.symbols["BELLS"].value == NUMBERS[written]


def test_an_ampersand_before_digits_is_hexadecimal_for_mos(assembled):
    assert assembled("BELLS = &99\n", "6502").symbols["BELLS"].value == 0x99


def test_a_word_that_is_an_operator_may_be_a_name(assembled):
    program = assembled("XOR EQU 5\n FDB XOR,6 XOR 3\n")
    assert [program.data[at] for at in range(4)] == [0, 5, 0, 5]


def test_registers_have_other_names_and_lists_have_names_and_masks(code):
    assert code(" TFR A,CCR\n PSHS CCR,DPR\n PULU SP\n") == "1f8a 3409 3740"
    assert code("ALL REG D,X,PC\n PSHS #ALL\n PULS #$34\n") == "3496 3534"


def test_digits_without_a_mark_fill_as_many_bytes_as_they_need(assembled):
    program = assembled(" HEX 0A0D1B\n QUAT 33333330\n")
    assert program.opaque == ()
    assert bytes(program.data[at] for at in range(5)).hex() == "0a0d1bfffc"


def test_a_comma_behind_the_operation_belongs_to_the_operand(code):
    assert code(" LDA, Y+\n") == "a6a0"


def test_an_indented_label_stands_before_an_instruction(code):
    assert code("  LOOP   NOP\n BRA LOOP\n") == "12 20fd"


def test_the_form_may_stand_in_the_operation(code):
    text = "PTR = $10\n LDA# 5\n LDAZ PTR\n STA(),Y PTR\n STA,X $1234\n ASLA\n LDAIM 3\n LDAIY PTR\n"
    assert code(text, "6502") == "a905 a510 9110 9d3412 0a a903 b110"


def test_a_number_behind_a_form_keeps_its_place(assembled):
    program = assembled(" LDAIM 200\n", "6502")
    (number,) = program.instructions[0].operands
    assert (number.value, program.files[0].of(number.span)) == (200, "200")


def test_labels_without_a_name_are_counted_from_where_they_are_used(code):
    assert code(": BNE :+\n BNE :-\n:\n BEQ :--\n", "6502") == "d002 d0fc f0fa"
    assert code("- DEX\n BNE -\n BEQ ++\n+ NOP\n+ NOP\n", "6502") == "ca d0fd f001 ea ea"


def test_names_of_a_procedure_are_its_own(code):
    text = (
        " PROC TOLL\nTURN NOP\n BRA TURN\n ENDPROC\n PROC RING\nTURN BRA TURN\n ENDPROC\n LDX #TOLL::TURN\n"
    )
    assert code(text) == "12 20fd 20fe 8e0000"


def test_names_with_a_mark_belong_to_their_module(assembled):
    program = assembled(" MODULE TOLL\n_TURN BRA _TURN\n MODULE RING\n NOP\n_TURN BRA _TURN\n")
    assert [i.action.code.hex() for i in program.instructions] == ["20fe", "12", "20fe"]
    assert program.problems == ()


def test_a_structure_gives_offsets_and_a_size(assembled):
    text = "BELL STRUCT\nPITCH RMB 2\nLOUD RMB 1\n ENDSTRUCT\n ORG $20\nA BELL\nB BELL\n LDA #BELL.LOUD\n"
    program = assembled(text + " LDB #sizeof{BELL}\n LDX B\n")
    assert [i.action.code.hex() for i in program.instructions] == ["8602", "c603", "9e23"]
    assert program.opaque == ()


def test_a_section_goes_on_where_it_was_left(assembled):
    text = ' .segment "CODE"\nTOP: LDA COUNT\n .zeropage\nCOUNT: .res 1\n .data\n .byte 1,2,3\n .code\n BNE TOP\n'
    program = assembled(text, "6502")
    assert [(i.address, i.action.code.hex(), i.placed) for i in program.instructions] == [
        (0x100, "ad0000", False),
        (0x103, "d0fb", False),
    ]


def test_the_section_before_comes_back_at_the_end_of_one(assembled):
    text = " SECTION code\nTOP NOP\n SECTION bss\nCOUNT RMB 2\n ENDSECTION\n BRA TOP\n"
    assert [i.action.code.hex() for i in assembled(text).instructions] == ["12", "20fd"]


SUM = "TOP EQU 2+3*4\n"


def test_operators_go_from_left_to_right_where_the_project_says_so(assembled):
    assert assembled(SUM).symbols["TOP"].value == 14
    program = assembled(SUM, stated={"left-to-right": True})
    assert (program.symbols["TOP"].value, program.problems) == (20, ())
    program = assembled(SUM, stated={"multiply-first": True})
    assert (program.symbols["TOP"].value, program.problems) == (14, ())


def test_operators_go_from_left_to_right_where_only_that_fits(assembled):
    program = assembled(SUM + "A EQU $3000\nB EQU $1000\n LDA #A-B/256\n")
    assert program.instructions[0].action.code.hex() == "8620"
    assert program.symbols["TOP"].value == 20
    assert program.problems == ()


def test_a_name_nobody_defines_is_zero_where_the_project_says_so_and_is_told(assembled):
    text = " IFEQ FAST\n NOP\n ENDC\n"
    assert assembled(text).instructions == ()
    program = assembled(text, stated={"undefined-is-zero": True})
    assert len(program.instructions) == 1
    assert program.undefined == ("FAST",)


def test_an_offset_of_zero_is_left_out_or_kept(assembled):
    text = " LDA 0,X\n"
    assert [i.action.code.hex() for i in assembled(text).instructions] == ["a684"]
    kept = assembled(text, stated={"zero-offset-kept": True})
    assert [i.action.code.hex() for i in kept.instructions] == ["a600"]


def test_words_of_mos_assemblers_do_what_they_say(assembled):
    text = """
BELLS = $1234
 .if .defined(BELLS)
 LDA #[BELLS&$FF]
 .fi
 .if .def(CHIMES)
 BRK
 .endif
 .dbyt BELLS
 .lobytes BELLS,BELLS+1
 .hibytes BELLS
 .fill 2,7
 LDX #.lobyte(BELLS)
"""
    program = assembled(text, "6502")
    assert (program.opaque, program.problems) == ((), ())
    assert [i.action.code.hex() for i in program.instructions] == ["a934", "a234"]
    assert bytes(program.data[at] for at in range(2, 9)).hex() == "12343435120707"


def test_brackets_around_an_operand_are_another_form_and_not_understood(assembled):
    program = assembled(" LDA [$10],Y\n", "6502")
    assert [opaque.cause for opaque in program.opaque] == ['LDA has no operand "[$10],Y"']


def test_a_star_before_a_name_is_the_direct_page(code):
    assert code("COUNT EQU $20\n LDA *COUNT\n BRA *\n BRA *+2\n") == "9620 20fe 2000"


def test_a_backslash_and_what_follows_is_one_character_where_the_text_shows_it(assembled):
    program = assembled(' FCC "RING\\0"\n FCB "\\x1B",13\n')
    assert bytes(program.data[at] for at in range(7)) == b"RING\0\x1b\r"
    assert assembled(r" FCC /A\B/" + "\n").data == {0: 65, 1: 92, 2: 66}


def test_words_of_the_6800_stand_for_two_instructions_of_the_6809(code):
    assert code("LOOP ABA\n TBA and a comment\n WAI\n BRA LOOP\n") == "3404 abe0 1f98 4d 3cff 20f5"
    assert code(" ABA\n TBA\n WAI\n", "6800") == "1b 17 3e"


def test_a_mark_behind_a_backslash_is_a_character(code):
    assert code(' CMP #"\\""\n LDA #"\\n" ; next line\n', "6502") == "c922 a90a"
    assert code(' LDA #"\\"" quoted\n') == "8622"
