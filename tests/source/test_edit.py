import stat

import pytest
from clockhop.errors import SourceError
from clockhop.source import Edit, edit, parse, write_atomic


def test_spans_are_replaced_and_all_other_bytes_stay(words):
    source = parse(b" LDX #25000 ; caf\xe9\r LEAX -1,X\r\n", "wait.asm", words)
    changed = edit(source, [Edit(25, 27, b"-2"), Edit(6, 11, b"49999")])
    assert changed == b" LDX #49999 ; caf\xe9\r LEAX -2,X\r\n"


def test_no_edit_changes_nothing(words):
    assert edit(parse(b" NOP\r\n", "wait.asm", words), []) == b" NOP\r\n"


def test_insertions_at_one_place_stay_in_their_order(words):
    source = parse(b" NOP\n", "wait.asm", words)
    assert edit(source, [Edit(5, 5, b" INCA\n"), Edit(5, 5, b" RTS\n")]) == b" NOP\n INCA\n RTS\n"


def test_two_edits_of_one_span_are_refused_with_both_named(words):
    source = parse(b" LDX #25000\n", "wait.asm", words)
    with pytest.raises(SourceError) as caught:
        edit(source, [Edit(6, 11, b"1"), Edit(8, 9, b"2")])
    assert str(caught.value) == (
        "wait.asm:1:9: two edits overlap: bytes 6 to 11 and bytes 8 to 9; make one of them"
    )


def test_an_edit_outside_the_file_is_refused(words):
    with pytest.raises(SourceError, match="bytes 3 to 9 lies outside"):
        edit(parse(b" NOP\n", "wait.asm", words), [Edit(3, 9, b"")])


def test_a_file_is_replaced_with_its_permissions_kept(tmp_path):
    path = tmp_path / "wait.asm"
    path.write_bytes(b" NOP\n")
    path.chmod(0o640)
    write_atomic(path, b" RTS\n", expected=b" NOP\n")
    assert path.read_bytes() == b" RTS\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [entry.name for entry in tmp_path.iterdir()] == ["wait.asm"]


def test_a_file_that_changed_since_it_was_read_is_left_alone(tmp_path):
    path = tmp_path / "wait.asm"
    path.write_bytes(b" MUL\n")
    with pytest.raises(SourceError, match="has changed since it was read"):
        write_atomic(path, b" RTS\n", expected=b" NOP\n")
    assert path.read_bytes() == b" MUL\n"


def test_a_read_only_file_is_left_alone(tmp_path, monkeypatch):
    path = tmp_path / "wait.asm"
    path.write_bytes(b" NOP\n")
    path.chmod(0o444)
    # Permissions don't hold the superuser, who may run the tests.
    monkeypatch.setattr("os.access", lambda *_: False)
    with pytest.raises(SourceError, match="is read-only"):
        write_atomic(path, b" RTS\n", expected=b" NOP\n")
    assert path.read_bytes() == b" NOP\n"


def test_a_failed_write_leaves_the_file_and_no_other_behind(tmp_path, monkeypatch):
    path = tmp_path / "wait.asm"
    path.write_bytes(b" NOP\n")

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", refuse)
    with pytest.raises(SourceError, match="can't be written \\(no space left on device\\)"):
        write_atomic(path, b" RTS\n", expected=b" NOP\n")
    assert [entry.name for entry in tmp_path.iterdir()] == ["wait.asm"]
    assert path.read_bytes() == b" NOP\n"
