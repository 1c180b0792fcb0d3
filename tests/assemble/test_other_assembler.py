"""Every form of a processor, as an independent assembler encodes it.

The programs are packages of Debian; where one is missing its tests are skipped and say so.
"""

import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from clockhop import cpu
from clockhop.cpu import Row, Variant

ORIGIN = 0x1000
VALUES = {"n8": 18, "n16": 4660, "d8": 52, "a16": 22136, "b8": 64}


@dataclass(frozen=True)
class Other:
    """An assembler: its package and program, a text around the statements, and how to run it and read its bytes.

    `operand` puts an operand into its spelling, given the pattern; `unknown` are mnemonics it does not have.
    """

    cpu: str
    package: str
    program: str
    head: str
    run: Callable[[Path], bytes]
    operand: Callable[[str, str], str] = lambda _, text: text
    unknown: frozenset[str] = frozenset()
    colon: str = ""


def from_records(text: str) -> bytes:
    """The bytes of S1 records, in the order of their addresses."""
    found = {}
    for record in re.findall(r"^S1[0-9A-F]+", text, re.MULTILINE):
        data = bytes.fromhex(record[2:])
        found[int.from_bytes(data[1:3], "big")] = data[3:-1]
    return b"".join(found[address] for address in sorted(found))


def with_crasm(source: Path) -> bytes:
    target = source.with_suffix(".s19")
    done = subprocess.run(["crasm", "-o", target, source], capture_output=True, text=True, check=False)
    assert done.returncode == 0, "\n".join(
        line for line in done.stdout.splitlines() if ">>>" in line or "rror" in line
    )
    return from_records(target.read_text())


def with_dasm(source: Path) -> bytes:
    target = source.with_suffix(".bin")
    subprocess.run(["dasm", source, "-f3", f"-o{target}"], capture_output=True, text=True, check=True)
    return target.read_bytes()


def with_gnu(source: Path) -> bytes:
    linked = source.with_suffix(".o")
    subprocess.run(
        ["m68hc11-as", "-m68hc11", "-o", linked, source], capture_output=True, text=True, check=True
    )
    target = source.with_suffix(".bin")
    subprocess.run(["m68hc11-objcopy", "-O", "binary", "-j", ".text", linked, target], check=True)
    return target.read_bytes()


def marked(pattern: str, text: str) -> str:
    """Direct addresses with a star, masks with their mark and blanks between the parts."""
    if "b8" in pattern:
        *address, mask = text.removesuffix(",HERE").split(",")
        text = f"{','.join(address)} #{mask}" + (" HERE" if text.endswith("HERE") else "")
    return f"*{text}" if pattern.startswith("d8") else text


# The later names of shifts and branches.
LATER = frozenset({"LSL", "LSLA", "LSLB", "LSLD", "BHS", "BLO"})
# It makes two bytes of these three; the data sheet's order of bytes is tested by hand.
MASKS = frozenset({"AIM", "OIM", "EIM", "TIM"})
OTHERS = (
    Other("6800", "crasm", "crasm", " cpu 6800\n code\n* = $1000\n", with_crasm),
    Other("6801", "crasm", "crasm", " cpu 6803\n code\n* = $1000\n", with_crasm, unknown=LATER),
    Other("6303", "dasm", "dasm", " processor hd6303\n org $1000\n", with_dasm, unknown=MASKS),
    Other("68hc11", "binutils-m68hc1x", "m68hc11-as", "", with_gnu, marked, colon=":"),
)


def forms(other: Other) -> Iterator[tuple[Row, Variant, str]]:
    for row in cpu.load(other.cpu).rows:
        for variant in row.form.variants:
            for mnemonic in row.mnemonics:
                if mnemonic not in other.unknown:
                    yield row, variant, mnemonic


def filled(pattern: str) -> str:
    """The operand with numbers in its holes; a branch goes to its own line."""
    text = re.sub(r"rel\d+", "HERE", pattern)
    for hole, value in VALUES.items():
        text = text.replace(hole, str(value))
    return text


@pytest.mark.parametrize("other", OTHERS, ids=lambda other: f"{other.cpu}-{other.program}")
def test_every_form_has_the_bytes_another_assembler_makes(
    other: Other, code: Callable[..., str], tmp_path: Path
) -> None:
    if shutil.which(other.program) is None:
        pytest.skip(f"{other.program} is not installed (Debian package {other.package})")
    ours, theirs = [" ORG $1000\n"], [other.head]
    for place, (_, variant, mnemonic) in enumerate(forms(other)):
        label, operand = f"L{place}", filled(variant.pattern)
        ours.append(f"{label} {mnemonic} {operand}".replace("HERE", label) + "\n")
        spelled = other.operand(variant.pattern, operand)
        theirs.append(f"{label}{other.colon} {mnemonic.lower()} {spelled}".replace("HERE", label) + "\n")
    source = tmp_path / "forms.asm"
    source.write_text("".join(theirs))
    expected = other.run(source)
    assert bytes.fromhex(code("".join(ours), other.cpu).replace(" ", "")) == expected
