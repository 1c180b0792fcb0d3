"""Edits of lines: layout stays, and every byte outside the edit."""

from pathlib import Path

import pytest
from clockhop.assemble import assemble, words
from clockhop.cpu import load
from clockhop.mend.text import inserted, noted, replaced
from clockhop.source import Source, edit, parse
from hypothesis import given, settings
from hypothesis import strategies as st

DEMO = Path(__file__).parents[2] / "examples_asm"
SOURCES = sorted([*DEMO.rglob("*.asm"), *DEMO.rglob("*.inc")])
WORDS = words(load("6809"))


def source_of(data: bytes) -> Source:
    return parse(data, "tower.asm", WORDS)


def with_count(line: str, count: str) -> str:
    """The first line with its operand behind the # replaced."""
    source = source_of(line.encode("latin-1"))
    operand = source.statements[0].operand
    assert operand is not None
    span = type(operand)(operand.start + 1, operand.end)
    return edit(source, replaced(source, span, count)).decode("latin-1")


@pytest.mark.parametrize(
    ("before", "count", "after"),
    [
        # The comment stays in its column while there is a blank to give.
        ("WAIT    LDB   #9      ; settle\n", "18", "WAIT    LDB   #18     ; settle\n"),
        ("WAIT    LDB   #100    ; settle\n", "50", "WAIT    LDB   #50     ; settle\n"),
        ("WAIT    LDX   #9 ; settle\n", "1000", "WAIT    LDX   #1000 ; settle\n"),
        ("WAIT    LDX   #9   ; settle\n", "1000", "WAIT    LDX   #1000 ; settle\n"),
        # Tabs line up by themselves or not at all: they are left alone.
        ("WAIT\tLDB\t#9\t; settle\n", "18", "WAIT\tLDB\t#18\t; settle\n"),
        ("WAIT    LDB   #9\n", "18", "WAIT    LDB   #18\n"),
        ("WAIT    LDB   #9", "18", "WAIT    LDB   #18"),
        ("WAIT    LDB   #9   ; \xfcber\r\n", "18", "WAIT    LDB   #18  ; \xfcber\r\n"),
        ("WAIT    LDB   #9   the bell settles\r", "18", "WAIT    LDB   #18  the bell settles\r"),
    ],
)
def test_a_count_is_replaced_in_its_place(before, count, after):
    assert with_count(before, count) == after


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("WAIT    LDB   #9\n", "WAIT    LDB   #9  ; timing: takes 20 ms\n"),
        ("WAIT    LDB   #9", "WAIT    LDB   #9  ; timing: takes 20 ms"),
        ("WAIT    LDB   #9  \r\n", "WAIT    LDB   #9  ; timing: takes 20 ms\r\n"),
        ("WAIT    LDB   #9  ; settle\r", "WAIT    LDB   #9  ; settle; timing: takes 20 ms\r"),
        ("WAIT    LDB   #9  ; \xe9t\xe9 \n", "WAIT    LDB   #9  ; \xe9t\xe9; timing: takes 20 ms \n"),
        ("WAIT\tLDB\t#9\n", "WAIT\tLDB\t#9  ; timing: takes 20 ms\n"),
        # In the column of the nearest comment behind code.
        (
            "WAIT    LDB   #9\n        DECB          ; down\n",
            "WAIT    LDB   #9      ; timing: takes 20 ms\n        DECB          ; down\n",
        ),
    ],
)
def test_a_note_goes_to_the_end_of_the_line_in_its_comment_where_it_has_one(before, after):
    source = source_of(before.encode("latin-1"))
    made = edit(source, [noted(source, source.statements[0], "takes 20 ms")])
    assert made.decode("latin-1") == after
    assert [note.note.duration.seconds * 1000 for note in source_of(made).notes] == [20]


