"""Paints lines for a terminal so that only our own paint is obeyed by it."""

import re

from ..visible import visible
from .table import Paint, Style

_OPEN, _CLOSE = "\ufdd0", "\ufdd1"
_MARK = re.compile(f"{_OPEN}([0-9]{{1,9}}){_CLOSE}")


class Painter:
    """Paints what is visible and lets a mark stand for it, until the rest of the line was made visible, too."""

    def __init__(self, paint: Paint) -> None:
        self._paint = paint
        self._painted: dict[int, str] = {}
        self._count = 0

    def paint(self, text: str, style: Style) -> str:
        """A mark that stands for the painted text until the line is finished; paint is not put on paint."""
        self._count += 1
        self._painted[self._count] = self._paint(visible(text), style)
        return f"{_OPEN}{self._count}{_CLOSE}"

    def finish(self, line: str) -> str:
        """The line as it is printed. A mark counts once: one that somebody's text holds multiplies nothing."""
        painted = _MARK.sub(self._of, visible(line, passed=_OPEN + _CLOSE))
        return painted.replace(_OPEN, "").replace(_CLOSE, "")

    def _of(self, found: re.Match[str]) -> str:
        return self._painted.pop(int(found[1]), "")
