"""What could not be read."""

from clockhop.rules import not_understood


def test_a_line_without_a_meaning_is_told_once_for_all_that_are_like_it(judge):
    verdicts = judge(not_understood, "GO FROB 1\n NOP\n FROB 2\n FROB 3\n RTS\n")
    (finding,) = verdicts
    assert (finding.severity, finding.place.line, finding.place.path) == ("warning", 1, "tower.asm")
    assert finding.message.endswith(", and 2 lines more; its size and time are unknown")
    assert "FROB" in finding.message


def test_a_note_that_says_nothing_is_told(judge):
    (finding,) = judge(not_understood, "GO NOP ; timing: takes long\n RTS\n")
    assert finding.place.line == 1
    assert judge(not_understood, "GO NOP ; takes long\n RTS\n") == []


def test_a_problem_of_the_text_is_told(judge):
    (finding,) = judge(not_understood, "GO NOP\nGO RTS\n")
    assert finding.place.line == 2


def test_a_name_that_decides_a_condition_and_is_defined_nowhere_is_noted(judge):
    text = "GO NOP\n IFEQ FAST\n NOP\n ELSE\n MUL\n ENDC\n RTS\n"
    found = judge(not_understood, text)
    assert [(f.severity, f.message) for f in found][-1] == (
        "note",
        "conditions ask for FAST (0 or not 0), which nothing defines; -D NAME=VALUE decides them",
    )
    assert judge(not_understood, "FAST EQU 0\n" + text) == []


def test_the_values_that_conditions_ask_for_are_told(judge):
    text = "GO NOP\n IF CPU=1\n NOP\n ENDC\n IFEQ CPU-2\n MUL\n ENDC\n"
    text += " IFDEF SLOW\n NOP\n ENDC\n IF BUS=2\n ENDC\n RTS\n"
    message = judge(not_understood, text)[-1].message
    assert message.startswith(
        "conditions ask for BUS (2 or not 2), CPU (1 or 2), SLOW (defined or not), which nothing defines"
    )


def test_in_a_macro_the_use_is_told_first_and_its_text_second(judge):
    text = "RING MACRO\n FROB \\1\n ENDM\nTOLL MACRO\n RING 1\n ENDM\nGO NOP\n TOLL\n RTS\n"
    (finding,) = judge(not_understood, text)
    assert str(finding.place) == "tower.asm:8:2"
    assert finding.notes == (
        "tower.asm:5:2: in the text of the macro",
        "tower.asm:2:2: in the text of the macro",
    )
