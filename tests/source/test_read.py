import pytest
from clockhop.errors import SourceError
from clockhop.source import LARGEST, parse, read
from hypothesis import given
from hypothesis import strategies as st

ENDS = [
    b" NOP\r RTS\r",
    b" NOP\n RTS\n",
    b" NOP\r\n RTS\r\n",
    b" NOP\r\n RTS\r NOP\n\r\n\r\r\n",
    b" NOP\n RTS",
    b" NOP ; caf\xe9 \x85 \x0b\n",
    b" NOP\n\x1a\x1a\x1a",
    b"\x0c\n NOP\n",
    b"",
    b"\n",
    "LOOP NOP ; grün\r\n".encode(),
]


@pytest.mark.parametrize("data", ENDS)
def test_printing_gives_the_bytes_back(words, data):
    assert parse(data, "clock.asm", words).print() == data


@given(data=st.binary().map(lambda data: data.replace(b"\0", b"\n")))
def test_printing_gives_any_bytes_back(words, data):
    source = parse(data, "clock.asm", words)
    assert source.print() == data
    assert len(source.lines) == len(source.statements)


@given(text=st.text(alphabet=" \t\r\nAX:;*'\"/#,+-()[]<>=$@.01", max_size=60))
def test_fields_stand_in_order_and_hold_everything_but_blanks_and_colons(words, text):
    source = parse(text.encode(), "clock.asm", words)
    for statement in source.statements:
        position = statement.whole.start
        for span in (statement.label, statement.operation, statement.operand, statement.comment):
            if span:
                assert source.text[position : span.start].strip(" \t:") == ""
                assert span.start < span.end
                position = span.end
        assert source.text[position : statement.whole.end].strip(" \t:") == ""


def test_lines_end_at_cr_lf_and_both_but_not_at_other_separators(words):
    source = parse(b"one\rtwo\nthree\r\nfour\x85\x0b\x0c\x1cend\n\nsix", "clock.asm", words)
    assert [source.of(s.whole)[:5] for s in source.statements] == [
        "one",
        "two",
        "three",
        "four\x85",
        "",
        "six",
    ]


def test_places_count_lines_and_columns_from_1(words):
    source = parse(b" NOP\r\nTOP RTS\n", "clock.asm", words)
    assert str(source.place(0)) == "clock.asm:1:1"
    assert str(source.place(6)) == "clock.asm:2:1"
    assert str(source.place(10)) == "clock.asm:2:5"


def test_text_that_is_not_utf_8_is_latin_1(words):
    assert parse(b"; caf\xe9", "clock.asm", words).encoding == "latin-1"
    assert parse("; café".encode(), "clock.asm", words).encoding == "utf-8"


def test_a_missing_file_is_said_in_one_line(words, tmp_path):
    with pytest.raises(SourceError) as caught:
        read(tmp_path / "none.asm", words)
    assert str(caught.value) == f"{tmp_path / 'none.asm'}: no such file; check the name"


def test_a_folder_is_no_source(words, tmp_path):
    with pytest.raises(SourceError, match="is a folder"):
        read(tmp_path, words)


def test_a_binary_file_is_no_source(words, tmp_path):
    path = tmp_path / "clock.bin"
    path.write_bytes(b" NOP\n\0")
    with pytest.raises(SourceError, match="NUL byte at offset 5"):
        read(path, words)


def test_more_than_16_mib_is_no_source(words, tmp_path):
    path = tmp_path / "clock.asm"
    with path.open("wb") as file:
        file.truncate(LARGEST + 1)
    with pytest.raises(SourceError, match="has 16777217 bytes, more than 16 MiB"):
        read(path, words)
    with pytest.raises(SourceError, match="more than 16 MiB"):
        parse(b" " * (LARGEST + 1), "clock.asm", words)


def test_reading_keeps_the_path_as_it_was_given(words, tmp_path, monkeypatch):
    (tmp_path / "clock.asm").write_bytes(b" NOP\n")
    monkeypatch.chdir(tmp_path)
    assert read("clock.asm", words).name == "clock.asm"


def test_text_ends_where_cp_m_fills_the_last_sector_with_nul_bytes(words):
    data = b" NOP\r\n\x1a\x00\x00 NOP\n\x00"
    source = parse(data, "tower.asm", words)
    assert source.print() == data
    assert [statement.operation is not None for statement in source.statements] == [True, False, False]
