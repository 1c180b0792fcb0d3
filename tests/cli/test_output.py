"""How reports are painted, what of a source a terminal never gets, and that no form changes the exit status."""

import io
import json
from pathlib import Path

import jsonschema
import pytest

SCHEMA = Path(__file__).parents[1] / "reference/sarif/sarif-schema-2.1.0.json"
# A name that clears the screen, a comment that sets the title with the one-byte CSI, and one that turns the line round.
HOSTILE = """\
LCDCMD  EQU $8001
        ORG $C000
START   STA LCDCMD
BAD\x1b[2J FROB \x1b]0;bell\x07
        STA LCDCMD ; \x9b5m \u202e
        RTS
"""
PROJECT = """\
processor: 6809
clock: 1 MHz
parts:
  lcd: {family: 44780, grade: 5 V, mode: 8-bit, ports: {command: LCDCMD}}
"""
OBEYED = {chr(code) for code in (*range(9), *range(11, 32), 127, *range(128, 160), 0x202E)}


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def tower(folder, monkeypatch):
    (folder / "panel.asm").write_text(HOSTILE, "utf-8")
    (folder / "clockhop.yaml").write_text(PROJECT)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    return folder


@pytest.fixture
def on_terminal(clockhop, monkeypatch):
    """Runs a command line with a terminal as its output, and gives what that got."""

    def call(*arguments):
        with monkeypatch.context() as patched:
            terminal = Terminal()
            patched.setattr("sys.stdout", terminal)
            clockhop(*arguments)
        return terminal.getvalue()

    return call


@pytest.mark.usefixtures("tower")
@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "panel.asm"),
        ("check", "panel.asm", "--form", "lines"),
        ("check", "panel.asm", "--form", "json"),
        ("check", "panel.asm", "--form", "sarif"),
        ("durations", "panel.asm"),
        ("durations", "panel.asm", "--form", "lines"),
        ("mend", "panel.asm"),
        ("draft", "panel.asm", "--cpu", "6809", "-o", "-"),
        ("check", "no\x1b[2J.asm"),
        ("check", "panel.asm", "--clock", "\x1b[2J"),
    ],
    ids=" ".join,
)
def test_nothing_of_a_source_or_an_argument_is_obeyed_by_a_terminal(clockhop, arguments):
    result = clockhop(*arguments)
    assert result.out + result.err
    assert set(result.out + result.err) & OBEYED == set()


@pytest.mark.usefixtures("tower")
def test_it_is_shown_in_words(clockhop):
    assert "BAD\\x1b[2J" in clockhop("check", "panel.asm", "--form", "lines").out


@pytest.mark.usefixtures("tower")
def test_in_a_painted_report_only_our_paint_is_obeyed(on_terminal, clockhop):
    painted = on_terminal("check", "panel.asm")
    bare = clockhop("check", "panel.asm", "--colour", "never").out
    assert "\x1b[33m\x1b[1mwarning: not-understood\x1b[0m: " in painted
    for code in ("31", "33", "36", "1", "2", "0"):
        painted = painted.replace(f"\x1b[{code}m", "")
    assert painted == bare


def test_marks_of_paint_in_a_source_multiply_nothing(on_terminal, tower):
    (tower / "panel.asm").write_text(HOSTILE + "X\ufdd01\ufdd1\ufdd01\ufdd1\ufdd1\ufdd0 FROB\n", "utf-8")
    painted = on_terminal("check", "panel.asm")
    assert painted.count("warning: not-understood") == 2
    assert "\ufdd0" not in painted


