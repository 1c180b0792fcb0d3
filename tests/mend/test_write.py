"""`mend --write`: all files or none, and only what is proved."""

import shutil
from collections.abc import Callable
from difflib import SequenceMatcher
from pathlib import Path

import pytest
from clockhop.cli.entry import run
from clockhop.errors import SourceError
from clockhop.mend import plan
from clockhop.source import write_atomic

DEMO = Path(__file__).parents[2] / "examples_asm" / "belltower"
DELAY = (
    b"        ORG   $C000\nMAIN    BSR   DELAY\n        CLRA\n        RTS\n"
    b"DELAY   LDX   #25000\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n        END   MAIN\n"
)
MENDED = DELAY.replace(b"#25000", b"#50001  ; timing: takes 200.008 ms")


@pytest.fixture
def clockhop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str]]:
    """Runs a command line in a folder of its own: its status, and what it printed or else complained of."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: str) -> tuple[int, str]:
        status = run(arguments)
        captured = capsys.readouterr()
        return status, captured.out if status == 0 else captured.err

    return call


ARGUMENTS = ("tower.asm", "--cpu", "6809", "--written-for", "1MHz", "--clock", "2MHz")


def test_nothing_is_written_unless_asked_for(clockhop, tmp_path):
    (tmp_path / "tower.asm").write_bytes(DELAY)
    status, out = clockhop("mend", *ARGUMENTS)
    assert (status, (tmp_path / "tower.asm").read_bytes()) == (0, DELAY)
    assert "+DELAY   LDX   #50001  ; timing: takes 200.008 ms" in out


def test_written_twice_is_written_once(clockhop, tmp_path):
    (tmp_path / "tower.asm").write_bytes(DELAY)
    assert clockhop("mend", *ARGUMENTS, "--write")[0] == 0
    assert (tmp_path / "tower.asm").read_bytes() == MENDED
    assert clockhop("mend", *ARGUMENTS, "--write")[0] == 0
    assert (tmp_path / "tower.asm").read_bytes() == MENDED
    assert [path.name for path in tmp_path.iterdir()] == ["tower.asm"]


@pytest.mark.parametrize("end", [b"\r\n", b"\r"])
def test_line_ends_and_latin_1_bytes_stay(clockhop, tmp_path, end):
    text = (b"* Glockenturm, S\xfcd\x85\n" + DELAY).replace(b"\n", end)
    (tmp_path / "tower.asm").write_bytes(text)
    clockhop("mend", *ARGUMENTS, "--write")
    assert (tmp_path / "tower.asm").read_bytes() == text.replace(
        b"#25000", b"#50001  ; timing: takes 200.008 ms"
    )


def test_line_ends_may_be_mixed_and_the_last_may_be_missing(clockhop, tmp_path):
    ends = [b"\r\n", b"\n", b"\r", b"\n", b"\r\n", b"\r", b"\n", b"\r\n", b""]
    lines = DELAY.splitlines()
    text = b"".join(line + end for line, end in zip(lines, ends, strict=True))
    (tmp_path / "tower.asm").write_bytes(text)
    clockhop("mend", *ARGUMENTS, "--write")
    assert (tmp_path / "tower.asm").read_bytes() == text.replace(
        b"#25000", b"#50001  ; timing: takes 200.008 ms"
    )


def two_files(folder: Path) -> None:
    (folder / "tower.asm").write_bytes(
        b'        INCLUDE "counts.inc"\n' + DELAY.replace(b"#25000", b"#COUNT")
    )
    (folder / "counts.inc").write_bytes(b"COUNT   EQU   25000\n")


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_source_that_changed_since_it_was_read_stops_the_run_before_anything_is_written(
    clockhop, tmp_path, monkeypatch
):
    two_files(tmp_path)

    def slow(*given):
        made = plan(*given)
        # Somebody saves the second file meanwhile.
        (tmp_path / "counts.inc").write_bytes(b"COUNT   EQU   20000\n")
        return made

    monkeypatch.setattr("clockhop.cli.mend.plan", slow)
    before = contents(tmp_path)
    status, err = clockhop("mend", *ARGUMENTS, "--write")
    assert status == 2
    assert err.endswith("counts.inc: has changed since it was read; run again\n")
    assert contents(tmp_path) == {**before, "counts.inc": b"COUNT   EQU   20000\n"}


def test_a_read_only_source_stops_the_run_before_anything_is_written(clockhop, tmp_path, monkeypatch):
    two_files(tmp_path)
    before = contents(tmp_path)
    # Permissions don't hold the superuser, who may run the tests.
    monkeypatch.setattr("os.access", lambda path, _: Path(path).name != "counts.inc")
    status, err = clockhop("mend", *ARGUMENTS, "--write")
    assert status == 2
    assert err.endswith("counts.inc: is read-only; make it writable to mend it\n")
    assert contents(tmp_path) == before


def test_a_run_that_can_not_write_the_second_file_names_the_one_that_is_written(
    clockhop, tmp_path, monkeypatch
):
    two_files(tmp_path)
    written: list[str] = []

    def once(path, after, before):
        if written:
            raise SourceError("can't be written (no space left on device); check its permissions")
        written.append(path)
        write_atomic(path, after, before)

    monkeypatch.setattr("clockhop.cli.mend.write_atomic", once)
    status, err = clockhop("mend", *ARGUMENTS, "--write")
    assert (status, err) == (
        2,
        "clockhop: can't be written (no space left on device); check its permissions; "
        "tower.asm written already; run it again for the rest\n",
    )
    # The file with the notes comes first: a second run finds the time there, and the new count beside it.
    assert written == ["tower.asm"]


PROJECT = """\
processor: 6809
written_for: 1 MHz
builds:
  tower: {source: tower.asm, clocks: [2 MHz]}
  church: {source: church.asm, clocks: [%s]}
