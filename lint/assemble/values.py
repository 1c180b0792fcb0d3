"""Lists of values and strings behind a data directive."""

import re
from dataclasses import dataclass
from functools import lru_cache

from ..source import Shape, operands
from .expression import Expression
from .operand import parse_expression


@dataclass(frozen=True, slots=True)
class Text:
    """Characters of a string, one byte each, as they stand in the file (escapes are not turned)."""

    characters: bytes


_ESCAPED = re.compile(r"'\\[A-Za-z0'\"\\]'")


@lru_cache(maxsize=65536)
def values(grammar: str, text: str, shape: Shape) -> tuple[Text | Expression | None, ...]:
    """The parts of a list; None for a part that is neither string nor expression."""
    parts = (text[part.start : part.end] for part in operands(text, shape))
    return tuple(_value(grammar, part, shape) for part in parts)


def _value(grammar: str, part: str, shape: Shape) -> Text | Expression | None:
    mark = part[:1]
    is_closed = len(part) > 1 and part[-1] == mark
    if shape == "text" and is_closed and not mark.isalnum():
        return _text(part)
    if mark in ("'", '"') and is_closed and len(part) != 3 and not _ESCAPED.fullmatch(part):
        return _text(part)
    return parse_expression(grammar, part)


def _text(part: str) -> Text:
    mark, inside = part[0], part[1:-1]
    if mark in "'\"":
        inside = inside.replace(mark * 2, mark)
    return Text(inside.encode("latin-1"))
