"""What each access does to a part, told by what went before it."""

import pytest
from clockhop.rules.use import uses


@pytest.fixture
def told(case):
    """For each access of the one part: its line, the operations it may be, and whether it is one for certain."""

    def run(text, board):
        made = case(text, board=board)
        instructions = made.program.instructions
        ((_, found),) = uses(made.timings, made.board, made.handlers).items()
        return [
            (
                instructions[use.site.access.instruction].origin.line,
                [operation.name for operation in use.operations],
                use.certain,
            )
            for use in found
        ]

    return run


def writes(port, *values):
    return "".join(f" LDA #${value:02X}\n STA {port}\n" for value in values)


def test_in_halves_whole_bytes_come_until_the_part_is_told_about_halves(told):
    board = "parts: {lcd: {family: 44780, at: $8000, mode: 4-bit, grade: 5 V}}\n"
    text = "GO NOP\n" + writes("$8000", 0x30, 0x30, 0x20, 0x20, 0x80, 0x00, 0x10) + " RTS\n"
    assert [operations for _, operations, _ in told(text, board)] == [
        ["8-bit function set"],
        ["8-bit function set"],
        # the switch to halves, or the second half of $32
        ["8-bit function set", "4-bit function set"],
        ["half a command"],
        ["4-bit function set"],
        ["half a command"],
        ["clear"],
    ]


def test_behind_a_port_halves_are_put_together_from_what_its_data_lines_carried(told):
    board = (
        "parts: {lcd: {family: 44780, grade: 5 V, "
        "behind: {data: $8000, control: $8000, enable: bit 2, select: bit 1, data_bits: 4-7}}}\n"
    )
    # RS high: $4 and $1 are the byte $41, after a clear in halves
    text = "GO NOP\n" + writes("$8000", 0x04, 0x00, 0x14, 0x10, 0x46, 0x42, 0x16, 0x12) + " RTS\n"
    assert told(text, board) == [
        (5, ["half a command"], True),
        (9, ["clear"], True),
        (13, ["half a data byte"], True),
        (17, ["write data"], True),
    ]


PANEL = "parts: {panel: {family: 9918, ports: {data: $8000, control: $8001}, mode: text}}\n"


def test_a_byte_of_a_pair_is_told_by_those_before_it(told):
    text = "GO NOP\n" + writes("$8001", 0x00, 0x40) + " LDA $8001\n" + writes("$8001", 0x00, 0x07) + " RTS\n"
    assert [operations for _, operations, _ in told(text, PANEL)] == [
        ["set-up, first byte"],
        ["set write address"],
        ["read status"],
        ["set-up, first byte"],
        ["set read address"],
    ]


def test_where_two_ways_meet_out_of_step_both_are_possible(told):
    text = "GO TSTB\n BEQ ON\n STA $8001\nON STA $8001\n RTS\n"
    line, operations, certain = told(text, PANEL)[1]
    assert (line, certain) == (4, True)
    assert operations[0] == "set-up, first byte"
    assert len(operations) == 4


def test_an_interrupt_finds_the_pair_in_any_state_until_it_reads_the_status(told):
    board = PANEL + "interrupts: {IRQ: {entry: TICK}}\n"
    text = "GO BRA GO\nTICK CLRA\n STA $8001\n LDA $8001\n CLRA\n STA $8001\n RTI\n"
    found = [operations for _, operations, _ in told(text, board)]
    assert found == [
        ["set-up, first byte", "set read address"],
        ["read status"],
        ["set-up, first byte"],
    ]


def test_a_value_that_differs_by_the_way_taken_is_each_of_them(told):
    board = "parts: {lcd: {family: 44780, at: $8000, mode: 8-bit}}\n"
    text = "GO LDA #1\n TSTB\n BEQ ON\n LDA #$80\nON STA $8000\n RTS\n"
    ((_, operations, _),) = told(text, board)
    assert {"clear", "set display address"} <= set(operations)


SIO = "parts: {line: {family: Z80SIO, at: $8300, clock: bus}}\n"


def test_a_command_without_a_register_stands_alone_and_one_with_has_a_second_byte(told):
    # channel reset, pointer to register 4, its value, channel reset again
    text = "GO NOP\n" + writes("$8301", 0x18, 0x04, 0x18, 0x18) + " RTS\n"
    assert [operations for _, operations, _ in told(text, SIO)] == [
        ["channel reset"],
        ["other command"],
        ["write register"],
        ["channel reset"],
    ]


def test_after_a_byte_of_unknown_value_the_next_may_be_either_of_the_pair(told):
    text = "GO LDA $40\n STA $8301\n LDA #$18\n STA $8301\n LDA $8301\n LDA #$18\n STA $8301\n RTS\n"
    assert [operations for _, operations, _ in told(text, SIO)] == [
        ["channel reset", "other command"],
        ["channel reset", "write register"],
        ["read control"],
        ["channel reset"],
    ]
