"""`clockhop explain`, `cpus`, and the help of every command."""

import subprocess
import sys

import pytest
from clockhop.cli.explain import page
from clockhop.report.remark import REMARKS
from clockhop.rules import RULES


def test_a_page_has_the_name_and_the_five_parts_wrapped(clockhop):
    out = clockhop("explain", "access-too-soon").out
    assert out.startswith("access-too-soon: A part is accessed again before it is ready\n\nWhat it finds: ")
    for part in ("Why it matters: ", "Example: ", "Mend: ", "When to leave it: "):
        assert f"\n\n{part}" in out


@pytest.mark.parametrize("rule", [*RULES, *REMARKS], ids=lambda rule: rule.name)
def test_every_page_keeps_to_its_width_and_loses_no_word(rule):
    lines = list(page(rule, 60))
    assert max(map(len, lines)) <= 60 or len(lines[0]) > 60
    assert " ".join(" ".join(lines[1:]).split()) == " ".join(rule.explanation.split())


def test_without_a_name_every_finding_is_listed_with_its_line(clockhop):
    lines = clockhop("explain").out.splitlines()
    assert [line.split()[0] for line in lines] == [
        *(rule.name for rule in RULES),
        *("too-little-understood", "known-gone", "other-bytes", "not-run"),
    ]
    assert clockhop("explain", "known-gone").out.startswith(
        "known-gone: A recorded finding is not there any more\n"
    )


def test_an_unknown_name_offers_the_nearest(clockhop):
    result = clockhop("explain", "cout-from-memory")
    assert (result.status, result.out) == (2, "")
    assert result.err == 'clockhop: unknown finding "cout-from-memory"; nearest: count-from-memory\n'


def test_the_processors_are_listed_by_the_names_that_options_take(clockhop):
    names = [line.split()[0] for line in clockhop("cpus").out.splitlines()]
    assert " ".join(names) == (
        "6301 6303 6309 6309-native 6502 65c02 6800 6801 6802 6803 6808 6809 68hc11 "
        "8080 8085 r65c02 w65c02s z180 z180-nowait z80 z80-m1wait"
    )


def test_each_processor_says_what_its_cycles_are(clockhop):
    lines = [line.split("  ") for line in clockhop("cpus").out.splitlines()]
    counts = {fields[0]: fields[-1].strip() for fields in lines}
    assert counts["6800"] == "cycles of the two-phase clock, which the MC6800 is given"
    assert counts["6303"] == "cycles of E, which the processor makes from its crystal divided by 4"


@pytest.mark.parametrize("command", ["draft", "check", "durations", "mend", "explain", "cpus"])
def test_every_command_has_help_with_an_example(clockhop, command):
    result = clockhop(command, "--help")
    assert (result.status, result.err) == (0, "")
    assert f"Example: clockhop {command}" in result.out
    assert f"  {command} " in clockhop("--help").out


def test_the_help_imports_nothing_heavy():
    code = (
        "import sys; from clockhop.cli.entry import run; status = run(['--help']); "
        "print(status, sorted({'lark', 'yaml', 'clockhop.cpu', 'clockhop.timing'} & sys.modules.keys()))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "0 []"


def test_a_reader_that_goes_away_is_no_error(folder):
    (folder / "bell.asm").write_text("".join(f"RING{n} NOP\n        RTS\n" for n in range(2000)))
    command = (
        f"{sys.executable} -c 'from clockhop.cli import main; main()' durations bell.asm --cpu 6809 | head -1"
    )
    done = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("bell.asm, 6809: all 4000 statements understood\n", "")
