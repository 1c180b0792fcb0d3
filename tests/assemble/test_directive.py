import pytest


def memory(program, start, size):
    return bytes(program.data[address] for address in range(start, start + size))


DATA = [
    (" FCB 1,$FF,'A", b"\x01\xffA"),
    (" fcb 1 , 2", b"\x01\x02"),
    (" DB 'AB',0", b"AB\x00"),
    (" .byte 1,2 ; two", b"\x01\x02"),
    (" FCB 'it''s'", b"it's"),
    (" FCB -1", b"\xff"),
    (" FDB $1234,1", b"\x12\x34\x00\x01"),
    (" FDB *", b"\x00\x00"),
    (" FQB $12345678", b"\x12\x34\x56\x78"),
    (" FCC /ding, dong; * /", b"ding, dong; * "),
    (' FCC "ding",$0D,0', b"ding\x0d\x00"),
    (" FCC ;ding;", b"ding"),
    (" FCN /ding/", b"ding\x00"),
    (" FCS /ding/", b"din\xe7"),
    (' .asciz "ding"', b"ding\x00"),
    (" ZMB 3", b"\x00\x00\x00"),
    (" FILL $FF,3", b"\xff\xff\xff"),
]


@pytest.mark.parametrize(("text", "expected"), DATA, ids=[text for text, _ in DATA])
def test_a_data_directive_lays_down_these_bytes(assembled, text, expected):
    program = assembled(f"{text}\nEND NOP\n".replace("END", "BEHIND"))
    assert program.opaque == ()
    assert memory(program, 0, len(expected)) == expected
    assert program.symbols["BEHIND"].value == len(expected)


def test_an_unknown_value_takes_its_place_without_a_byte(assembled):
    program = assembled(" FCB 1,WHO,3\nBEHIND NOP\n")
    assert dict(program.data) == {0: 1, 2: 3}
    assert program.symbols["BEHIND"].value == 3


RESERVED = [
    ("ROOM RMB 10", 10),
    ("ROOM RMD 10", 20),
    ("ROOM RMQ 10", 40),
    ("ROOM .blkb 10", 10),
    ("ROOM DS 2*3", 6),
    ("ROOM RMB 0", 0),
]


@pytest.mark.parametrize(("text", "size"), RESERVED)
def test_reserved_memory_has_a_size_and_no_bytes(assembled, text, size):
    program = assembled(f" ORG $200\n{text}\nBEHIND NOP\n")
    (reserved,) = program.reserved
    assert (reserved.start, reserved.size, reserved.label) == (0x200, size, "ROOM")
    assert program.symbols["BEHIND"].value == 0x200 + size
    assert dict(program.data) == {}


def test_org_names_the_place(assembled):
    program = assembled("TOP ORG $E000\n NOP\nNEXT\n ORG *+$10\n NOP\n")
    assert [instruction.address for instruction in program.instructions] == [0xE000, 0xE011]
    assert (program.symbols["TOP"].value, program.symbols["NEXT"].value) == (0xE000, 0xE001)


def test_align_goes_up_to_a_multiple(assembled):
    program = assembled(" ORG $101\n ALIGN 16\nTOP NOP\n ALIGN 1\nNEXT NOP\n")
    assert (program.symbols["TOP"].value, program.symbols["NEXT"].value) == (0x110, 0x111)


def test_constants_variables_and_labels_are_told_apart(assembled):
    program = assembled("COUNT EQU 25000\nTRIES = 3\nN SET 1\nN SET N+1\nTOP NOP\n LDA #N\n")
    kinds = {name: (symbol.kind, symbol.value) for name, symbol in program.symbols.items()}
    assert kinds == {
        "COUNT": ("constant", 25000),
        "TRIES": ("constant", 3),
        "N": ("variable", 2),
        "TOP": ("label", 0),
    }
    source = program.files[0]
    span = program.symbols["COUNT"].span
    assert source.data[span.start : span.end] == b"25000"


def test_a_variable_has_the_value_of_its_place(assembled):
    program = assembled("N SET 1\n LDA #N\nN SET 2\n LDA #N\n")
    assert [i.action.code.hex() for i in program.instructions] == ["8601", "8602"]


