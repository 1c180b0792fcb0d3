"""Command lines run in a folder of their own."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from clockhop.cli.entry import run


@dataclass(frozen=True)
class Result:
    status: int
    out: str
    err: str


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder command lines are run in, empty at first."""
    return tmp_path


@pytest.fixture
def clockhop(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Result]:
    """Runs a command line in `folder`: its status and what it printed."""
    monkeypatch.chdir(folder)

    def call(*arguments: str) -> Result:
        status = run(arguments)
        captured = capsys.readouterr()
        return Result(status, captured.out, captured.err)

    return call
