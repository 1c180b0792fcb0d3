"""Bytes to Source: reading a file, its limits, its encoding, its lines."""

import re
from pathlib import Path

from .. import looked
from ..errors import Place, SourceError
from .block import Block
from .dialect import Dialects
from .note import BadNote, PlacedNote
from .note_parser import notes_in
from .split import split
from .statement import Source, Span, Statement
from .vocabulary import Vocabulary

LARGEST = 16 * 1024 * 1024

# Not str.splitlines(): a byte $85 read as latin-1 is NEL to it and would cut the line in two.
_LINE = re.compile(r"([^\r\n]*)(\r\n|\r|\n)?")
_FIRST_WORD = re.compile(r"(?:^|[\r\n])([A-Za-z_.@?][A-Za-z0-9_.@?$]*)")


def read(path: str | Path, vocabulary: Vocabulary | Dialects) -> Source:
    """The file at `path` as a Source named as `path` was given; of dialects, it is read in that of its text.

    Raises SourceError for what can't be a source: missing, a folder, unreadable, above 16 MiB, binary.
    """
    name = str(path)
    try:
        size = looked.size(path)
        if not looked.is_file(path) and Path(path).is_dir():
            raise SourceError("is a folder; name a source file", Place(name))
        if size > LARGEST:
            raise SourceError(f"has {size} bytes, more than 16 MiB; this is no source file", Place(name))
        data = looked.read(path)
    except FileNotFoundError:
        raise SourceError("no such file; check the name", Place(name)) from None
    except OSError as fault:
        reason = (fault.strerror or "unreadable").lower()
        raise SourceError(f"can't be read ({reason}); check its permissions", Place(name)) from None
    return parse(data, name, vocabulary)


def parse(data: bytes, name: str, vocabulary: Vocabulary | Dialects) -> Source:
    """`data` as a Source; an empty file is fine.

    Text ends at a Ctrl-Z with NUL bytes behind it, as CP/M fills its last sector. Raises SourceError for other NUL
    bytes and above 16 MiB.
    """
    if len(data) > LARGEST:
        raise SourceError("has more than 16 MiB; this is no source file", Place(name))
    last = _end_of_text(data, name)
    text = data.decode("latin-1")
    words = vocabulary.of(text) if isinstance(vocabulary, Dialects) else vocabulary
    names = frozenset(_FIRST_WORD.findall(text))
    lines: list[Span] = []
    statements: list[Statement] = []
    notes: list[PlacedNote] = []
    bad: list[BadNote] = []
    encoding = _encoding(data)
    block = Block(words.syntax)
    for found in _LINE.finditer(text):
        if found.start() == found.end():
            continue
        number = len(lines) + 1
        lines.append(Span(found.start(), found.end()))
        line = Span(found.start(), max(found.start(), min(found.end(1), last)))
        statement = block.comment(text, number, line) or split(text, number, line, words, names)
        block.enter(text, statement)
        statements.append(statement)
        if statement.comment:
            comment = statement.comment
            place = Place(name, number, comment.start - found.start() + 1)
            raw = data[comment.start : comment.end]
            good, wrong = notes_in(raw, encoding, place, comment.start)
            notes += good
            bad += wrong
    return Source(
        name, data, text, encoding, tuple(lines), tuple(statements), words, tuple(notes), tuple(bad)
    )


def _end_of_text(data: bytes, name: str) -> int:
    nul = data.find(0)
    if nul < 0:
        return len(data)
    end = data.rfind(b"\x1a", 0, nul)
    if end < 0:
        raise SourceError(f"has a NUL byte at offset {nul}; a binary file is no source file", Place(name))
    return end


def _encoding(data: bytes) -> str:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"
