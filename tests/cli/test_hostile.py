"""Input that means harm: a limit, a clear line, quickly; nothing is obeyed, nothing is a bug of the tool.

Each of these once took minutes or all memory, or would: what has no limit shows by never ending.
"""

import io
import json

import pytest
from clockhop.assemble import expand
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

BELL = "RING    LDB   #10\nLOOP    DECB\n        BNE   LOOP\n        RTS\n"
PROJECT = "processor: 6809\nclock: 1 MHz\n"
DIGITS = "9" * 1_000_000
LONG = "A" * 1_000_000


@pytest.fixture
def bell(folder):
    (folder / "bell.asm").write_text(BELL)
    (folder / "clockhop.yaml").write_text(PROJECT)
    return folder


LAUGHS = "a: &a [x, x]\n" + "".join(
    f"{y}: &{y} [*{x}, *{x}]\n" for x, y in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (LAUGHS, "1:4: an alias (*name) refers to a value above; write the value out"),
        (
            PROJECT + "parts: " + "[" * 5000,
            "3:100",
        ),
        (
            f"processor: 6809\nclock: {DIGITS} MHz\n",
            "2:8: a value of 1000004 characters, more than 4096; write a",
        ),
        (
            f"processor: 6809\nclock: 1/{'9' * 999} MHz\n",
            '2:8: clock "1/999999999999999999...": 1005 characters; write it',
        ),
        (PROJECT + f"defines: {{X: {'9' * 999}}}\n", ' define X: "9999999999'),
        (
            PROJECT + "memory:\n  rom: {from: 0, to: 9, kind: rom, waits: 1000000000}\n",
            "4:43: 1000000000 is out of range; accepted: 0 to 255",
        ),
        (
            PROJECT + "".join(f"key{number}: 1\n" for number in range(99_999)),
            " has 1188907 characters, more than 1048576; split it",
        ),
        (
            PROJECT + 'parts: {"\\e[31m": {family: 6850, at: 1, colour: red}}\n',
            '3:41: unknown key "colour"; accepted: ',
        ),
    ],
    ids=["aliases", "depth", "digits", "fraction", "define", "waits", "size", "escapes"],
)
def test_a_project_file(clockhop, bell, text, message):
    (bell / "clockhop.yaml").write_text(text)
    result = clockhop("check", "bell.asm")
    assert (result.status, result.out, result.err.count("\n")) == (2, "", 1)
    assert result.err.startswith(f"clockhop: clockhop.yaml:{message}")
    assert len(result.err) < 1100


@pytest.mark.parametrize(
    "text",
    [
        f"{LONG} NOP\n        BRA {LONG}\n",
        f"        LDD #{DIGITS}\n        LDD #${LONG}\n        FCB {DIGITS}\n",
        f"RING1 NOP ; timing: takes {DIGITS} ms\nRING2 NOP ; timing: runs {DIGITS} times\n",
        "X0 EQU 99999\n"
        + "".join(f"X{n + 1} EQU X{n}*X{n}\n" for n in range(60))
        + "        LDX #X60\n        LDX #1<<99999\n",
        "        REPT 1000000000\n        NOP\n        ENDR\n",
        "        REPT 999\n        REPT 999\n        REPT 999\n" + "        ENDR\n" * 3,
        "X       RMB 1000000000000\nY       FILL 0,1000000000\n        ORG 99999999999999999999\n",
        f"        LDA #{'(' * 9999}1{')' * 9999}\n        LDA #{'1+' * 9999}1\n        LDA #{'-' * 9999}1\n",
        "".join(f"C{n} EQU C{(n + 1) % 500}+1\n" for n in range(500)) + "        LDX #C0\n",
        "M       MACRO\n        M \\1+\\2,\\2+\\1\n        M \\1,\\2\n        ENDM\n        M A,B\n",
        "        NOP\nM       MACRO\n        MDO 1\n"
        "        MSET 1,~1~~1~\n        MLOOP 999999999\n        ENDM\n        @M 1\n",
        "        ENDM\n        ENDIF\n        ENDR\n        ELSE\n" * 2 + "        IF 1\n" * 5,
        "        ALIGN 0\n        ORG -5\nA       RMB Z-A\nZ       RMB A-Z+Y\n"
        "Y       EQU A+Z\n        ORG $FFFF\n        LDX #1\n",
    ],
    ids=[
        *("symbol", "digits", "notes", "powers", "repeat", "nested", "space", "depth"),
        *("circle", "growing", "turns", "ends", "places"),
    ],
)
def test_a_source(clockhop, bell, text, monkeypatch):
    # The limit itself is far above any program; reaching it only takes longer.
    monkeypatch.setattr(f"{expand.__name__}.MOST_REPEATED", 3000)
    monkeypatch.setattr(f"{expand.__name__}.LONGEST", 3000)
    (bell / "bell.asm").write_text(text + BELL)
    for command, form in (("check", "text"), ("check", "sarif"), ("durations", "text"), ("cycles", "json")):
        result = clockhop(command, "bell.asm", "--form", form)
        assert (result.status in (0, 1), result.err) == (True, "")
        if command == "check":
            assert len(result.out) < 50_000


