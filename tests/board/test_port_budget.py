"""What an access of a port gives a part: with its own wait on a Z80, as one of memory on an 8085, or unknown."""

from pathlib import Path

from clockhop.board import bus_needs, not_given, read

PANEL = "processor: {}\nprocessor_grade: {}\nclock: {}\nparts: {{panel: {{family: 8255, grade: '-5', at: {}{}}}}}\n"


def needs(cpu, grade, clock, at="io:$10", more=""):
    board = read(PANEL.format(cpu, grade, clock, at, more), Path("clockhop.yaml")).memories(())
    found = {need.subject: need for need in bus_needs(board)}
    (hz,) = [each.hz for each in board.clocks]
    return {subject: (need.cycles / hz + need.fixed.seconds) * 10**9 for subject, need in found.items()}


def test_a_z80_of_4_mhz_gives_a_port_480_ns_from_rd_and_470_of_strobe():
    # 5/2 cycles less 95 and 50 ns; 2 cycles less 30 ns. A memory gets a WR of 220 ns.
    assert needs("z80", "Z80A", "4 MHz") == {"read delay": 480, "strobe width": 470}
    assert needs("z80", "Z80A", "4 MHz", at="$8000") == {"strobe width": 220}
    assert needs("z80", "Z80A", "4 MHz", more=", waits: 1")["read delay"] == 730


def test_an_8085_gives_a_port_what_it_gives_memory():
    # 3/2 of 320 ns less 80 ns.
    # 3/2 of 320 ns less 180 ns for the delay of RD and the set-up, the printed 300 ns.
    assert needs("8085", "8085A", "3.125 MHz") == {"strobe width": 400, "read delay": 300}
    assert needs("8085", "8085A", "3.125 MHz") == needs("8085", "8085A", "3.125 MHz", at="$8000")


def test_of_an_8080_no_source_says_it_and_that_is_told():
    board = read(
        PANEL.format("8080", "x", "2 MHz", "io:$10", "").replace("processor_grade: x\n", ""), Path("c.yaml")
    )
    (found,) = not_given(board.memories(()))
    assert (found.name, found.subjects) == ("panel", ("read delay", "strobe width"))
