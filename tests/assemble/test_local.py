"""Local labels: which of several with one spelling is meant."""


def targets(program):
    return [i.operands[0].value for i in program.instructions if i.operands]


def test_a_dot_label_belongs_to_the_last_ordinary_label(assembled):
    text = "ONE NOP\n.again BNE .again\n BRA .done\n.done RTS\nTWO NOP\n.again BNE .again\n BRA .done\n.done RTS\n"
    assert targets(assembled(text)) == [1, 5, 7, 11]


def test_an_at_label_belongs_to_the_last_ordinary_label(assembled):
    text = "ONE NOP\n BEQ @out\n NOP\n\n@out RTS\nTWO NOP\n BEQ @out\n NOP\n@out RTS\n"
    assert targets(assembled(text)) == [4, 9]


def test_a_blank_line_ends_the_reach_of_a_label_with_a_trailing_at(assembled):
    text = "loop@ NOP\n BNE loop@\n\nloop@ NOP\n BNE loop@\nMID NOP\n BNE loop@\n"
    assert targets(assembled(text)) == [0, 3, 3]


def test_an_at_label_is_told_apart_by_blank_lines_where_no_ordinary_label_does(assembled):
    text = "TOP NOP\n BEQ @out\n@out NOP\n\n BEQ @out\n@out NOP\n"
    assert targets(assembled(text)) == [3, 6]


def test_a_constant_does_not_end_the_reach_of_a_local_label(assembled):
    text = "ONE NOP\n.x NOP\nBELLS EQU 5\n BNE .x\nTWO NOP\n.x NOP\n BNE .x\n"
    assert targets(assembled(text)) == [1, 5]


def test_a_dollar_label_is_local(assembled):
    text = "ONE NOP\n1$ BNE 1$\nTWO NOP\n1$ BNE 1$\n"
    assert targets(assembled(text)) == [1, 4]


def test_numbered_labels_are_the_nearest_before_or_behind(assembled):
    text = "1 NOP\n BNE 1b\n BNE 1f\n1 NOP\n BNE 1B\n BNE 2F\n2 NOP\n"
    assert targets(assembled(text)) == [0, 5, 5, 10]


def test_1b_is_a_binary_number_where_no_label_1_stands(assembled):
    assert targets(assembled(" LDA #1b\n LDA #10B\n")) == [1, 2]


def test_an_octal_number_gives_way_to_a_label_of_its_spelling(assembled):
    assert targets(assembled(" LDX #@17\n")) == [15]
    assert targets(assembled(" NOP\n@17 LDX #@17\n")) == [1]
    assert targets(assembled(" LDX #@17\n@17 NOP\n")) == [3]


def test_a_local_label_that_is_used_twice_is_no_symbol_of_the_program(assembled):
    program = assembled("ONE NOP\n.x NOP\n.y NOP\nTWO NOP\n.x NOP\n")
    assert sorted(program.symbols) == [".y", "ONE", "TWO"]
    assert program.instructions[1].labels == (".x",)