def test_a_chain_of_constants_from_below_settles(assembled):
    program = assembled("A1 EQU B1+1\nB1 EQU C1+1\nC1 EQU D1+1\nD1 EQU 5\n LDX #A1\n")
    assert program.symbols["A1"].value == 8
    assert program.problems == ()


def test_constants_that_need_each_other_have_no_value(assembled):
    program = assembled("A1 EQU B1+1\nB1 EQU A1+1\n")
    assert program.symbols["A1"].value is None


def test_the_first_of_two_definitions_counts(assembled):
    program = assembled("TOP NOP\n NOP\nTOP NOP\n JMP >TOP\n")
    assert program.instructions[-1].action.code.hex() == "7e0000"
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        "tower.asm:3:5: TOP is defined already in tower.asm:1:5; the first definition counts"
    ]


def test_names_that_differ_in_case_alone_are_two_if_both_are_defined(assembled):
    program = assembled(" JMP TOP\ntop NOP\nTOP NOP\n")
    assert program.instructions[0].action.code.hex() == "7e0004"


def test_a_name_is_found_in_another_case_when_there_is_only_one(assembled):
    program = assembled(" JMP TOP\nTop NOP\n")
    assert program.instructions[0].action.code.hex() == "7e0003"
    assert program.label("TOP").name == "Top"


def test_end_gives_the_start_address_and_ends_the_text(assembled):
    program = assembled(" ORG $100\n NOP\nGO RTS\n END GO\n NOP\n garbage here\n")
    assert program.start == 0x101
    assert len(program.instructions) == 2
    assert program.opaque == ()


def test_listing_directives_take_no_room(assembled):
    program = assembled(" NAM tower\n TTL The clock\n PAGE\n OPT l\n SPC 2\nTOP NOP\n")
    assert program.symbols["TOP"].value == 0
    assert (program.statements, program.understood) == (6, 6)


def test_a_system_call_is_swi2_with_its_byte_behind_it(assembled):
    program = assembled("EXIT EQU 6\n os9 EXIT\n NOP\n")
    call, following = program.instructions
    assert (call.action.code.hex(), call.end, following.address) == ("103f06", 3, 3)
    assert call.mnemonic == "SWI2"


def test_inside_a_module_reserved_memory_is_counted_from_0_beside_the_code(assembled):
    text = " MOD eom,name,$11,$81,start,size\nFIRST RMB 2\nSECOND RMB 1\nsize EQU .\n"
    text += "name FCS /Bell/\nstart NOP\n EMOD\neom EQU *\n"
    values = {name: symbol.value for name, symbol in assembled(text).symbols.items()}
    assert values == {
        "FIRST": 0,
        "SECOND": 2,
        "size": 3,
        "name": 13,
        "start": 17,
        "eom": 21,
    }


def test_a_phase_moves_addresses_and_back(assembled):
    program = assembled(" ORG $E000\n NOP\n PHASE $100\nRUN NOP\n NOP\n DEPHASE\nBACK NOP\n")
    assert (program.symbols["RUN"].value, program.symbols["BACK"].value) == (0x100, 0xE003)


def test_a_number_of_bytes_that_cannot_be_is_not_understood(assembled):
    program = assembled(" RMB 70000\n NOP\n")
    assert [problem.message for problem in program.problems] == [
        "70000 is no number of bytes; write 0 to 65536"
    ]
    assert not program.instructions[0].certain


def test_an_address_is_uncertain_behind_an_unknown_size_until_the_next_org(assembled):
    program = assembled(" NOP\n RMB WHO\n NOP\n ORG $100\n NOP\n")
    assert [instruction.certain for instruction in program.instructions] == [True, False, True]


def test_an_included_binary_has_the_length_of_its_file(assembled, tmp_path):
    (tmp_path / "bells.bin").write_bytes(bytes(300))
    text = "BELLS INCLUDEBIN bells.bin\nBEHIND NOP\n INCBIN none.bin\n NOP\n"
    program = assembled(text, include_paths=[str(tmp_path)])
    assert program.symbols["BEHIND"].value == 300
    (opaque,) = program.opaque
    assert (
        opaque.cause
        == 'how long the bytes of "none.bin" are is not known: the file was not found or can\'t be read'
    )
    assert [instruction.certain for instruction in program.instructions] == [True, False]


