"""Every addressing form against opcodes worked by hand from the MC6809 programming manual (M6809PM/AD)."""

import pytest

CASES = [
    # inherent, immediate, direct, extended
    (" NOP", "12"),
    (" MUL", "3d"),
    (" SWI2", "103f"),
    (" LDA #$12", "8612"),
    (" LDX #25000", "8e61a8"),
    (" LDY #1", "108e0001"),
    (" LDA $12", "9612"),
    (" LDA $1234", "b61234"),
    (" LDA >$12", "b60012"),
    (" LDA <$1234", "9634"),
    (" STA $8001", "b78001"),
    (" JSR $F000", "bdf000"),
    (" CMPU #$1234", "11831234"),
    # indexed, all offsets
    (" LDA ,X", "a684"),
    (" LDA ,Y", "a6a4"),
    (" LDA ,U", "a6c4"),
    (" LDA ,S", "a6e4"),
    (" LDA 0,X", "a684"),
    (" LDA 1,X", "a601"),
    (" LDA -1,X", "a61f"),
    (" LDA 15,Y", "a62f"),
    (" LDA -16,S", "a670"),
    (" LDA 16,X", "a68810"),
    (" LDA -17,X", "a688ef"),
    (" LDA 127,X", "a6887f"),
    (" LDA 128,X", "a6890080"),
    (" LDA $FFFE,X", "a61e"),
    (" LDA <5,X", "a68805"),
    (" LDA >5,X", "a6890005"),
    (" LDA <0,X", "a68800"),
    (" LDA <<5,X", "a605"),
    (" LDA A,X", "a686"),
    (" LDA B,Y", "a6a5"),
    (" LDA D,U", "a6cb"),
    (" LDA ,X+", "a680"),
    (" LDA ,X++", "a681"),
    (" LDA ,-X", "a682"),
    (" LDA ,--X", "a683"),
    (" LDA 0,X+", "a680"),
    (" LEAX -1,X", "301f"),
    (" LEAX ,-X", "3082"),
    (" LEAS 2,S", "3262"),
    # relative to the program counter: from address 0 the offset is less by the instruction's length
    (" LDA $10,PCR", "a68c0d"),
    (" LDA $10,PC", "a68c0d"),
    (" LDA $1000,PCR", "a68d0ffc"),
    (" LEAX *,PCR", "308cfd"),
    # indirect
    (" LDA [,X]", "a694"),
    (" LDA [0,X]", "a694"),
    (" LDA [5,X]", "a69805"),
    (" LDA [200,X]", "a69900c8"),
    (" LDA [B,X]", "a695"),
    (" LDA [,X++]", "a691"),
    (" LDA [,--X]", "a693"),
    (" JMP [$FFFE]", "6e9ffffe"),
    (" LDA [$10,PCR]", "a69c0d"),
    # registers
    (" TFR A,B", "1f89"),
    (" EXG X,D", "1e10"),
    (" PSHS A,B,X", "3416"),
    (" PSHS D,X", "3416"),
    (" PULS CC,PC", "3581"),
    (" PSHU S", "3640"),
    (" pshs a , b", "3406"),
    # branches
    (" BRA *", "20fe"),
    (" BNE *+2", "2600"),
    (" BSR $10", "8d0e"),
    (" LBRA $1000", "160ffd"),
    (" LBEQ $1000", "10270ffc"),
    (" LBSR *", "17fffd"),
    # lower case, blanks
    (" lda  #1 + 2", "8603"),
    (" leax  a , x", "3086"),
]


# By hand from the published 6309 opcode map and its indexed postbytes.
CASES_6309 = [
    (" LDQ #$12345678", "cd12345678"),
    (" LDW #1", "10860001"),
    (" CLRD", "104f"),
    (" SEXW", "14"),
    (" PSHSW", "1038"),
    (" LDMD #1", "113d01"),
    (" ADDR A,B", "103089"),
    (" TFM X+,Y+", "113812"),
    (" TFM X-,Y-", "113912"),
    (" TFM X+,Y", "113a12"),
    (" TFM X,Y+", "113b12"),
    (" OIM #1,$20", "010120"),
    (" AIM #$F0,0,S", "62f0e4"),
    (" EIM #1,>$1234", "75011234"),
    (" TIM #1,5,X", "6b0105"),
    (" TIM #1,[,X++]", "6b0191"),
    (" LDA E,X", "a687"),
    (" LDA F,X", "a68a"),
    (" LDA W,X", "a68e"),
    (" LDA ,W", "a68f"),
    (" LDA 0,W", "a68f"),
    (" LDA 5,W", "a6af0005"),
    (" LDA ,W++", "a6cf"),
    (" LDA ,--W", "a6ef"),
    (" LDA [,W]", "a690"),
]


@pytest.mark.parametrize(("text", "expected"), CASES_6309, ids=[text for text, _ in CASES_6309])
def test_an_operand_of_the_6309_is_encoded_as_its_map_says(code, text, expected):
    assert code(text, cpu="6309") == expected


def test_a_name_like_a_register_of_a_relative_is_a_name_on_the_6809(code):
    assert code("E EQU 5\n LDA E,X") == "a605"


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text for text, _ in CASES])
def test_an_operand_is_encoded_as_the_manual_says(code, text, expected):
    assert code(text) == expected