@pytest.mark.parametrize(
    "arguments",
    [
        ("--clock", "9" * 99_999 + "MHz"),
        ("--clock", "1/" + "9" * 99_999 + "MHz"),
        ("-D", "X=" + "9" * 99_999),
        ("-D", "X=0x" + "F" * 99_999),
        ("--crystal", "bus=" + "9" * 99_999 + "MHz"),
        ("--known", "/dev/zero"),
        ("--project", "/dev/zero"),
        ("--stdin", "--stdin-name", "\udcff\x1b]0;bell\x07.asm"),
    ],
)
@pytest.mark.usefixtures("bell")
def test_an_argument(clockhop, arguments, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"")))
    result = clockhop("check", "bell.asm", *arguments)
    assert (result.status, result.out, result.err.count("\n")) == (2, "", 1)
    assert "bug" not in result.err
    assert "\x1b" not in result.err
    assert len(result.err) < 1100


# -- anything at all -----------------------------------------------------------------------------------------

WORDS = """
processor clock clocks parts memory builds bus accept at family kind from to ram rom 6809 z80 6850 44780 1MHz $8000 0 -1
RING bell.asm yes 5% source behind data interrupts IRQ entry period oscillators crystal divide waits
"""
KEYS = """
clock clocks crystal divide oscillators written_for entries interrupts bus memory parts families builds defines include
accept fail_on not_understood syntax habits
"""
ARGUMENTS = """
check cycles durations margins mend budget compose explain parts cpus draft bell.asm --clock --clock=2MHz 1MHz --cpu
6809 z80 --form lines json html -o out --known --record known.yaml --grow --gaps-at $10 --measured LOOP=1ms --crystal -D
X=1 -I . --write --only pad --keep-gaps --fail-on never -q --depends --target 20ms -
"""
NAMES = st.sampled_from(WORDS.split())
VALUES = st.recursive(
    NAMES | st.text(max_size=8) | st.integers() | st.floats(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(NAMES | st.text(max_size=5), inner, max_size=4)
    ),
    max_leaves=12,
)
FUZZ = settings(
    max_examples=250,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@FUZZ
@given(st.dictionaries(st.sampled_from(KEYS.split()), VALUES, max_size=4))
@example({"parts": {"a": {"family": "6850", "at": "RING"}}, "builds": {"x": {"source": "bell.asm"}}})
@example({"memory": {"a": {"from": "9", "to": "1", "kind": "ram"}}})
@example({"interrupts": {"IRQ": {"entry": "RING", "period": "0 ms"}}})
@example({"oscillators": {"a": "1 Hz"}, "clock": "a / 0"})
def test_any_project_file_is_judged_or_refused_in_one_line_with_its_place(clockhop, bell, keys):
    # JSON is YAML, and leaves no doubt what is written.
    (bell / "clockhop.yaml").write_text(json.dumps({"processor": "6809", "clock": "1 MHz"} | keys))
    result = clockhop("check", "bell.asm")
    if result.status == 2:
        assert result.err.startswith("clockhop: ")
        assert (result.out, result.err.count("\n")) == ("", 1)
    else:
        assert result.err == "" or result.err.startswith("caution: ")
    assert "bug" not in result.err


@FUZZ
@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=60))
@example("processor: &a 6809\nclock: *a")
@example("processor: !!python/object/apply:os.system [id]")
@example("? {a: b}\n: c")
@example("%YAML 1.1\n---\n...\n---\n")
@example("\ufeffprocessor: 6809\n")
def test_any_text_as_project_file_is_refused_in_one_line(clockhop, bell, text):
    (bell / "clockhop.yaml").write_text(text, encoding="utf-8")
    result = clockhop("check", "bell.asm")
    assert (result.status in (1, 2) or "clock" in text, result.out == "" or result.status != 2) == (
        True,
        True,
    )
    assert result.err.count("\n") <= 1
    assert "bug" not in result.err


@FUZZ
@given(st.lists(st.sampled_from(ARGUMENTS.split()) | st.text(max_size=6), max_size=7))
@example(["check", "bell.asm", "--form", "html", "-o", "bell.asm"])
@example(["check", "bell.asm", "--known", "bell.asm"])
@example(["mend", "bell.asm", "--clock=2MHz", "--write", "-o", "clockhop.yaml"])
@example(["check", "--project", "\x00"])
@example(["check", "\x00"])
def test_any_command_line_ends_with_0_1_or_2_and_leaves_source_and_project_as_they_are(
    clockhop, bell, arguments
):
    before = {name: (bell / name).read_bytes() for name in ("bell.asm", "clockhop.yaml")}
    result = clockhop(*arguments)
    assert result.status in (0, 1, 2)
    assert "bug" not in result.err
    assert "\x1b" not in result.out + result.err
    assert {name: (bell / name).read_bytes() for name in before} == before or "--write" in arguments
    for path in bell.iterdir():
        if path.name not in before:
            path.unlink()
