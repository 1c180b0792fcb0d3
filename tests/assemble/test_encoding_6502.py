"""Every way to write every 6502 and 65C02 instruction, as two independent assemblers of Debian encode it."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from clockhop.assemble import Program
from clockhop.cpu import load

ORIGIN = "$0400"
VALUES = {"n8": "$A5", "d8": "$12", "a16": "$1234"}
needs_ca65 = pytest.mark.skipif(shutil.which("ca65") is None, reason="Debian's cc65 is not installed")
needs_xa = pytest.mark.skipif(shutil.which("xa") is None, reason="Debian's xa65 is not installed")


def lines(name: str, undocumented: bool = False) -> list[str]:
    """An instruction for each row and variant, in the maker's spelling; a branch goes to itself."""
    found: list[str] = []
    processor = load(name)
    # Of opcodes that do the same, the first is what the mnemonic stands for.
    rows = [row for row in processor.rows if (row.mark == "undocumented" if undocumented else not row.mark)]
    for row in {(row.mnemonics, row.form.name): row for row in reversed(rows)}.values():
        for variant in row.form.variants:
            label = f"here{len(found)}"
            operand = variant.pattern.replace("rel8", label)
            for hole, text in VALUES.items():
                operand = operand.replace(hole, text)
            found.append(f"{label}: {row.mnemonics[0]} {operand}".rstrip())
    return found


def ours(assembled: Callable[..., Program], name: str, text: list[str]) -> str:
    program = assembled("\n".join([f" .org {ORIGIN}", *text, ""]), name)
    assert program.opaque == ()
    assert program.problems == ()
    return "".join(instruction.action.code.hex() for instruction in program.instructions)


def ca65(folder: Path, cpu: str, text: list[str]) -> str:
    (folder / "tower.s").write_text("\n".join([f'.setcpu "{cpu}"', f" .org {ORIGIN}", *text, ""]))
    subprocess.run(["ca65", "tower.s", "-o", "tower.o"], cwd=folder, check=True)
    subprocess.run(["ld65", "-t", "none", "-o", "tower.bin", "tower.o"], cwd=folder, check=True)
    return (folder / "tower.bin").read_bytes().hex()


@needs_ca65
@pytest.mark.parametrize(("name", "cpu", "count"), [("6502", "6502", 155), ("w65c02s", "65C02", 218)])
def test_every_form_is_encoded_as_by_ca65(
    assembled: Callable[..., Program], name: str, cpu: str, count: int, tmp_path: Path
) -> None:
    text = lines(name)
    assert len(text) == count
    assert ours(assembled, name, text) == ca65(tmp_path, cpu, text)


@needs_ca65
def test_undocumented_forms_are_encoded_as_by_ca65(assembled: Callable[..., Program], tmp_path: Path) -> None:
    unknown = ("NOP", "SBC", "LXA", "JAM", "SHA", "SHX", "SHY", "TAS", "LAS", "ANE")
    text = [each for each in lines("6502", True) if each.split()[1] not in unknown]
    assert len(text) == 56
    assert ours(assembled, "6502", text) == ca65(tmp_path, "6502X", text)


@needs_xa
@pytest.mark.parametrize(("name", "options", "count"), [("6502", ["-C"], 151), ("65c02", [], 178)])
def test_every_form_is_encoded_as_by_xa(
    assembled: Callable[..., Program], name: str, options: list[str], count: int, tmp_path: Path
) -> None:
    text = [each for each in lines(name) if not each.endswith(" A")]  # it takes ASL alone
    assert len(text) == count
    (tmp_path / "tower.a").write_text("\n".join([f"* = {ORIGIN}", *text, ""]))
    subprocess.run(["xa", *options, "-o", "tower.bin", "tower.a"], cwd=tmp_path, check=True)
    assert ours(assembled, name, text) == (tmp_path / "tower.bin").read_bytes().hex()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (" LDA a:$12", "ad1200"),
        (" LDA z:$12,X", "b512"),
        (" LDA #<$1234", "a934"),
        (" LDA #>$1234", "a912"),
        (" LDA ($10+2),Y", "b112"),
        (" LDA (1+2)*2", "a506"),
        (" JMP ($1234)", "6c3412"),
        (" LDA ($12)", "a512"),
        (" ASL", "0a"),
        (" ASL A", "0a"),
        (" BNE *+2", "d000"),
        ("POINT = $10\n STA (POINT,X)", "8110"),
        (" JMP LATER\nLATER NOP", "4c0300 ea"),
        (" LDA LATER\nLATER = $10", "ad1000"),
        ("BUF *= *+4\n STA BUF", "8500"),
        (" * = $0400\nHERE JMP HERE", "4c0004"),
        (" .proc CHIME\n JMP CHIME\n .endproc", "4c0000"),
    ],
)
def test_an_operand_of_a_6502_makes_the_maker_s_bytes(
    code: Callable[..., str], text: str, expected: str
) -> None:
    assert code(f"{text}\n", "6502") == expected


@pytest.mark.parametrize("cpu", ["6502", "65c02"])
def test_brackets_around_all_of_an_address_before_an_index_are_no_expression(assembled, cpu):
    text = " LDA (TAB),X\n LDA (TAB,X)\n LDA (TAB),Y\n STX (TAB),Y\n LDA (TAB+1)*2,X\n LDX 2*(TAB),Y\n JMP (TAB)\n"
    text += "TAB = $30\n"
    program = assembled(text, cpu)
    assert [(each.origin.line, each.cause) for each in program.opaque] == [
        (1, 'LDA has no operand "(TAB),X"'),
        (4, 'STX has no operand "(TAB),Y"'),
    ]
    assert [each.action.code.hex() for each in program.instructions] == [
        "a130",
        "b130",
        "bd6200",
        "be6000",
        "6c3000",
    ]
