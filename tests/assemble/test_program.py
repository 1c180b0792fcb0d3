"""What later stages ask of a program, and timing notes bound to instructions."""

from clockhop.source import Runs, Takes


def test_instructions_are_found_by_address_and_of_overlays_the_nearest(assembled):
    program = assembled(" ORG $100\n NOP\n RTS\n ORG $100\n MUL\n")
    assert program.at(0x101).mnemonic == "RTS"
    assert program.at(0x100, near=0).mnemonic == "NOP"
    assert program.at(0x100, near=2).mnemonic == "MUL"
    assert program.at(0x200) is None


def test_an_address_is_named_by_a_label_before_a_constant(assembled):
    program = assembled("LOW EQU 0\nTOP NOP\n.x NOP\nPIA EQU $8000\nPORT EQU $8000\n")
    assert [program.symbol_at(address) for address in (0, 1, 0x8000, 0x9000)] == ["TOP", ".x", "PIA", None]


def test_labels_alone_on_lines_belong_to_the_next_instruction(assembled):
    program = assembled("ONE\nTWO:\n\n* here\nTHREE NOP\nDATA FCB 1\n RTS\n")
    assert [instruction.labels for instruction in program.instructions] == [("ONE", "TWO", "THREE"), ()]


def test_uses_of_a_symbol_are_lines(assembled):
    program = assembled("PIA EQU $8000\n STA PIA\n LDA PIA+1\n FDB PIA\n")
    assert [use.line for use in program.symbols["PIA"].uses] == [2, 3, 4]


def test_code_and_data_are_bytes_by_address(assembled):
    program = assembled(" ORG $10\n LDX #$1234\n FCB 9\n")
    assert dict(program.code) == {0x10: 0x8E, 0x11: 0x12, 0x12: 0x34}
    assert dict(program.data) == {0x13: 9}


def test_a_note_speaks_of_its_line_or_of_the_next_instruction(assembled):
    text = """\
* timing: takes 20 ms

DELAY LDX #25000
LOOP LEAX -1,X
 BNE LOOP ; timing: runs 25000 times
ROOM RMB 1 ; timing: runs 3 times
 RTS
"""
    program = assembled(text)
    bound = [(note.index, type(note.note.note), note.note.line, note.origin.line) for note in program.notes]
    assert bound == [(0, Takes, 1, 1), (2, Runs, 5, 5), (3, Runs, 6, 6)]


def test_a_note_in_a_macro_speaks_of_each_use(assembled):
    program = assembled("PAD MACRO\n NOP ; timing: runs 2 times\n ENDM\n PAD\n PAD\n")
    assert [note.index for note in program.notes] == [0, 1]


def test_a_note_in_a_branch_not_taken_does_not_speak(assembled):
    assert assembled(" IF 0\n NOP ; timing: runs 2 times\n ENDC\n RTS\n").notes == ()


def test_a_note_with_no_instruction_behind_it_is_a_problem(assembled):
    program = assembled(" RTS\n; timing: runs 2 times\n")
    assert [f"{problem.place}: {problem.message}" for problem in program.problems] == [
        "tower.asm:2: no instruction follows this timing note; put it before one"
    ]


def test_bad_notes_of_all_files_are_kept(assembled):
    program = assembled(" NOP ; timing: ages\n USE b.inc\n", files={"b.inc": " NOP ; timing: soon\n"})
    assert [bad.place.path for bad in program.bad_notes] == ["tower.asm", "b.inc"]


def test_an_empty_file_is_an_empty_program(assembled):
    program = assembled("")
    assert (program.instructions, program.statements, program.start) == ((), 0, None)


def test_line_ends_of_all_kinds_give_the_same_program(assembled):
    lines = ["TOP LDA #1", " BNE TOP", " RTS"]
    codes = [
        [i.action.code for i in assembled(end.join(lines).encode()).instructions]
        for end in ("\r", "\n", "\r\n")
    ]
    assert codes[0] == codes[1] == codes[2]
    assert len(codes[0]) == 3


def test_a_file_is_read_from_the_disk_without_a_reader(tmp_path):
    from clockhop.assemble import assemble
    from clockhop.cpu import load

    (tmp_path / "tower.asm").write_text(" USE bells.inc\n LDA #BELLS\n")
    (tmp_path / "bells.inc").write_text("BELLS EQU 8\n")
    program = assemble(str(tmp_path / "tower.asm"), load("6809"))
    assert program.instructions[0].action.code.hex() == "8608"
