import pytest
from clockhop.assemble import dialects
from clockhop.cpu import load
from clockhop.source import Source, parse


def read(text: str) -> Source:
    return parse(text.encode(), "tower.asm", dialects(load("z80")))


LINES = [
    ("BELL: LD A,5 ! LD B,6 ; two", [("BELL", "LD", "A,5"), ("", "LD", "B,6")]),
    (
        " EX AF,AF' \\ EXX \\ RING 5 \\ IN: LD A,':'",
        [("", "EX", "AF,AF'"), ("", "EXX", ""), ("", "RING", "5"), ("IN", "LD", "A,':'")],
    ),
    ("IN:LD A,'!':LD B,5:RET", [("IN", "LD", "A,'!'"), ("", "LD", "B,5"), ("", "RET", "")]),
    (" LD A,MASK!SET", [("", "LD", "A,MASK!SET")]),
    ("* NOTE: LD A,5", [("", "", "")]),
    ("#define TWO LD A,1 \\ LD B,2", [("", "#define", "TWO LD A,1 \\ LD B,2")]),
    (" LD A,5 // and: RET", [("", "LD", "A,5")]),
    (" LD A,5 /* five */", [("", "LD", "A,5")]),
]


@pytest.mark.parametrize(("line", "expected"), LINES, ids=[line for line, _ in LINES])
def test_a_known_operation_behind_a_separator_is_another_statement(line, expected):
    source = read(line)
    (first,) = source.statements
    assert source.print() == line.encode()
    fields = [
        tuple(source.of(span).strip() if span else "" for span in (each.label, each.operation, each.operand))
        for each in first.on_line()
    ]
    assert fields == expected


def test_a_comment_of_several_lines_ends_with_its_mark():
    text = "/* the\n LD A,1\n*/\n LD A,2\n .COMMENT * RET\n LD A,3\n*\n COMMENT 'one'\n RET /* on\n*/\n EXX\n"
    operations = [source_word for source_word in map(word(read(text)), read(text).statements) if source_word]
    assert operations == ["LD", ".COMMENT", "COMMENT", "RET", "EXX"]


def word(source: Source):
    return lambda statement: source.of(statement.operation) if statement.operation else ""