def padded(text: str, remark: str = "") -> str:
    """The text with two pads behind its first instruction."""
    data = text.encode("latin-1")
    program = assemble("tower.asm", load("6809"), reader=lambda _: source_of(data))
    source = program.instructions[0].origin.source
    change = inserted(program.instructions[0], [("NOP", ""), ("TFR", "A,A")], remark)
    return edit(source, [change]).decode("latin-1")


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (
            "        STA   $90\n        RTS\n",
            "        STA   $90\n        NOP\n        TFR   A,A\n        RTS\n",
        ),
        ("LAMP    sta   $90\r\n", "LAMP    sta   $90\r\n        nop\r\n        tfr   a,a\r\n"),
        ("\tSTA\t$90\r\tRTS\r", "\tSTA\t$90\r\tNOP\r\tTFR\tA,A\r\tRTS\r"),
        ("LAMP:\tSTA\t$90\n", "LAMP:\tSTA\t$90\n\tNOP\n\tTFR\tA,A\n"),
        # Each line end as the line before has it; without one, as the file has them.
        (
            "        STA   $90\r\n        RTS\n",
            "        STA   $90\r\n        NOP\r\n        TFR   A,A\r\n        RTS\n",
        ),
        ("* bell\r\n        STA   $90", "* bell\r\n        STA   $90\r\n        NOP\r\n        TFR   A,A"),
        ("        STA   $90", "        STA   $90\n        NOP\n        TFR   A,A"),
    ],
)
def test_pads_are_laid_out_like_the_line_before_them(before, after):
    assert padded(before) == after


def test_a_remark_stands_in_the_column_of_the_comment_nearby():
    before = "        STA   $90     ; lamp on\n"
    assert padded(before, "8 us") == before + "        NOP           ; 8 us\n        TFR   A,A\n"


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.name)
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"], ids=["lf", "crlf", "cr"])
def test_in_the_demo_a_note_on_any_line_leaves_all_other_bytes(path, end):
    source = source_of(path.read_bytes().replace(b"\n", end) + b"* caf\xe9")
    for statement in source.statements:
        change = noted(source, statement, "takes 1 ms")
        made = edit(source, [change])
        assert made.startswith(source.data[: change.start])
        assert made.endswith(source.data[change.end :])
        assert source.data[change.start : change.end].strip() == b""
        assert made.count(end) == source.data.count(end)


ENDS = st.sampled_from(["\n", "\r\n", "\r"])
LINES = st.lists(
    st.tuples(
        st.sampled_from(["", "L%d", "L%d:"]),
        st.sampled_from([" ", "\t", "      "]),
        st.sampled_from(["LDB", "ldx", "Addd"]),
        st.sampled_from([" ", "\t", "   "]),
        st.sampled_from(["#9", "#100", "#$3F", "#%101"]),
        st.sampled_from(["", " ; bell", "\t; caf\xe9 \x85", "     ; x  ", "  "]),
        ENDS,
    ),
    min_size=1,
    max_size=6,
)


@settings(max_examples=150)
@given(lines=LINES, cut=st.booleans(), new=st.sampled_from(["1", "77", "12345"]), data=st.data())
def test_a_random_edit_leaves_all_bytes_but_the_count_and_blanks_before_its_comment(lines, cut, new, data):
    texts = ["".join(line).replace("%d", str(n)) for n, line in enumerate(lines)]
    if cut:
        texts[-1] = texts[-1].rstrip("\r\n")
    source = source_of("".join(texts).encode("latin-1"))
    number = data.draw(st.integers(0, len(texts) - 1))
    # A CR of one line and a LF of the next would be one line end.
    statement = source.statements[number]
    if statement.operand is None:
        return
    span = type(statement.operand)(statement.operand.start + 1, statement.operand.end)
    made = edit(source, replaced(source, span, new))
    assert made.startswith(source.data[: span.start] + new.encode())
    behind = source.data[span.end :]
    rest = made[span.start + len(new) :]
    assert rest.lstrip(b" ") == behind.lstrip(b" ")
    assert parse(made, "tower.asm", WORDS).data == made
