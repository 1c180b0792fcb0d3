import pytest

PUT_IN = [
    ('#define QUIET \\;\nTOP: QUIET "ding", (\n LD HL,TOP\n', "210000"),
    ("#define CLEAR(r)\n#DEFCONT \\\tRES 0,r\n#DEFCONT \\DONE:RET\n CLEAR(B)\n JP DONE\n", "cb80 c9 c30200"),
    (" IF NOT NUL X\n NOP\n ENDIF\n IF NUL\n HALT\n ENDIF\n IF2\n DI\n ENDIF\n", "00 76"),
    ("#define DELAY(n) LD B,n \\ DJNZ $\n DELAY(5)\n", "0605 10fe"),
    ("#define RINGS ring_it\n CALL RINGS\nring_it: RET\n", "cd0300 c9"),
    ("#define PORT 10H\n#define SEND OUT (PORT),A\n SEND\n", "d310"),
    ("#define TWICE SEND \\ SEND\n#define SEND OUT (1),A\n TWICE\n", "d301 d301"),
    ("#define FLASH(N) PUSH AF\n#DEFCONT \\ LD A,N ; on\n#DEFCONT \\ POP AF\n FLASH(12)\n", "f5 3e0c f1"),
    ("#define equ .equ\nTOP equ 5\n LD A,TOP\n", "3e05"),
    ("#define B2(a,b) a+b\n LD A,B2((1,2),3)\n", ""),
    ('#define RING DI\n DB "RING" ; RING\n RING\n#undef RING\n#ifdef RING\n HALT\n#endif\n', "f3"),
    ("#define RING DI\n#if defined(RING) && !defined(BELL)\n NOP\n#endif\n", "00"),
    ("#define RING\n#ifdef RING\n NOP\n#else\n HALT\n#endif\n", "00"),
]


@pytest.mark.parametrize(("text", "code_of_it"), PUT_IN, ids=[text for text, _ in PUT_IN])
def test_a_text_is_put_in_for_its_name_before_a_line_is_cut(assembled, text, code_of_it):
    program = assembled(text, "z80")
    assert " ".join(each.action.code.hex() for each in program.instructions) == code_of_it


def test_a_number_s_name_is_a_symbol_and_an_unchanged_number_still_points_into_the_file(assembled):
    program = assembled("#define COUNT 5\n#define WAITS LD B,\nTOP: WAITS 200\n LD C,COUNT\n", "z80")
    assert program.symbols["COUNT"].value == 5
    first, second = program.instructions
    (number,) = first.operands
    assert (number.value, first.origin.source.of(number.span)) == (200, "200")
    assert second.operands[0].symbol == "COUNT"


def test_names_that_stand_for_each_other_many_times_end(assembled):
    text = "".join(f"#define N{number} N{number + 1} N{number + 1}\n" for number in range(60))
    assert len(assembled(text + " N0\n", "z80").opaque) == 1
