"""`clockhop draft`: what it writes loads as it is, and says only what was found."""

import pytest
from clockhop.board import load

PANEL = """\
LCDCMD  EQU   $8001
COUNT   EQU   $40
        ORG   $C000
START   LDS   #$7FFF
        LDA   LCDCMD
        STA   LCDCMD
        STA   BUFFER
        LDB   $9000
        LBSR  RING
        BRA   START
RING    PSHS  A
        LDA   TABLE
        PULS  A,PC
TABLE   FCB   7
BUFFER  RMB   4
        ORG   $FFFE
        FDB   START
"""


@pytest.fixture
def panel(folder):
    (folder / "panel.asm").write_text(PANEL)
    return "panel.asm"


def test_the_draft_loads_and_names_entry_and_source(clockhop, folder, panel):
    result = clockhop("draft", panel, "--cpu", "6809", "--clock", "1MHz")
    assert (result.status, result.err) == (0, "")
    assert result.out == "clockhop.yaml written; edit it, then run: clockhop check panel.asm\n"

    project = load(folder / "clockhop.yaml")
    assert (project.processor, [clock.text() for clock in project.clocks]) == ("6809", ["1 MHz"])
    assert [build.source for build in project.builds] == ["panel.asm"]
    assert [entry.name for entry in project.entries] == ["START"]
    assert project.parts == ()


def test_the_clock_of_a_draft_is_the_one_it_works_at_so_that_a_check_at_another_tells_of_waits(
    clockhop, folder
):
    (folder / "lamp.asm").write_text(
        "        ORG   $C000\nSTART   LDX   #1000\nHOLD    LEAX  -1,X\n        BNE   HOLD\n        BRA   START\n"
        "        END   START\n"
    )
    clockhop("draft", "lamp.asm", "--cpu", "6809", "--clock", "1MHz")
    assert clockhop("check", "lamp.asm", "--form", "lines").out == ""
    told = clockhop("check", "lamp.asm", "--clock", "2MHz", "--form", "lines").out
    assert "HOLD takes 8000 cycles, 8 ms at 1 MHz and 4 ms at 2 MHz" in told


def test_only_addresses_that_are_neither_code_nor_data_nor_memory_nor_stack_are_offered(clockhop, panel):
    out = clockhop("draft", panel, "--cpu", "6809", "-o", "-").out
    assert [line for line in out.splitlines() if line.startswith("#   # ")] == [
        "#   # LCDCMD at $8001 is read and written",
        "#   # $9000 is read",
    ]


def test_without_a_processor_the_one_that_understands_most_is_written_and_said_to_be_found(clockhop, panel):
    out = clockhop("draft", panel, "-o", "-").out
    assert "processor: 6809   # understands 17 of 17 statements; check that it is the one\n" in out


def test_instructions_that_only_the_6309_has_decide_for_it(clockhop, folder):
    (folder / "bell.asm").write_text("RING    CLRE\n        MULD  #5\n        RTS\n")
    out = clockhop("draft", "bell.asm", "-o", "-").out
    assert "processor: 6309   # understands 3 of 3 statements; check that it is the one\n" in out


def test_a_project_file_that_is_there_stays(clockhop, folder, panel):
    (folder / "clockhop.yaml").write_text("processor: 6309\n")
    result = clockhop("draft", panel, "--cpu", "6809")
    assert (result.status, (folder / "clockhop.yaml").read_text()) == (2, "processor: 6309\n")
    assert result.err == (
        "clockhop: clockhop.yaml: is there already and stays as it is; move it or name another with -o\n"
    )


def test_defines_and_include_folders_are_written_too(clockhop, folder):
    (folder / "inc").mkdir()
    (folder / "code").mkdir()
    (folder / "inc" / "board.inc").write_text("LAMP    EQU   $8010\n")
    (folder / "code" / "main.asm").write_text(
        "        INCLUDE board.inc\nSTART   STA   LAMP\n        RTS\n        END   START\n"
    )
    assert clockhop("draft", "code/main.asm", "--cpu", "6809", "-I", "inc", "-D", "PAL=$10").status == 0
    project = load(folder / "code" / "clockhop.yaml")
    assert (dict(project.defines), project.include) == ({"PAL": "16"}, ("../inc",))
    assert project.builds[0].source == "main.asm"
    assert clockhop("durations", "code/main.asm").status == 0


def test_a_draft_of_another_name_is_named_in_the_command_to_run_next(clockhop, panel):
    result = clockhop("draft", panel, "--cpu", "6809", "-o", "tower.yaml")
    assert (
        result.out == "tower.yaml written; edit it, then run: clockhop check panel.asm --project tower.yaml\n"
    )


def test_a_source_that_both_understand_is_a_6502s_rather_than_a_65c02s(clockhop, folder):
    (folder / "tick.asm").write_text("TICK    LDA $12\n        STA $6000\n        RTS\n")
    assert "processor: 6502   # understands 3 of 3 " in clockhop("draft", "tick.asm", "-o", "-").out


def test_an_interrupt_handler_without_a_label_at_38h_is_an_entry(clockhop, folder):
    (folder / "tick.asm").write_text(
        "        ORG 0\n        JP MAIN\n        ORG 38H\n        PUSH AF\n        POP AF\n        EI\n        RETI\n"
        "        ORG 100H\nMAIN:   IM 1\nLOOP:   JR LOOP\n"
    )
    out = clockhop("draft", "tick.asm", "--cpu", "z80", "-o", "-").out
    assert 'entries: ["$0000", "$0038"]   # found, not known: check them\n' in out