@pytest.mark.usefixtures("tower")
def test_the_option_goes_before_no_color_that_before_term_and_that_before_the_terminal(
    clockhop, on_terminal, monkeypatch
):
    assert "\x1b[" not in clockhop("check", "panel.asm").out
    assert "\x1b[" in clockhop("check", "panel.asm", "--colour", "always").out
    assert "\x1b[" in on_terminal("check", "panel.asm")
    assert "\x1b[" not in on_terminal("check", "panel.asm", "--color", "never")
    monkeypatch.setenv("TERM", "dumb")
    assert "\x1b[" not in on_terminal("check", "panel.asm")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[" not in on_terminal("check", "panel.asm")
    assert "\x1b[" in on_terminal("durations", "panel.asm", "--colour", "always")
    monkeypatch.setenv("NO_COLOR", "")
    assert "\x1b[" in on_terminal("check", "panel.asm")


@pytest.mark.usefixtures("tower")
def test_a_file_is_painted_only_when_that_is_said(on_terminal, folder):
    on_terminal("check", "panel.asm", "-o", "found.txt")
    assert "\x1b" not in (folder / "found.txt").read_text()


@pytest.mark.parametrize("level", ["error", "warning", "note", "never"])
@pytest.mark.parametrize("project", [PROJECT, PROJECT.split("parts:")[0], PROJECT + "not_understood: 9%\n"])
def test_no_form_changes_the_status(clockhop, tower, level, project):
    (tower / "clockhop.yaml").write_text(project)
    ways = (
        *(("--form", form) for form in ("text", "lines", "json", "sarif")),
        ("--quiet",),
        ("--summary-only",),
        ("-o", "out"),
    )
    assert len({clockhop("check", "panel.asm", "--fail-on", level, *way).status for way in ways}) == 1


def program(known, unknown):
    return "START RTS\n" + " NOP\n" * (known - 1) + " FROB\n" * unknown


@pytest.mark.parametrize(
    ("known", "unknown", "limit", "status"),
    [
        (51, 49, "", 0),
        (50, 50, "", 1),
        (95, 5, "5%", 0),
        (94, 6, "5%", 1),
        (99, 1, "0%", 1),
        (995, 5, "0.5 %", 0),
    ],
)
def test_how_much_is_not_understood_decides_too_whatever_fails_else(
    clockhop, tower, known, unknown, limit, status
):
    (tower / "panel.asm").write_text(program(known, unknown))
    (tower / "clockhop.yaml").write_text(
        "processor: 6809\nclock: 1 MHz\n" + (f"not_understood: {limit}\n" if limit else "")
    )
    assert clockhop("check", "panel.asm", "--fail-on", "never").status == status
    clockhop("check", "panel.asm", "--record", "known.yaml")
    assert clockhop("check", "panel.asm", "--fail-on", "never", "--known", "known.yaml").status == status


def test_every_form_says_that_too_little_was_understood(clockhop, tower):
    (tower / "panel.asm").write_text(program(94, 6))
    (tower / "clockhop.yaml").write_text("processor: 6809\nclock: 1 MHz\nnot_understood: 5%\n")
    words = "6 of 100 statements not understood; not_understood: allows 5%"
    assert f"\n    too little of panel.asm: {words}\n" in clockhop("check", "panel.asm", "--summary-only").out
    lines = clockhop("check", "panel.asm", "--form", "lines").out
    assert f"panel.asm: error: too-little-understood: {words}\n" in lines
    (build,) = json.loads(clockhop("check", "panel.asm", "--form", "json").out)["builds"]
    assert build["too_little"] == words
    sarif = json.loads(clockhop("check", "panel.asm", "--form", "sarif").out)
    jsonschema.Draft4Validator(json.loads(SCHEMA.read_text("utf-8"))).validate(sarif)
    (told,) = sarif["runs"][0]["invocations"][0]["toolExecutionNotifications"]
    assert told == {"level": "error", "message": {"text": words}}


@pytest.mark.parametrize("limit", ["5", "50%", "100%", "-1%", "1e1%", "%", "9" * 1000 + "%"])
def test_a_share_that_is_none_is_refused_with_its_place(clockhop, tower, limit):
    (tower / "clockhop.yaml").write_text(f'processor: 6809\nnot_understood: "{limit}"\n')
    result = clockhop("check", "panel.asm", "--clock", "1MHz")
    assert result.status == 2
    assert result.err.startswith('clockhop: clockhop.yaml:2:17: "')
    assert result.err.endswith(" is no share below a half; write such as 5%\n")
