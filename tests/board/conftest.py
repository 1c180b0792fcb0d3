"""Boards of the bell tower's clock controller, written as project files."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from clockhop.board import Board, read


@pytest.fixture
def board() -> Callable[..., Board]:
    """The board of a project file given as text; `symbols` are those of its program."""

    def make(text: str, symbols: Mapping[str, int] | None = None) -> Board:
        return read(text, Path("clockhop.yaml")).resolve(symbols or {})

    return make
