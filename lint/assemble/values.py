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


@dataclass(frozen=True, slots=True)
class Repeated:
    """10 DUP (1,2): values that stand several times."""

    times: Expression
    parts: "tuple[Part, ...]"


Part = Text | Expression | Repeated | None

_REPEATED = re.compile(r"(?P<times>[^'\"]+?)\s*\bDUP\b\s*(?P<parts>.+)", re.IGNORECASE)
_ESCAPED = re.compile(r"'\\[A-Za-z0'\"\\]'")


@lru_cache(maxsize=65536)
def values(grammar: str, text: str, shape: Shape) -> tuple[Part, ...]:
    """The parts of a list; None for a part that is neither string nor expression."""
    parts = (text[part.start : part.end] for part in operands(text, shape))
    return tuple(_value(grammar, part, shape) for part in parts)


def _value(grammar: str, part: str, shape: Shape) -> Part:
    mark = part[:1]
    is_closed = len(part) > 1 and part[-1] == mark
    if shape == "text" and is_closed and not mark.isalnum():
        return _text(part)
    if mark in ("'", '"') and is_closed and len(part) != 3 and not _ESCAPED.fullmatch(part):
        return _text(part)
    expression = parse_expression(grammar, part)
    found = _REPEATED.fullmatch(part) if expression is None else None
    times = parse_expression(grammar, found["times"]) if found else None
    if found is None or times is None:
        return expression
    inside = found["parts"]
    return Repeated(times, values(grammar, inside[1:-1] if inside[0] == "(" else inside, shape))


def _text(part: str) -> Text:
    mark, inside = part[0], part[1:-1]
    if mark in "'\"":
        inside = inside.replace(mark * 2, mark)
    return Text(inside.encode("latin-1"))
