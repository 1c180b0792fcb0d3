"""Lists of values and strings behind a data directive."""

import re
from dataclasses import dataclass
from functools import lru_cache

from ..source import Shape, operands
from .expression import Expression
from .operand import parse_expression


@dataclass(frozen=True, slots=True)
class Text:
    """Characters of a string, one byte each."""

    characters: bytes


@dataclass(frozen=True, slots=True)
class Repeated:
    """10 DUP (1,2): values that stand several times."""

    times: Expression
    parts: "tuple[Part, ...]"


Part = Text | Expression | Repeated | None

_ESCAPE = re.compile(r"\\(x[0-9A-Fa-f]{1,2}|[0-7]{1,3}|.)")
_CONTROLS = {"n": "\n", "r": "\r", "t": "\t", "a": "\a", "b": "\b", "e": "\x1b", "f": "\f", "v": "\v"}
_REPEATED = re.compile(r"(?P<times>[^'\"]+?)\s*\bDUP\b\s*(?P<parts>.+)", re.IGNORECASE)
_ESCAPED = re.compile(r"'\\[A-Za-z0'\"\\]'")


@lru_cache(maxsize=65536)
def values(grammar: str, text: str, shape: Shape, escapes: bool = False) -> tuple[Part, ...]:
    """The parts of a list; None for a part that is neither string nor expression.

    With `escapes`, a backslash in a string and what follows it are one character.
    """
    parts = [text[part.start : part.end] for part in operands(text, shape)]
    # 1,2, as whoever wrote the list left it.
    listed = parts if parts[-1] or len(parts) == 1 else parts[:-1]
    return tuple(_value(grammar, part, shape, escapes) for part in listed)


def _value(grammar: str, part: str, shape: Shape, escapes: bool) -> Part:
    mark = part[:1]
    is_closed = len(part) > 1 and part[-1] == mark
    if shape == "text" and is_closed and not mark.isalnum():
        return _text(part, escapes)
    if mark in ("'", '"') and is_closed and len(part) != 3 and not _ESCAPED.fullmatch(part):
        return _text(part, escapes)
    # FDB #RING: the mark of an immediate says nothing here.
    expression = parse_expression(grammar, part) or (
        parse_expression(grammar, part[1:]) if mark == "#" else None
    )
    found = _REPEATED.fullmatch(part) if expression is None else None
    times = parse_expression(grammar, found["times"]) if found else None
    if found is None or times is None:
        return expression
    inside = found["parts"]
    return Repeated(times, values(grammar, inside[1:-1] if inside[0] == "(" else inside, shape, escapes))


def _text(part: str, escapes: bool) -> Text:
    mark, inside = part[0], part[1:-1]
    if mark in "'\"":
        inside = inside.replace(mark * 2, mark)
    if escapes:
        inside = _ESCAPE.sub(lambda found: _CONTROLS.get(found[1]) or _character(found[1]), inside)
    return Text(inside.encode("latin-1"))


def _character(code: str) -> str:
    """What \\x1B, \\033 or any other character behind a backslash stands for."""
    if code[0] == "x" and len(code) > 1:
        return chr(int(code[1:], 16))
    return chr(int(code, 8) & 0xFF) if code[0] in "01234567" else code