"""


@pytest.mark.parametrize(
    ("clock", "status", "reason"),
    [
        ("2 MHz", 0, ""),
        (
            "4 MHz",
            2,
            "delay.asm:1: builds tower and church ask for different changes of this line; mend them one by one",
        ),
        (
            "1 MHz",
            2,
            "build church would then have: delay.asm:1:9: wait-too-short: ",
        ),
    ],
)
def test_two_builds_must_agree_on_a_file_they_share(clockhop, tmp_path, clock, status, reason):
    main = (
        b'        ORG   $C000\nMAIN    BSR   DELAY\n        CLRA\n        RTS\n        INCLUDE "delay.asm"\n'
    )
    (tmp_path / "clockhop.yaml").write_text(PROJECT % clock, encoding="utf-8")
    (tmp_path / "tower.asm").write_bytes(main)
    (tmp_path / "church.asm").write_bytes(main.replace(b"CLRA", b"CLRB"))
    delay = b"\n".join(DELAY.splitlines()[4:8]) + b"\n"
    (tmp_path / "delay.asm").write_bytes(delay)
    found, said = clockhop("mend", "--write")
    assert found == status
    written = (tmp_path / "delay.asm").read_bytes()
    if status == 0:
        assert written == delay.replace(b"#25000", b"#50001  ; timing: takes 200.008 ms")
    else:
        assert reason in said
        assert written == delay


def test_two_builds_may_change_different_lines_of_a_file(clockhop, tmp_path):
    main = (
        b'        ORG   $C000\nMAIN    BSR   DELAY\n        CLRA\n        RTS\n        INCLUDE "delay.asm"\n'
    )
    project = PROJECT.replace("clocks: [2 MHz]", "clocks: [2 MHz], defines: {TOWER: 1}") % "4 MHz"
    (tmp_path / "clockhop.yaml").write_text(
        project.replace("[4 MHz]", "[4 MHz], defines: {TOWER: 0}"), encoding="utf-8"
    )
    (tmp_path / "tower.asm").write_bytes(main)
    (tmp_path / "church.asm").write_bytes(main)
    delay = b"\n".join(DELAY.splitlines()[4:8]) + b"\n"
    text = b"        IF    TOWER\n%s        ELSE\n%s        ENDC\n"
    (tmp_path / "delay.asm").write_bytes(text % (delay, delay.replace(b"#25000", b"#10000")))
    assert clockhop("mend", "--write")[0] == 0
    tower = delay.replace(b"#25000", b"#50001  ; timing: takes 200.008 ms")
    church = delay.replace(b"#25000", b"#40003  ; timing: takes 80.008 ms")
    assert (tmp_path / "delay.asm").read_bytes() == text % (tower, church)
    assert "nothing" in clockhop("mend")[1]


def test_what_was_only_tried_is_written_on_request(clockhop, tmp_path):
    text = (
        b"        ORG   $C000\nMAIN    LDX   #200\nLOOP    LSRB   ; timing: takes 2 ms\n"
        b"        LEAX  -1,X\n        BNE   LOOP\n        STB   $10\n        CLRA\n        RTS\n        END   MAIN\n"
    )
    (tmp_path / "tower.asm").write_bytes(text)
    clockhop("mend", *ARGUMENTS, "--write")
    assert (tmp_path / "tower.asm").read_bytes() == text
    clockhop("mend", *ARGUMENTS, "--write", "--also-checked")
    assert b"LDX   #400\n" in (tmp_path / "tower.asm").read_bytes()


def test_the_demo_is_mended_but_for_the_pulse_of_the_striker(clockhop, tmp_path):
    shutil.copytree(DEMO, tmp_path, dirs_exist_ok=True)
    before = contents(tmp_path)
    assert clockhop("mend", "main.asm", "--clock", "1.8432MHz", "--write")[0] == 0
    after = contents(tmp_path)
    assert {name for name in before if after[name] != before[name]} == {
        "bells.asm",
        "display.asm",
        "panel.asm",
    }
    assert b"LDX     #3456\n" in after["bells.asm"]  # the striker's pulse
    _, out = clockhop("mend", "main.asm", "--clock", "1.8432MHz", "--write")
    assert "mends: 1 shown; 1 left as it is" in out
    assert contents(tmp_path) == after
    for name, text in before.items():
        assert_only_counts_notes_and_pads(
            text.splitlines(keepends=True), after[name].splitlines(keepends=True)
        )


def assert_only_counts_notes_and_pads(old: list[bytes], new: list[bytes]) -> None:
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        assert d - c >= b - a
        for was, now in zip(old[a:b], new[c:d], strict=False):
            assert now.startswith(was.partition(b"#")[0].rstrip())
        for pad in new[c + b - a : d]:
            assert pad.split()[0] in (b"NOP", b"ORCC")
