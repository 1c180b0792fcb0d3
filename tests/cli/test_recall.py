"""The same command over the same files is answered from the cache folder; anything that changed is worked out again."""

import sys
from pathlib import Path

import pytest
from clockhop.cli import entry, start

SOURCE = """\
        ORG   $1000
        INCLUDE "strike.inc"
STRIKE  LDB   #COUNT
WAIT    DECB
        BNE   WAIT
        RTS
"""
ARGUMENTS = ("durations", "strike.asm", "--cpu", "6809", "--form", "lines")


class Bench:
    """A folder with a source, and a count of the commands that were really run in it."""

    def __init__(self, monkeypatch, capsys, folder: Path) -> None:
        self.monkeypatch = monkeypatch
        self.capsys = capsys
        self.folder = folder
        self.runs = 0
        self.cache = folder / "cache"
        folder.joinpath("strike.asm").write_text(SOURCE, encoding="ascii")
        folder.joinpath("strike.inc").write_text("COUNT EQU 10\n", encoding="ascii")
        monkeypatch.chdir(folder)
        monkeypatch.setenv("CLOCKHOP_CACHE", str(self.cache))
        real = entry.run

        def counted(arguments):
            self.runs += 1
            return real(arguments)

        monkeypatch.setattr(entry, "run", counted)

    def __call__(self, *arguments: str) -> tuple[str, int, int]:
        """What is printed, the exit status, and how often it was really run."""
        self.monkeypatch.setattr(sys, "argv", ["clockhop", *arguments])
        before = self.runs
        with pytest.raises(SystemExit) as end:
            start.main()
        printed = self.capsys.readouterr()
        return printed.out + printed.err, int(end.value.code or 0), self.runs - before

    def kept(self) -> list[Path]:
        return sorted(self.cache.rglob("*.json"))


@pytest.fixture
def bench(monkeypatch, capsys, tmp_path):
    return Bench(monkeypatch, capsys, tmp_path)


def test_an_unchanged_program_is_told_again_without_being_run(bench):
    first = bench(*ARGUMENTS)
    assert "57 cycles" in first[0]
    assert first[1:] == (0, 1)
    assert bench(*ARGUMENTS) == (first[0], 0, 0)
    # Another option is another question.
    assert bench(*ARGUMENTS, "--clock", "1MHz")[2] == 1


def test_a_changed_include_a_new_project_file_and_an_include_that_turns_up_are_noticed(bench):
    told, _, _ = bench(*ARGUMENTS)
    # With the length and the time of the old file.
    include = bench.folder / "strike.inc"
    include.write_text("COUNT EQU 20\n", encoding="ascii")
    changed, _, runs = bench(*ARGUMENTS)
    assert ("107 cycles" in changed, changed == told, runs) == (True, False, 1)

    include.unlink()
    without, _, runs = bench(*ARGUMENTS)
    assert ("107 cycles" in without, runs) == (False, 1)
    assert bench(*ARGUMENTS)[2] == 0
    include.write_text("COUNT EQU 20\n", encoding="ascii")
    assert bench(*ARGUMENTS) == (changed, 0, 1)

    bench.folder.joinpath("clockhop.yaml").write_text("processor: 6809\nclocks: [2 MHz]\n", encoding="ascii")
    told, _, runs = bench(*ARGUMENTS)
    assert ("53.5 us" in told, runs) == (True, 1)


def test_a_damaged_file_in_the_cache_is_worked_out_again(bench):
    told, _, _ = bench(*ARGUMENTS)
    (kept,) = bench.kept()
    whole = kept.read_text(encoding="ascii")
    for damaged in (
        whole[: len(whole) // 2],
        "",
        "[]",
        "\udc80".encode("utf-8", "surrogateescape").decode("latin-1"),
        '{"looked": [], "told": 1, "status": "0"}',
        '{"looked": {"a": 1}, "told": [[1, "x"]], "status": 0}',
        '{"looked": {}, "told": [[3, "x"]], "status": 0}',
        '{"looked": {}, "told": [["x"]], "status": 0}',
        "[" * 100_000,
    ):
        kept.write_text(damaged, encoding="latin-1")
        assert bench(*ARGUMENTS) == (told, 0, 1), damaged[:60]


def test_a_cache_folder_that_cant_be_made_is_no_error(bench):
    told, _, _ = bench(*ARGUMENTS)
    for path in bench.kept():
        path.unlink()
    bench.cache.joinpath("said").rmdir()
    bench.cache.rmdir()
    bench.cache.write_text("a file where the folder would be", encoding="ascii")
    assert bench(*ARGUMENTS) == (told, 0, 1)
    assert bench(*ARGUMENTS) == (told, 0, 1)
    bench.monkeypatch.setenv("CLOCKHOP_CACHE", "off")
    assert bench(*ARGUMENTS) == (told, 0, 1)


def test_what_fails_or_writes_a_file_is_done_every_time(bench):
    missing = ("durations", "knell.asm", "--cpu", "6809")
    assert bench(*missing)[1:] == bench(*missing)[1:] == (2, 1)
    writing = (*ARGUMENTS, "-o", "report.txt")
    assert bench(*writing)[1:] == bench(*writing)[1:] == (0, 1)
    assert not bench.kept()


def test_findings_are_told_again_with_their_status(bench):
    bench.folder.joinpath("strike.inc").write_text("COUNT EQU 300\n", encoding="ascii")
    question = ("check", "strike.asm", "--cpu", "6809", "--clock", "2MHz", "--fail-on", "note")
    first = bench(*question)
    assert first[1:] == (1, 1)
    assert bench(*question) == (first[0], 1, 0)


def test_a_file_of_which_also_the_length_is_asked_is_told_by_what_is_in_it(bench):
    source = bench.folder / "strike.asm"
    source.write_text(f'{SOURCE}        INCBIN "strike.inc"\n', encoding="ascii")
    assert "57 cycles" in bench(*ARGUMENTS)[0]
    bench.folder.joinpath("strike.inc").write_text("COUNT EQU 20\n", encoding="ascii")
    assert "107 cycles" in bench(*ARGUMENTS)[0]
