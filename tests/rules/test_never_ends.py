"""Loops that test for an exit in vain."""

from clockhop.rules import never_ends


def test_a_counter_loaded_anew_in_every_turn_never_gets_to_0(judge):
    (finding,) = judge(never_ends, "GO LDB #3\nAGAIN LDA #10\n DECA\n BNE AGAIN\n RTS\n")
    assert finding.message == "AGAIN never ends: its exit test fails in every turn"
    assert (finding.severity, finding.place.line) == ("warning", 2)
    assert judge(never_ends, "GO LDA #10\nAGAIN DECA\n BNE AGAIN\n RTS\n") == []


def test_a_plain_endless_loop_is_meant(judge):
    assert judge(never_ends, "MAIN INC $50\n BRA MAIN\n") == []


def test_a_device_that_nothing_is_known_of_may_change_by_itself(judge):
    text = "GO CLR {0}\nREADY LDA {0}\n BEQ READY\n RTS\n"
    assert judge(never_ends, text.format(",X")) == []
    assert judge(never_ends, text.format("$FF40")) == []
    (finding,) = judge(never_ends, "GO NOP\nREADY LDA TABLE\n BEQ READY\n RTS\nTABLE FCB 0\n")
    assert finding.subject == "READY"
