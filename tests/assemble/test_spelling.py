"""Ways of writing that one family of sources has, and what each means."""

import pytest


def laid(program):
    assert [opaque.cause for opaque in program.opaque] == []
    found: dict[int, str] = {}
    for _, value, origin in program.bytes():
        line = origin.place.line
        found[line] = found.get(line, "") + ("??" if value is None else f"{value:02x}")
    return found


LINES = [
    # text, processor, the bytes it makes
    (" ORCC C", "6809", "1a01"),
    (" andcc z,v", "6809", "1cf9"),
    (" CWAI E", "6809", "3c7f"),
    (" PSHS ALL", "6809", "34ff"),
    (' FCC  "save640"   -save640', "6809", "73617665363430"),
    (" FCC %bell%  the name", "6809", "62656c6c"),
    (" FCC \\d = Ding \\", "6809", "64203d2044696e6720"),
    (" FCB %101,%110", "6809", "0506"),
    (" FDB #$1234,#2", "68hc11", "12340002"),
    (" .WORD 1,2,", "6801", "00010002"),
    (" .FILL 3", "6801", "000000"),
    (" .FILL 3,$FF", "6801", "ffffff"),
    (" FILL $FF,3", "6801", "ffffff"),
    ("BELL : LDA #$16", "6502", "a916"),
    (" LDA #(2 | (COUNT + 13))\nCOUNT = 5", "6502", "a912"),
    (" .BYTE (('T' & $1F) + (COUNT & 3)) & $FF\nCOUNT = 5", "6502", "15"),
    (' .BYTE .STRLEN("BELL"), .strat ("BELL", 2)', "6502", "044c"),
    (' .BYTE .strat ("BELL", .strlen ("BELL") - 1) | $80', "6502", "cc"),
    (" DB '-- Ring, please'", "z80", "2d2d2052696e672c20706c65617365"),
]


@pytest.mark.parametrize(("text", "cpu", "code"), LINES)
def test_a_line_makes_these_bytes(assembled, text, cpu, code):
    assert laid(assembled(f" ORG $1000\n{text}\n", cpu))[2] == code


def test_a_label_further_in_may_stand_before_memory_that_is_set_aside(assembled):
    program = assembled(" ORG $0100\n STROKES RMB 2\n HOURS FCB 12\n", "6800")
    assert [program.symbols[name].value for name in ("STROKES", "HOURS")] == [0x100, 0x102]
    assert program.opaque == ()


def test_a_mark_before_the_name_of_an_assignment_makes_a_comment(assembled):
    assert listing_of(assembled("#Set to 1 for the tower's own display\n RTS\n")) == ["39"]


def test_characters_of_lists_may_be_mapped(assembled):
    text = ' CMAP "a","ABC"\n DB "abcd"\n CMAP -1\n CMAP "A",1,2\n DB "ABC"\n CMAP\n DB "ab"\n'
    assert laid(assembled(text)) == {2: "41424364", 5: "0102ff", 7: "6162"}
    (opaque,) = assembled(' CMAP "a",BELLS,"b"+\n').opaque
    assert opaque.cause == '""a",BELLS,"b"+" is no character and what it becomes'


def test_arguments_go_on_with_letters(assembled):
    text = "TOLL MACR\n FCB \\0,\\9,\\A,\\C\n ENDM\n TOLL 0,1,2,3,4,5,6,7,8,9,10,11,12\n"
    assert laid(assembled(text)) == {4: "00090a0c"}


def test_a_macro_may_set_its_arguments_and_go_through_lines_again(assembled):
    text = (
        "RING MACRO\n MREQ 1:strokes\n MDO 1\n LDB #:mloop\n LDA ~{:mloop}~\n MLOOP ~#~\n MSET 1,#9\n LDA ~1~\n"
        "#IFPARM ~3~\n LDX ~3~\n#ENDIF\n#IFPARM ~2~ = #6\n NOP\n#ENDIF\n MEXIT\n MUL\n ENDM\n"
        " @RING #5,#6\n @RING #1,#2,#7\n"
    )
    assert listing_of(assembled(text, "68hc11")) == [
        *("c601", "8605", "c602", "8606", "8609", "01"),
        *("c601", "8601", "c602", "8602", "c603", "8607", "8609", "ce0007"),
    ]


def test_procedures_that_do_not_end_begin_stretches_for_local_names(assembled):
    text = "MAIN PROC\nTURN@@ DECB\n\n BNE TURN@@\n BRA OUT\nOTHER PROC\nTURN@@ DECA\n BNE TURN@@\nOUT RTS\n"
    assert listing_of(assembled(text, "68hc11")) == ["5a", "26fd", "2003", "4a", "26fd", "39"]


def listing_of(program):
    assert [opaque.cause for opaque in program.opaque] == []
    return [instruction.action.code.hex() for instruction in program.instructions]
