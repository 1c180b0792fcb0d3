"""`clockhop check --stdin --stdin-name FILE`: the text an editor holds is checked as if it stood in the file."""

import io
import json

import pytest

MAIN = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   STA   LCDCMD
        INCLUDE wait.asm
        STA   LCDCMD
        RTS
        END   START
"""
LONG = "        LDB   #200\nWAIT    DECB\n        BNE   WAIT\n"
SHORT = "        LDB   #1\nWAIT    DECB\n        BNE   WAIT\n"
PROJECT = """\
processor: 6809
clock: 1 MHz
parts:
  lcd: {family: 44780, grade: 5 V, mode: 8-bit, ports: {command: LCDCMD}}
builds:
  tower: {source: src/main.asm}
"""


@pytest.fixture
def tower(folder):
    (folder / "src").mkdir()
    (folder / "src/main.asm").write_text(MAIN)
    (folder / "src/wait.asm").write_text(LONG)
    (folder / "clockhop.yaml").write_text(PROJECT)
    return folder


@pytest.fixture
def typed(clockhop, monkeypatch):
    """Runs a check with a text on the standard input."""

    def call(text, *arguments):
        data = text if isinstance(text, bytes) else text.encode()
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(data)))
        return clockhop("check", "--stdin", *arguments)

    return call


@pytest.mark.usefixtures("tower")
def test_the_text_typed_is_checked_and_not_the_one_in_the_file(typed):
    main = ("--stdin-name", "src/main.asm", "--form", "lines")
    assert typed(MAIN, *main).status == 0
    result = typed("* typed\n" + MAIN.replace("        INCLUDE wait.asm\n", ""), *main)
    assert result.status == 1
    assert result.out.startswith("src/main.asm:5:9: error: access-too-soon: LCDCMD written 5 cycles ")


@pytest.mark.usefixtures("tower")
def test_it_can_be_a_file_that_the_source_includes(typed):
    included = ("src/main.asm", "--stdin-name", "./src/wait.asm", "--form", "lines")
    assert typed(LONG, *included).status == 0
    result = typed(SHORT, *included)
    assert result.status == 1
    assert "src/main.asm:5:9: error: access-too-soon: " in result.out


def test_a_file_that_is_not_there_yet_can_be_checked(typed, tower):
    (tower / "src/main.asm").unlink()
    for form in ("text", "json", "sarif"):
        result = typed(
            MAIN.replace("INCLUDE wait.asm", "NOP"), "--stdin-name", "src/main.asm", "--form", form
        )
        assert (result.status, result.err) == (1, "")


@pytest.mark.usefixtures("tower")
def test_mends_are_those_of_the_text_typed(typed):
    result = typed(SHORT, "src/main.asm", "--stdin-name", "src/wait.asm", "--form", "json")
    mends = {each["name"]: each["mend"] for each in json.loads(result.out)["findings"]}
    assert mends["access-too-soon"] in ("proved", "checked")


def test_nothing_is_written(typed, tower):
    before = {path: path.read_bytes() for path in tower.rglob("*") if path.is_file()}
    typed(SHORT, "src/main.asm", "--stdin-name", "src/wait.asm")
    assert {path: path.read_bytes() for path in tower.rglob("*") if path.is_file()} == before


@pytest.mark.usefixtures("tower")
@pytest.mark.parametrize(
    ("text", "arguments", "message"),
    [
        (SHORT, ("src/main.asm", "--stdin-name", "src/bells.asm"), "src/bells.asm: is read by no source "),
        (b"\0", ("--stdin-name", "src/main.asm"), "src/main.asm: has a NUL byte at offset 0"),
        (b" " * (16 * 2**20 + 1), ("--stdin-name", "src/main.asm"), "src/main.asm: has more than 16 MiB"),
        (MAIN, (), "--stdin and --stdin-name FILE belong together; give both"),
        (MAIN, ("--stdin-name", "src/main.asm", "--record", "k"), "--record and --stdin are both given"),
        ("", ("--stdin-name", "src/main.asm"), "src/main.asm: has no statements"),
    ],
)
def test_what_can_not_be_checked_is_said_in_one_line(typed, text, arguments, message):
    result = typed(text, *arguments)
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith(f"clockhop: {message}")
    assert result.err.count("\n") == 1
