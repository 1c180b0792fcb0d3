"""The makefile of the examples: a stamp per program and clock, what it rests on, and several at once."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

DEMOS = Path(__file__).parents[1] / "examples_asm"
PROGRAMS = ("belltower/main", "chimebox/chimes", "diallamp/dial", "striker/striker", "tidebell/tide")


@pytest.fixture
def demos(tmp_path: Path) -> Path:
    """A copy of the examples in which nothing has been made."""
    ignored = shutil.ignore_patterns("*.checked*", "*.bin")
    return Path(shutil.copytree(DEMOS, tmp_path / "demos", ignore=ignored))


@pytest.fixture
def make(demos: Path) -> Callable[..., tuple[int, list[str]]]:
    """Runs make there, four jobs at a time: its status, and the checks it made."""

    def call(*arguments: str) -> tuple[int, list[str]]:
        path = os.pathsep.join((str(Path(sys.executable).parent), os.environ["PATH"]))
        environment = {name: text for name, text in os.environ.items() if not name.startswith("MAKE")}
        done = subprocess.run(
            ["make", "-j4", *arguments],
            cwd=demos,
            env={**environment, "PATH": path},
            capture_output=True,
            text=True,
            check=False,
        )
        ran = [line.split()[2] for line in done.stdout.splitlines() if line.startswith("clockhop check ")]
        return done.returncode, sorted(ran)

    return call


def stamps(demos: Path) -> list[str]:
    return sorted(path.relative_to(demos).as_posix() for path in demos.glob("*/*.checked"))


def test_all_are_checked_once_and_again_only_what_rests_on_what_has_changed(make, demos):
    assert make() == (0, [f"{program}.asm" for program in PROGRAMS])
    assert stamps(demos) == [f"{program}.own.checked" for program in PROGRAMS]
    assert make() == (0, [])

    os.utime(demos / "belltower/panel.asm")
    assert make() == (0, ["belltower/main.asm"])
    os.utime(demos / "striker/clockhop.yaml")
    assert make() == (0, ["striker/striker.asm"])
    (demos / "tidebell/tide.own.checked.d").unlink()
    assert make() == (0, ["tidebell/tide.asm"])
    assert make() == (0, [])


def test_an_included_file_that_is_gone_is_found_missing_by_the_check_and_not_by_make(make, demos):
    assert make("belltower/main.own.checked")[0] == 0
    (demos / "belltower/bells.asm").unlink()
    status, ran = make("belltower/main.own.checked")
    assert (status, ran) == (2, ["belltower/main.asm"])


def test_two_clocks_have_a_stamp_each_and_what_fails_has_none(make, demos):
    status, ran = make("-k", "CLOCKS=0.9216MHz 1.8432MHz")
    assert (status, len(ran)) == (2, 15)
    made = [stamp for stamp in stamps(demos) if stamp.startswith(("belltower", "tidebell"))]
    assert made == [
        *("belltower/main.0.9216MHz.checked", "belltower/main.own.checked"),
        *("tidebell/tide.0.9216MHz.checked", "tidebell/tide.own.checked"),
    ]


def test_the_assembler_runs_only_behind_a_check_that_passed(make, demos):
    arguments = ("-k", "ASSEMBLE=cp $$< $$@", "CLOCKS=1.8432MHz", "belltower/main.bin", "striker/striker.bin")
    assert make(*arguments)[0] == 2
    assert [path.name for path in demos.glob("*/*.bin")] == ["striker.bin"]
    assert make("clean") == (0, [])
    assert [*demos.glob("*/*.checked*"), *demos.glob("*/*.bin")] == []
