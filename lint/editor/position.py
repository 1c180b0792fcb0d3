"""Where something stands, in the units of an editor: lines from 0, columns in the encoding it asked for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from ..source import Source, Span

Encoding = Literal["utf-8", "utf-16", "utf-32"]

# As in `source`: a line ends at CR LF, LF or CR and at nothing else.
_LINE_END: Final = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """A place between two characters: `line` from 0, `character` in units of the encoding agreed on."""

    line: int
    character: int


@dataclass(frozen=True, slots=True)
class Range:
    """From `start` up to `end`, which is not in it."""

    start: Position
    end: Position


def units(text: str, encoding: Encoding) -> int:
    """How long a text is to the editor."""
    match encoding:
        case "utf-8":
            return len(text.encode("utf-8", "surrogatepass"))
        case "utf-16":
            return len(text) + sum(character > "\uffff" for character in text)
        case "utf-32":
            return len(text)


def position(source: Source, offset: int, encoding: Encoding) -> Position:
    """The position of a byte of a source; behind the last line where the offset is."""
    place = source.place(offset)
    if not source.lines:
        return Position(0, 0)
    line = source.lines[place.line - 1]
    before = source.data[line.start : min(offset, line.end)]
    if offset > line.start and before[-1:] in (b"\n", b"\r"):
        return Position(place.line, 0)
    return Position(place.line - 1, units(before.decode(source.encoding, "replace"), encoding))


def span_range(source: Source, span: Span, encoding: Encoding) -> Range:
    """The range of a span of a source."""
    return Range(position(source, span.start, encoding), position(source, span.end, encoding))


def offset(source: Source, at: Position, encoding: Encoding) -> int | None:
    """The byte at a position, the end of the line for one beyond it; None for a line that is not there."""
    if not 0 <= at.line < len(source.statements):
        return None
    whole = source.statements[at.line].whole
    text = source.data[whole.start : whole.end].decode(source.encoding, "replace")
    before = text[: index(text, at.character, encoding)]
    return whole.start + len(before.encode(source.encoding, "replace"))


def index(line: str, character: int, encoding: Encoding) -> int:
    """Which character of a line an editor's column is; its end for a column beyond it."""
    if encoding == "utf-32" or line.isascii():
        return min(max(character, 0), len(line))
    seen = 0
    for number, each in enumerate(line):
        if seen >= character:
            return number
        seen += units(each, encoding)
    return len(line)


def spliced(text: str, at: Range, new: str, encoding: Encoding) -> str:
    """The text with `new` in place of a range; a range beyond its end means the end."""
    start, end = _place(text, at.start, encoding), _place(text, at.end, encoding)
    return text[:start] + new + text[max(start, end) :]


def _place(text: str, at: Position, encoding: Encoding) -> int:
    begin = 0
    for _ in range(at.line):
        found = _LINE_END.search(text, begin)
        if found is None:
            return len(text)
        begin = found.end()
    found = _LINE_END.search(text, begin)
    line = text[begin : found.start() if found else len(text)]
    return begin + index(line, at.character, encoding)