def test_a_backward_offset_within_8_bits_is_short_and_a_forward_one_long(code):
    assert code("TOP NOP\n LEAX TOP,PCR") == "12 308cfc"
    assert code(" LEAX TOP,PCR\nTOP NOP") == "308d0000 12"


def test_a_name_known_from_above_takes_direct_and_one_from_below_extended(code):
    assert code("BELL EQU $20\n LDA BELL") == "9620"
    assert code(" LDA BELL\nBELL EQU $20") == "b60020"
    assert code(" LDA <BELL\nBELL EQU $20") == "9620"


def test_setdp_moves_the_direct_page(code):
    assert code(" SETDP $20\n LDA $2034\n LDA $34") == "9634 b60034"
    assert code(" SETDP $2000/256\n LDA $2034") == "9634"


def test_an_offset_from_below_takes_16_bits(code):
    assert code(" LDA SIZE,X\nSIZE EQU 3") == "a6890003"


def test_every_listed_register_has_its_bit(code):
    assert code(" PSHS CC,A,B,DP,X,Y,U,PC") == "34ff"


def test_the_pattern_fields_and_number_of_an_operand_are_kept(assembled):
    (instruction,) = assembled("CLOCK EQU 3\nWAIT LDB CLOCK*2+1,Y ; go\n").instructions
    assert instruction.pattern == "s5,R"
    assert dict(instruction.fields) == {"s5": 7, "R": "Y"}
    (number,) = instruction.operands
    assert (number.hole, number.value, number.text, number.symbol) == ("s5", 7, "CLOCK*2+1", None)
    source = instruction.origin.source
    assert source.data[number.span.start : number.span.end] == b"CLOCK*2+1"
    assert (instruction.mnemonic, instruction.labels, str(instruction.origin.place)) == (
        "LDB",
        ("WAIT",),
        "tower.asm:2:6",
    )


def test_a_number_that_is_one_symbol_names_it(assembled):
    (instruction,) = assembled("COUNT EQU 25000\n LDX #COUNT\n").instructions
    assert instruction.operands[0].symbol == "COUNT"


def test_a_number_too_large_is_cut_and_said(assembled):
    program = assembled("TOP LDA #256\n")
    assert program.instructions[0].action.code.hex() == "8600"
    assert [str(problem.place) + ": " + problem.message for problem in program.problems] == [
        "tower.asm:1:5: 256 does not fit in 8 bits; assembled as 0"
    ]


def test_the_address_past_the_last_one_is_0_without_a_word(assembled):
    program = assembled("LAST EQU $FFFF\n CMPX #LAST+1\n LDX #LAST+2\n")
    assert [i.action.code.hex() for i in program.instructions] == ["8c0000", "8e0001"]
    (problem,) = program.problems
    assert problem.message == "65537 does not fit in 16 bits; assembled as 1"


def test_minus_128_to_255_fit_in_8_bits(assembled):
    program = assembled(" LDA #-128\n LDA #255\n LDX #-1\n ANDA #~$80\n FCB ~$80\n")
    assert [i.action.code.hex() for i in program.instructions] == ["8680", "86ff", "8effff", "847f"]
    assert program.data[9] == 0x7F
    assert program.problems == ()


def test_a_branch_too_far_keeps_its_size_and_goes_nobody_knows_where(assembled):
    program = assembled("TOP RMB 200\n BRA TOP\nNEXT NOP\n")
    (problem,) = program.problems
    assert problem.message == "BRA TOP: relative operand 0 does not fit; accepted: targets 74 to 329"
    assert program.opaque == ()
    assert program.instructions[0].operands[0].value is None
    assert program.symbols["NEXT"].value == 202
    assert program.instructions[0].certain


def test_a_wrong_operand_is_not_understood(assembled):
    program = assembled(" STA #1\n NOP\n")
    assert [opaque.cause for opaque in program.opaque] == ['STA has no operand "#1"']
    assert [instruction.certain for instruction in program.instructions] == [False]


def test_how_far_a_branch_goes_is_unknown_where_addresses_are(assembled):
    program = assembled("TOP NOP\n RMB WHO\n RMB 200\n BRA TOP\n")
    branch = program.instructions[-1]
    assert (branch.certain, branch.action.code.hex(), branch.operands[0].value) == (False, "20fe", None)


def test_behind_an_operand_of_unknown_size_addresses_are_uncertain(assembled):
    program = assembled(" LDA WHO,X\n LDA #WHO\n ORG $100\n LDA #WHO\n NOP\n")
    assert [instruction.certain for instruction in program.instructions] == [True, False, True, True]


def test_words_of_the_6800_are_what_the_6809_has_for_them(assembled):
    program = assembled("GO DEY count down\n INX\n PSHA\n SEI\n TPA\n LDAA #5\n CPX #1\n")
    codes = [i.action.code.hex() for i in program.instructions]
    assert codes == ["313f", "3001", "3402", "1a10", "1fa8", "8605", "8c0001"]
    assert (program.opaque, program.problems) == ((), ())