def test_the_current_address_is_that_of_the_line(assembled):
    program = assembled(" ORG $100\n FDB *,*\n FCB 1,*-$100\n")
    assert memory(program, 0x100, 6) == b"\x01\x00\x01\x00\x01\x04"


def test_a_name_equated_to_the_current_address_is_a_label(assembled):
    program = assembled(" NOP\nLOOP EQU *\n BRA LOOP\n")
    assert program.symbols["LOOP"].kind == "label"
    assert program.instructions[1].labels == ("LOOP",)


def test_a_condition_that_is_no_expression_is_said(assembled):
    program = assembled(" IF )\n NOP\n ENDC\n")
    assert [problem.message for problem in program.problems] == [
        '")" is no expression; the condition counts as not met'
    ]


def test_an_address_that_needs_itself_does_not_settle_and_is_said(assembled):
    program = assembled(" ORG TOP+1\nTOP NOP\n")
    assert "addresses don't settle; values depend on each other" in [
        problem.message for problem in program.problems
    ]


ZILOG_DATA = [
    (" DB ' // ',1,'I/','O'+1,'A,'B", b" // \x01I/PAB"),
    (" DB 3 DUP (1,2),7", b"\x01\x02\x01\x02\x01\x02\x07"),
    (" DB (4-$) DUP 0FFH", b"\xff\xff\xff\xff"),
    (" .FILL 2,0FFH", b"\xff\xff"),
    (" .FILL 2", b"\x00\x00"),
    (" DCB.W 2,1234H", b"\x34\x12\x34\x12"),
    (" DEFT 123456H", b"\x56\x34\x12"),
    (" .pascal 'ding'", b"\x04ding"),
    (" DB X'1F',B'101',O'17',D'12',&H1F,'A", b"\x1f\x05\x0f\x0c\x1fA"),
]


@pytest.mark.parametrize(("text", "expected"), ZILOG_DATA, ids=[text for text, _ in ZILOG_DATA])
def test_a_zilog_data_directive_lays_down_these_bytes(assembled, text, expected):
    program = assembled(f"{text}\nBEHIND: NOP\n", "z80")
    assert program.opaque == ()
    assert memory(program, 0, len(expected)) == expected
    assert program.symbols["BEHIND"].value == len(expected)


def test_a_value_may_stand_behind_the_word_and_its_name(assembled):
    program = assembled(
        " DEFC TOP = $8000, LOW=2\n .EQU RING, 12H\nBELL SET 1\nBELL SET BELL+1\n SET 1,A\n", "z80"
    )
    values = {name: symbol.value for name, symbol in program.symbols.items()}
    assert values == {"TOP": 0x8000, "LOW": 2, "RING": 0x12, "BELL": 2}
    assert [each.action.code.hex() for each in program.instructions] == ["cbcf"]


def test_words_in_column_1_are_directives_even_before_names_that_are_words_too(assembled):
    text = "PUBLIC list\nEXTERN push\n*INCLUDE bells.z80\n$EJECT\nPHASE 100H\nDEPHASE\nEXT DB 5\n JP list\n"
    program = assembled(text, "z80", {"bells.z80": "list: NOP\n"})
    assert (program.opaque, program.problems, set(program.symbols)) == ((), (), {"list", "EXT"})


def test_a_backslash_in_a_text_is_one_character_where_the_file_shows_it_or_somebody_states_it(assembled):
    def texts(text, **spelling):
        program = assembled(text, "z80", **spelling)
        return memory(program, 0, len(program.data))

    assert texts(' DB "ding\\r\\n",0\n') == b"ding\r\n\x00"
    assert texts(" .ECHO \"loud\\n\"\n DB 'a\\x1Bb\\\\'\n") == b"a\x1bb\\"
    assert texts(" DB 'ding\\r'\n") == b"ding\\r"
    assert texts(' DB "c:\\new"\n DB "\\"\n') == b"c:\\new\\"
    assert texts(' DB "ding\\r"\n', stated={"text-escapes": False}) == b"ding\\r"


def test_a_hexadecimal_number_without_a_digit_first_is_taken_as_one_and_said(assembled):
    program = assembled(" LD A,FFH\n LD HL,BEADH\nBEADH EQU 5\n", "z80")
    assert [each.action.code.hex() for each in program.instructions] == ["3eff", "210500"]
    assert [each.message for each in program.problems] == ["FFH is defined nowhere; taken as the number 0FFH"]
