"""`clockhop check --depends`: what a check rests on, in rules that make itself reads."""

import io
import subprocess

import pytest

MAIN = """\
        ORG   $C000
        INCLUDE "bells.asm"
        INCLUDE "more.inc"
START   RTS
TABLE   INCLUDEBIN "chime.bin"
"""


@pytest.fixture
def tower(folder):
    (folder / "src").mkdir()
    (folder / "lib").mkdir()
    (folder / "src/main.asm").write_text(MAIN)
    (folder / "src/bells.asm").write_text("* bells\n")
    (folder / "lib/more.inc").write_text("* more\n")
    (folder / "src/chime.bin").write_bytes(bytes(40))
    (folder / "clockhop.yaml").write_text(
        "processor: 6809\nbuilds:\n"
        "  tower: {source: src/main.asm, include: [lib]}\n"
        "  wide: {source: src/main.asm, include: [lib], defines: {WIDE: 1}}\n"
    )
    return folder


FILES = "src/main.asm src/bells.asm lib/more.inc src/chime.bin clockhop.yaml"


@pytest.mark.usefixtures("tower")
def test_a_source_rests_on_itself_what_it_includes_and_the_project_file(clockhop):
    result = clockhop("check", "src/main.asm", "--depends")
    assert (result.status, result.err) == (0, "")
    rule, *empty = result.out.splitlines()
    assert rule == f"src/main.checked: {FILES}"
    assert empty == [f"{file}:" for file in FILES.split()]


@pytest.mark.usefixtures("tower")
def test_the_target_can_be_named_and_is_then_one_for_all_sources(clockhop):
    result = clockhop("check", "--depends", "--target", "out/all.stamp")
    assert result.out.splitlines()[0] == f"out/all.stamp: {FILES}"


def test_the_rules_go_to_a_file_but_never_over_a_source(clockhop, tower):
    assert clockhop("check", "--depends", "-o", "main.d").out == ""
    assert (tower / "main.d").read_text().startswith("src/main.checked: ")
    for file in FILES.split():
        before = (tower / file).read_bytes()
        result = clockhop("check", "--depends", "-o", file)
        assert (result.status, result.out, (tower / file).read_bytes()) == (2, "", before)


@pytest.mark.usefixtures("tower")
def test_the_text_typed_decides_what_is_included(clockhop, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"START RTS\n")))
    result = clockhop("check", "--depends", "--stdin", "--stdin-name", "src/main.asm")
    assert result.out.splitlines()[0] == "src/main.checked: src/main.asm clockhop.yaml"


@pytest.mark.parametrize("name", ["two words", "a#b", "a$b", "a%b", "a:b", "a*b", "a?b", "[ab]", "~ab", "%"])
def test_make_reads_a_name_of_any_letters(clockhop, folder, name):
    (folder / f"{name}.asm").write_text("START RTS\n")
    result = clockhop("check", f"./{name}.asm", "--cpu", "6809", "--depends", "-o", "rules.mk")
    assert (result.status, result.err) == (0, "")
    (folder / "Makefile").write_text("include rules.mk\n%.checked:\n\t@cat '$<' && touch '$@'\n")

    def make():
        command = ["make", "-rR", f"./{name}.checked"]
        return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)

    first = make()
    assert (first.returncode, first.stdout) == (0, "START RTS\n"), first.stderr
    assert "up to date" in make().stdout


@pytest.mark.parametrize("name", ["a\nb", "a\tb", "a\\b", "a\x1bb"])
def test_a_name_that_no_rule_can_hold_is_refused(clockhop, folder, name):
    (folder / f"{name}.asm").write_text("START RTS\n")
    result = clockhop("check", f"{name}.asm", "--cpu", "6809", "--depends")
    assert (result.status, result.out) == (2, "")
    assert result.err.endswith("no rule of make can name this file; rename it\n")
    assert result.err.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--target", "x"), "--target without --depends; add --depends or remove it"),
        (("--depends", "--known", "x"), "--depends checks nothing; remove --record and --known"),
        (("no.asm", "--cpu", "6809", "--depends"), "no.asm: no such file; check the name"),
    ],
)
def test_what_does_not_go_together_is_said(clockhop, arguments, message):
    result = clockhop("check", *arguments)
    assert result.status == 2
    assert result.err.startswith(f"clockhop: {message}")
