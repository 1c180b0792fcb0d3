"""The wheel carries all that the tool needs: built, installed alone in a fresh environment, run from another folder."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BELL = "RING    LDX   #25000\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n"


def called(*command, folder):
    # Neither the checkout nor this environment may lend it anything.
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(command, cwd=folder, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel, built from a copy so that no build folder is left in the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    for name in ("lint", "grammar", "shared"):
        for path in (ROOT / name).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                target = folder / "source" / path.relative_to(ROOT)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(path.read_bytes())
    for path in (ROOT / "pyproject.toml", *ROOT.glob("README.md"), *ROOT.glob("LICENSE*")):
        (folder / "source" / path.name).write_bytes(path.read_bytes())
    called(sys.executable, "-m", "pip", "wheel", "--no-deps", "-w", folder, "./source", folder=folder)
    (found,) = folder.glob("clockhop-*.whl")
    return found


def test_the_wheel_has_every_package_table_and_grammar_of_the_checkout(wheel):
    packed = set(zipfile.ZipFile(wheel).namelist())
    for folder, name in (
        ("lint", "clockhop"),
        ("grammar", "clockhop/grammar"),
        ("shared", "clockhop/shared"),
    ):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in (".py", ".lark", ".yaml", ".json", ".typed"):
                assert f"{name}/{path.relative_to(ROOT / folder).as_posix()}" in packed


def test_installed_alone_it_counts_the_200008_cycles_of_a_wait_in_another_folder(wheel, tmp_path):
    called(sys.executable, "-m", "venv", "fresh", folder=tmp_path)
    scripts = tmp_path / "fresh" / ("Scripts" if os.name == "nt" else "bin")
    called(scripts / "python", "-m", "pip", "install", "--quiet", wheel, folder=tmp_path)

    work = tmp_path / "tower"
    work.mkdir()
    (work / "bell.asm").write_text(BELL)
    out = called(
        scripts / "clockhop", "durations", "bell.asm", "--cpu", "6809", "--clock", "2MHz", folder=work
    )
    assert "RING         bell.asm:1  200008         100.004 ms" in out
    assert called(scripts / "clockhop", "--version", folder=work).startswith("clockhop, version ")
