"""Macros: bodies are text; parameters are put in before a line is cut into fields."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..source import Span, operands, split
from .line import Row

# \1 \(10) \name \{name} \@ (number of the use) \# (how many arguments) \* (all) &1 &name {1} {name} name
_PARAMETER = re.compile(
    r"\\(?P<digit>[0-9])|\\\((?P<number>[0-9]+)\)|\\\{?(?P<name>[A-Za-z_]\w*)\}?|\\(?P<special>[@#*])"
    r"|(?<![\w)])&(?P<and_digit>[0-9])|&(?P<and_name>[A-Za-z_]\w*)|\{(?P<braced>\w+)\}"
    r"|(?P<bare>\b[A-Za-z_]\w*)"
)


@dataclass(frozen=True, slots=True, eq=False)
class Macro:
    """A macro as defined: named parameters (may be none) and the lines up to its end."""

    name: str
    parameters: tuple[str, ...]
    body: tuple[Row, ...]
    first: int  # the number of the first argument: 0 where the body asks for \0, else 1


@dataclass(frozen=True, slots=True)
class Call:
    """One use: what follows the macro's name after a dot, the arguments, and a number no other use has."""

    extension: str
    arguments: tuple[str, ...]
    number: int


def arguments(text: str) -> tuple[str, ...]:
    """The arguments of a macro call, blanks around them left out; no text is no argument."""
    if not text.strip():
        return ()
    return tuple(text[part.start : part.end] for part in operands(text, "values"))


def parameters(text: str) -> tuple[str, ...]:
    """The names of a macro's parameters, without marks and default values."""
    names = (part.strip().lstrip("\\&").partition("=")[0].strip() for part in text.split(","))
    return tuple(name for name in names if name)


def define(name: str, rest: str, body: tuple[Row, ...]) -> Macro:
    """The macro of that name, with its parameter list as written."""
    counts_from_zero = any("\\0" in row.of(row.statement.whole) for row in body)
    return Macro(name.upper(), parameters(rest), body, 0 if counts_from_zero else 1)


def expand(macro: Macro, call: Call, names: frozenset[str]) -> Iterator[Row]:
    """The lines of one use, parameters put in."""
    for row in macro.body:
        yield _substituted(row, macro, call, names)


def _substituted(row: Row, macro: Macro, call: Call, names: frozenset[str]) -> Row:
    whole = row.statement.whole
    out: list[str] = []
    pieces: list[tuple[int, int, int]] = []
    length = 0
    position = whole.start

    def keep(end: int) -> None:
        nonlocal length
        if end > position:
            out.append(row.text[position:end])
            pieces.append((length, length + end - position, position))
            length += end - position

    for found in _PARAMETER.finditer(row.text, whole.start, whole.end):
        value = _value(found, macro, call)
        if value is None:
            continue
        keep(found.start())
        out.append(value)
        length += len(value)
        position = found.end()
    if not out:
        return row
    keep(whole.end)
    text = "".join(out)
    literal = _in_source(row, pieces)
    statement = split(text, row.statement.line, Span(0, len(text)), row.source.vocabulary, names)
    return Row(text, statement, row.source, row.written, literal)


def _in_source(row: Row, pieces: Sequence[tuple[int, int, int]]) -> tuple[tuple[int, int, int], ...]:
    """Pieces that point into the source, for a body that was itself made by a macro too."""
    found = []
    for start, end, place in pieces:
        span = row.in_source(Span(place, place + end - start))
        if span:
            found.append((start, end, span.start))
    return tuple(found)


def _value(found: re.Match[str], macro: Macro, call: Call) -> str | None:
    """What stands for a parameter; None when the text is no parameter of this macro."""
    for group in ("digit", "number", "and_digit"):
        if found[group] is not None:
            return _argument(macro, call, int(found[group]))
    match found["special"]:
        case "@":
            return f"_{call.number}"
        case "#":
            return str(len(call.arguments))
        case "*":
            return ",".join(call.arguments)
    if found["braced"] is not None and found["braced"].isdigit():
        return _argument(macro, call, int(found["braced"]))
    name = found["name"] or found["and_name"] or found["braced"] or found["bare"]
    if name in macro.parameters:
        return _argument(macro, call, macro.parameters.index(name) + macro.first)
    return None


def _argument(macro: Macro, call: Call, number: int) -> str:
    """An argument by its number; where arguments count from 1 and the call has a suffix (MOVE.B), \0 is that."""
    if number == 0 and call.extension:
        return call.extension
    index = number - macro.first
    return call.arguments[index] if 0 <= index < len(call.arguments) else ""
