"""Where what stands under the pointer is defined: a label, a constant, a macro, or the file an include names."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator

from ..assemble import Origin, Program
from ..errors import Place
from ..source import Source, Span, Statement

_WORD = re.compile(r"[A-Za-z0-9_.@?$\\:!~]+")
_TRIMMED = ":"


def definition(program: Program, path: str, source: Source, offset: int) -> Place | None:
    """The place of the definition of the name at a byte of a source; None where there is none or no name."""
    line = source.place(offset).line
    for inclusion in program.inclusions:
        if inclusion.place.line == line and os.path.realpath(inclusion.place.path) == path:
            return Place(inclusion.path, 1, 1)
    statement = source.statements[line - 1]
    if statement.comment is not None and offset >= statement.comment.start:
        return None
    names = tuple(_names(source, statement, offset))
    for name in names:
        found = _defined(program, name)
        if found is not None:
            return _label(found.source, found.line)
    return next((place for name in names if (place := _local(source, line, name))), None)


def _names(source: Source, statement: Statement, offset: int) -> Iterator[str]:
    """The word at an offset, and what of it may be the name: without marks around it, without a suffix."""
    whole = statement.whole
    for found in _WORD.finditer(source.text, whole.start, whole.end):
        if found.start() <= offset <= found.end():
            word = source.of(Span(found.start(), found.end())).strip(_TRIMMED)
            yield from dict.fromkeys((word, word.strip("$!~:"), word.partition(".")[0]))


def _defined(program: Program, name: str) -> Origin | None:
    macro = program.macros.get(name.upper())
    if macro is not None:
        return macro
    symbol = program.label(name) if name else None
    return symbol.origin if symbol else None


def _local(source: Source, line: int, name: str) -> Place | None:
    """The nearest label of that spelling, upward first: one that stands several times is no symbol of the program."""
    labels = [
        (each.line, each.label)
        for each in source.statements
        if each.label is not None and source.of(each.label).strip(_TRIMMED) == name and name
    ]
    above = [label for label in labels if label[0] <= line]
    for number, _ in (*above[::-1][:1], *labels[:1]):
        return _label(source, number)
    return None


def _label(source: Source, line: int) -> Place:
    """Where the label of a line stands, else what stands first in it."""
    statement = source.statements[line - 1]
    first = statement.label or statement.operation or statement.whole
    return Place(source.name, line, first.start - statement.whole.start + 1)
