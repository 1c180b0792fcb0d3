"""Every demo passes at its own clock and not at the new one, and the makefile knows it."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from clockhop.cli.entry import run

DEMOS = Path(__file__).parents[1] / "examples_asm"
# folder, source, the clock it is changed to, what is still found once its mends are written
CASES = [
    ("belltower", "main.asm", "1.8432 MHz", 1),
    ("tidebell", "tide.asm", "1.8432 MHz", 0),
    ("diallamp", "dial.asm", "2 MHz", 0),
    ("striker", "striker.asm", "4 MHz", 0),
    ("chimebox", "chimes.asm", "3 MHz", 0),
]


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Goes to a copy of a demo's folder."""

    def enter(folder: str) -> None:
        shutil.copytree(DEMOS / folder, tmp_path / folder, ignore=shutil.ignore_patterns("*.checked*"))
        monkeypatch.chdir(tmp_path / folder)

    return enter


@pytest.mark.parametrize(("folder", "source", "clock", "mended"), CASES, ids=[case[0] for case in CASES])
def test_a_demo_is_clean_at_its_own_clock_and_not_at_the_new_one(
    demo: Callable[[str], None], folder: str, source: str, clock: str, mended: int
) -> None:
    demo(folder)
    assert run(("check", source)) == 0
    assert run(("check", source, "--clock", clock)) == 1
    assert run(("mend", source, "--clock", clock, "--write")) in (0, 1)
    assert run(("check", source, "--clock", clock)) == mended


def test_every_folder_is_a_case_and_is_made() -> None:
    folders = {path.parent.name for path in DEMOS.glob("*/clockhop.yaml")}
    assert folders == {case[0] for case in CASES}
    makefile = (DEMOS / "Makefile").read_text(encoding="utf-8")
    assert all(f"{folder}/{source}" in makefile for folder, source, *_ in CASES)
