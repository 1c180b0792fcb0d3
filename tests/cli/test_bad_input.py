"""Bad input: one clear line on the error stream, exit status 2, nothing lost."""

import os

import pytest
from clockhop.cli import entry

BELL = "RING    LDB   #10\nLOOP    DECB\n        BNE   LOOP\n        RTS\n"
PANEL = "VDATA   EQU   $8000\nVCTRL   EQU   $8001\nSTART   STA   VDATA\n        RTS\n"


@pytest.fixture
def refused(clockhop, folder):
    """Runs a command line that must fail: its one line, without the tool's name."""
    (folder / "bell.asm").write_text(BELL)
    (folder / "panel.asm").write_text(PANEL)

    def call(*arguments):
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        result = clockhop(*arguments)
        assert (result.status, result.out) == (2, "")
        assert before == {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        assert result.err.startswith("clockhop: ")
        assert result.err.count("\n") == 1
        return result.err.removeprefix("clockhop: ").rstrip("\n")

    return call


@pytest.fixture
def project(folder):
    def write(text):
        (folder / "clockhop.yaml").write_text(text)

    return write


# -- the source ----------------------------------------------------------------------------------------------


def test_a_missing_file(refused):
    assert refused("durations", "bel.asm", "--cpu", "6809") == "bel.asm: no such file; check the name"


def test_a_folder(refused, folder):
    (folder / "src").mkdir()
    assert refused("durations", "src", "--cpu", "6809") == "src: is a folder; name a source file"


def test_a_binary_file(refused, folder):
    (folder / "rom.bin").write_bytes(b"\x86\x01\x00\x00")
    assert refused("durations", "rom.bin", "--cpu", "6809") == (
        "rom.bin: has a NUL byte at offset 2; a binary file is no source file"
    )


def test_an_empty_file(refused, folder):
    (folder / "empty.asm").write_bytes(b"")
    assert refused("durations", "empty.asm", "--cpu", "6809") == (
        "empty.asm: has no statements; name a source file with code in it"
    )


def test_a_letter_of_which_nothing_is_understood(refused, folder):
    (folder / "letter.txt").write_text("Dear keeper of the tower\n the bells ring late\n")
    assert "letter.txt: has no instruction of the 6809 in " in refused(
        "durations", "letter.txt", "--cpu", "6809"
    )


def test_a_file_of_100_mb_is_refused_with_the_limit(refused, folder):
    with open(folder / "huge.asm", "wb") as file:
        file.truncate(100_000_000)
    message = "huge.asm: has 100000000 bytes, more than 16 MiB; this is no source file"
    path = folder / "huge.asm"
    try:
        assert refused("durations", "huge.asm", "--cpu", "6809") == message
    finally:
        path.unlink()


# -- text that never ends: said as a problem of the source, and the run goes on -----------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "        INCLUDE loop.asm\nRING    RTS\n",
        "AGAIN   MACRO\n        AGAIN\n        ENDM\n        AGAIN\nRING    RTS\n",
        "        REPT  300\n        REPT  300\n        NOP\n        ENDR\n        ENDR\nRING    RTS\n",
    ],
    ids=["include loop", "macro recursion", "endless expansion"],
)
def test_text_that_includes_or_expands_itself_ends(clockhop, folder, monkeypatch, text):
    # The limit itself is far above any program; reaching it only takes longer.
    monkeypatch.setattr("clockhop.assemble.expand.LONGEST", 1000)
    (folder / "loop.asm").write_text(text)
    result = clockhop("durations", "loop.asm", "--cpu", "6809")
    assert (result.status, result.err) == (0, "")
    assert result.out.splitlines()[0].endswith("; 1 problem, see clockhop check")

    result = clockhop("check", "loop.asm", "--cpu", "6809", "--clock", "1MHz", "--form", "lines")
    assert (result.status, result.err) == (1, "")
    assert len([line for line in result.out.splitlines() if ": warning: not-understood: " in line]) == 1


# -- options -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--clock", "2"), 'clock "2": no unit; write it like 1.8432MHz'),
        (("--clock", "2 mhz"), 'clock "2 mhz": unknown unit; write Hz, kHz or MHz'),
        (("--clock", "0MHz"), 'clock "0MHz": is zero; write a frequency above zero'),
        (("--written-for", "fast"), 'clock "fast": not a number and a unit; write it like 1.8432MHz'),
        (("--cpu", "6309-nativ"), '--cpu: unknown processor "6309-nativ"; nearest: 6309-native'),
        (("-D", "PAL=yes"), 'define PAL: "yes" is not a whole number; write decimal, $hex, 0xhex or %binary'),
        (
            ("--gaps-at", "LAMP"),
            '--gaps-at "LAMP": no address and no symbol of bell.asm with a value; write $8000',
        ),
    ],
)
def test_option_values_that_mean_nothing(refused, arguments, message):
    assert refused("durations", "bell.asm", "--cpu", "6809", *arguments).startswith(message)


