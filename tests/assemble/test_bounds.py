"""Text that would grow without end is cut off: with a stated bound, a word in the report, and at once."""

from clockhop.assemble import expand, files

ORIGIN = "        ORG   $1000\n"
DOUBLING = "PEAL    MACRO\n        PEAL  \\1\\1\\1,\\1\\1\n        ENDM\n"


def test_a_macro_that_doubles_its_argument_stops_200_deep(assembled):
    program = assembled(f"{DOUBLING}{ORIGIN}        PEAL  ABC\n        RTS\n")
    assert [problem.message for problem in program.problems] == [
        "macro PEAL is used more than 200 deep; uses it itself"
    ]


def test_a_value_squared_60_times_is_not_known(assembled):
    squares = "".join(f"X{i + 1}  EQU X{i}*X{i}\n" for i in range(60))
    program = assembled(f"X0  EQU 99999999999\n{squares}{ORIGIN}        LDX   #X60\n")
    # 99999999999 has 37 bits, its square 74: more than the 64 a value may have.
    assert program.symbols["X0"].value == 99999999999
    assert program.symbols["X1"].value is None


def test_a_thousand_million_repetitions_of_a_line_are_not_understood_and_those_of_none_are_over_at_once(
    assembled,
):
    program = assembled(f"{ORIGIN}        REPT  1000000000\n        NOP\n        ENDM\n        RTS\n")
    assert [opaque.cause for opaque in program.opaque] == [
        "1000000000 times 1 lines would be more than 131072 lines of repetitions"
    ]
    program = assembled(f"{ORIGIN}        REPT  1000000000\n        ENDM\n        RTS\n")
    assert (len(program.instructions), program.opaque) == (1, ())


def test_the_lines_of_the_files_themselves_do_not_count_for_the_limit(assembled, monkeypatch):
    monkeypatch.setattr(expand, "LONGEST", 100)
    program = assembled(ORIGIN + 300 * "        NOP\n" + "        RTS\n")
    assert (len(program.instructions), program.problems) == (301, ())


def test_a_name_of_a_million_letters_is_cut_in_the_message(assembled):
    program = assembled(
        f"{ORIGIN}        LDX   #{'A' * 250}\n        FROB  {'B' * 1_000_000}\n        {'C' * 900_000}\n"
    )
    assert max(len(opaque.cause) for opaque in program.opaque) < 400


def test_constants_that_rest_on_themselves_are_said_once(assembled):
    program = assembled("A EQU B\nB EQU C+1\nC EQU A\nD EQU E\nE EQU 5\nF EQU F+1\n LDX #A\n")
    assert [f"{each.place}: {each.message}" for each in program.problems] == [
        "tower.asm:1:3: A rests on itself (A -> B -> C -> A); its value is unknown",
        "tower.asm:6:3: F rests on itself (F -> F); its value is unknown",
    ]
    assert program.symbols["D"].value == 5


def test_lists_repeated_inside_each_other_beyond_the_memory_are_not_understood(assembled):
    program = assembled(" DB 60000 DUP (60000 DUP (60000 DUP (1)))\n DB 2 DUP (3 DUP (7))\n RET\n", "z80")
    assert [opaque.origin.line for opaque in program.opaque] == [1]
    assert [value for _, value, origin in program.bytes() if origin.line == 2] == [None] * 6


def test_files_that_include_others_twice_each_end_at_a_limit(assembled, monkeypatch):
    monkeypatch.setattr(files, "MOST_INCLUDED", 20)
    twice = {f"bell{n}.inc": f" USE bell{n + 1}.inc\n" * 2 for n in range(9)} | {"bell9.inc": " NOP\n"}
    program = assembled(" USE bell0.inc\n RTS\n", files=twice)
    assert [each.message for each in program.problems] == ["more than 20 includes; passed over from here on"]
    assert program.instructions[-1].mnemonic == "RTS"
