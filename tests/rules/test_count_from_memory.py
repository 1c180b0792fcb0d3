"""Counts loaded from an address where a number is likely meant."""

import pytest
from clockhop.rules import count_from_memory

FILL = "GO LDX {}\nFILL CLR ,Y+\n LEAX -1,X\n BNE FILL\n RTS\n"


def test_a_product_without_the_mark_of_an_immediate_counts_from_memory(judge):
    (finding,) = judge(count_from_memory, FILL.format("80*24"))
    # 80*24 = 1920 = $0780
    assert finding.message == (
        "FILL counts from memory at $0780, which nothing here writes; #80*24 makes it the number, for 1920 turns"
    )
    assert (finding.severity, finding.place.line) == ("warning", 1)
    assert judge(count_from_memory, FILL.format("#80*24")) == []


def test_the_number_of_a_loop_that_counts_up_is_said_with_its_turns(judge):
    (finding,) = judge(count_from_memory, "GO LDX 80*24\nFILL CLR ,Y+\n LEAX 1,X\n BNE FILL\n RTS\n")
    # 65536 - 1920
    assert finding.message.endswith("#80*24 makes it the number, for 63616 turns")


@pytest.mark.parametrize(
    "more",
    [
        "SET STD 1920\n RTS\n",  # written
        " ORG 1920\n RMB 2\n",  # reserved
        " ORG 1920\n FDB 300\n",  # laid down
    ],
)
def test_memory_that_is_there_is_meant(judge, more):
    assert judge(count_from_memory, FILL.format("80*24") + more) == []


def test_a_name_is_meant_and_so_is_a_number_that_counts_nothing(judge):
    assert judge(count_from_memory, "COUNT EQU $40\n" + FILL.format("COUNT")) == []
    assert judge(count_from_memory, "GO LDX 80*24\n STX $50\n RTS\n") == []


def test_a_single_hexadecimal_number_is_an_address(judge):
    assert judge(count_from_memory, FILL.format("$FEF2")) == []
    (finding,) = judge(count_from_memory, FILL.format("1920"))
    assert finding.subject == "FILL"
