"""The colours of the page, by day and by night; every text colour stands out from every ground by 4.5 to 1 or more."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

# What words are written in, and what they are written on.
INKS: Final = ("ink", "dim", "link", "good", "error", "warning", "note")
GROUNDS: Final = ("page", "card", "code")

DAY: Final[Mapping[str, str]] = {
    "page": "#faf8f3",
    "card": "#ffffff",
    "code": "#f3f0e8",
    "line": "#cfc9bb",
    "ink": "#1c211f",
    "dim": "#565d58",
    "link": "#0f5673",
    "good": "#1a6744",
    "error": "#a3201a",
    "warning": "#7d5200",
    "note": "#3b5488",
    "fill": "#5f8f79",
    "wave": "#2b4a5e",
}
NIGHT: Final[Mapping[str, str]] = {
    "page": "#121617",
    "card": "#1a2022",
    "code": "#161b1d",
    "line": "#3c4649",
    "ink": "#e8e6df",
    "dim": "#a3aca8",
    "link": "#86c7e3",
    "good": "#7fd1a5",
    "error": "#ff9388",
    "warning": "#e6b450",
    "note": "#a3b8ee",
    "fill": "#528069",
    "wave": "#9fc3d8",
}


def variables(colours: Mapping[str, str]) -> str:
    """The colours as custom properties of a style sheet."""
    return "".join(f"--{name}:{value};" for name, value in colours.items())