def test_an_unknown_form_names_the_forms_there_are(refused):
    message = refused("durations", "bell.asm", "--cpu", "6809", "--form", "xml")
    assert "'xml' is not one of 'text', 'lines', 'json'; see clockhop durations --help" in message


def test_an_unknown_option_and_an_unknown_command_point_to_the_help(refused):
    assert "--clok" in refused("durations", "bell.asm", "--clok", "1MHz")
    assert refused("durration", "bell.asm").endswith("see clockhop --help")


def test_no_processor_and_no_project_file(refused):
    assert refused("durations", "bell.asm").startswith(
        "bell.asm: no processor is known: no clockhop.yaml here"
    )


@pytest.mark.parametrize("target", ["none/out.txt", "."])
def test_an_output_file_that_cannot_be_written(refused, target):
    message = refused("durations", "bell.asm", "--cpu", "6809", "-o", target)
    assert message.startswith(f"{target}: can't be written (")


# -- the project file ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("processor: 6809\nclock: 2\n", 'clockhop.yaml:2:8: clock "2": no unit; write it like 1.8432MHz'),
        ("processor: 6809\nclok: 2 MHz\n", 'clockhop.yaml:2:1: unknown key "clok"; nearest: clock'),
        ("processor: [\n", "clockhop.yaml:2:1: not YAML: "),
        ("clock: 1 MHz\n", 'clockhop.yaml:1:1: key "processor" is missing; add processor: ...'),
        (
            "processor: 6809\nparts:\n  panel: {family: 9918, at: $8000, clock: 10 MHz}\n"
            "  lamp: {family: output, at: VCTRL}\n",
            "clockhop.yaml:4:9: lamp (",
        ),
        (
            "processor: 6809\nparts:\n  panel: {family: 9919, at: $8000}\n",
            'clockhop.yaml:3:19: unknown family "9919"; nearest: ',
        ),
        (
            "processor: 6809\nparts:\n  lamp: {family: output, at: VCTL}\n",
            'clockhop.yaml:3:30: unknown symbol "VCTL"; nearest: VCTRL',
        ),
        ("processor: 6809\nfail_on: fault\n", 'clockhop.yaml:2:10: unknown value "fault"; accepted: '),
    ],
    ids=[
        "no unit",
        "unknown key",
        "not YAML",
        "no processor",
        "overlap",
        "unknown part",
        "unknown symbol",
        "level",
    ],
)
def test_a_project_file_that_is_wrong(refused, project, text, message):
    project(text)
    assert refused("durations", "panel.asm").startswith(message)


def test_a_project_file_that_is_not_text(refused, folder):
    (folder / "clockhop.yaml").write_bytes(b"processor: \xff\xfe\n")
    assert refused("durations", "panel.asm").startswith("clockhop.yaml: can't be read")


def test_a_project_file_that_is_not_there(refused):
    assert refused("durations", "panel.asm", "--project", "none.yaml").startswith("none.yaml: can't be read")


# -- our own faults ------------------------------------------------------------------------------------------


@pytest.fixture
def broken(monkeypatch):
    def fail(*_args, **_kwargs):
        raise RuntimeError("the bell is cracked")

    monkeypatch.setattr(entry.commands, "main", fail)


@pytest.mark.usefixtures("broken")
def test_a_bug_of_the_tool_is_one_line_that_says_how_to_get_the_trace(refused):
    assert refused("cpus") == (
        "this is a bug in clockhop (RuntimeError: the bell is cracked); "
        "set CLOCKHOP_TRACE=1, run again and report what it prints"
    )


@pytest.mark.usefixtures("broken")
def test_the_trace_is_printed_when_it_is_asked_for(clockhop, monkeypatch):
    monkeypatch.setenv(entry.TRACE, "1")
    result = clockhop("cpus")
    assert result.status == 2
    assert result.err.startswith("Traceback (most recent call last):")
    assert os.linesep.join(result.err.splitlines()[-1:]).startswith("clockhop: this is a bug in clockhop")
