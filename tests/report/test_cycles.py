"""`cycles`: the source as it stands, and what each of its lines, loops and routines takes."""

import json
from importlib.resources import files

import jsonschema
import pytest
from clockhop.assemble import words
from clockhop.chain import Request, run
from clockhop.cpu import load
from clockhop.quantity import parse_clock
from clockhop.report import Cycles, cycles, write
from clockhop.source import parse

# Z80, cycles from its manual: LD r,n 7, DJNZ 13 and 8, NOP 4, JR 12 and 7, CALL cc 17 and 10, PUSH 11, POP 10, RET 10.
TOWER = b"""\
\tORG 0
PAD\tMACRO
\tNOP
\tNOP
\tENDM
HOLD\tMACRO
\tLD B,\\1
.AGAIN\tDJNZ .AGAIN
\tENDM
RING:\tLD\tB,8\t; caf\xe9 \x1b[31m
WAIT:\tDJNZ\tWAIT
\tPAD
\tHOLD 3
\tOR\tA
\tCALL\tNZ,LAMP
\tRET
LAMP:\tPUSH\tAF
\tPOP\tAF
\tRET
"""


def shown(text: bytes, form="text", cpu="z80", columns=None, clocks=("4 MHz",)):
    request = Request("tower.asm", cpu, tuple(map(parse_clock, clocks)))
    chain = run(request, lambda path: parse(text, path, words(load(cpu))))
    return write(Cycles((cycles(chain),), columns), form)


@pytest.mark.parametrize(("form", "name"), [("text", "txt"), ("lines", "log"), ("json", "json")])
def test_cycles_are_written_as_in_the_golden_file(panel, golden, form, name):
    golden(f"cycles.{name}", write(Cycles((cycles(panel),)), form))


def test_macros_branches_calls_and_what_a_terminal_would_obey():
    assert (
        shown(TOWER)
        == """\
tower.asm, z80 at 4 MHz

        ORG 0
PAD     MACRO
        NOP                                                      4
        NOP                                                      4
        ENDM
HOLD    MACRO
        LD B,\\1                                                  7
.AGAIN  DJNZ .AGAIN                                           8/13
        ENDM
RING:   LD      B,8     ; café \\x1b[31m                          7
WAIT:   DJNZ    WAIT                              |           8/13
loop WAIT, 24.75 us at 4 MHz: 8 turns x 13 - 5 =                99
        PAD                                                      8
        HOLD 3                                    |       (15..20)
loop .AGAIN, 8.5 us at 4 MHz: 3 turns x 13 - 5 =                34
        OR      A                                                4
        CALL    NZ,LAMP                              +31     10/17
        RET                                                     10
               RING, 44.75 us..54.25 us at 4 MHz          179..217
LAMP:   PUSH    AF                                              11
        POP     AF                                              10
        RET                                                     10
                          LAMP, 7.75 us at 4 MHz                31

2/3: cycles of a branch, call or return not taken/taken
4..6: fewest and most, as far as the text tells
(12): what a macro puts there, with branches: each instruction counted once
+13925: what is called there takes by itself
|: goes round; its turns and cycles stand under its last line
"""
    )


def test_on_a_terminal_of_40_columns_figures_stand_at_its_edge_and_a_long_line_breaks():
    text = b"RING\tLDA #3\nAGAIN\tDECA ; " + b"a bell rings " * 3 + b"\n\tBNE AGAIN\n\tRTS\n"
    lines = shown(text, cpu="6809", columns=40).splitlines()
    assert [len(line) for line in lines[2:7]] == [40, 80, 40, 80, 40]


def test_a_line_that_is_not_understood_has_a_question_mark_and_the_routine_no_total():
    lines = shown(b"RING\tLDA #3\n\tFROB 7\n\tRTS\n", cpu="6809", clocks=()).splitlines()
    assert [line.split()[-1] for line in lines[2:5]] == ["2", "?", "5"]
    assert lines[5].endswith("7+")


def test_the_json_form_keeps_its_schema():
    schema = json.loads(files("clockhop.shared").joinpath("schemas/report-cycles.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    value = json.loads(shown(TOWER, "json"))
    jsonschema.validate(value, schema)
    ((file,),) = [build["files"] for build in value["builds"]]
    assert [loop["even"] for loop in file["loops"]] == [
        {"turns": 8, "cycles": 13, "rest": -5},
        {"turns": 3, "cycles": 13, "rest": -5},
    ]


def test_a_return_before_a_line_that_was_not_understood_takes_its_own_cycles():
    assert "        RET             10\n" in shown(b"RING:\tLD B,5\n\tRET\n\tLD (HL),(DE)\n")
