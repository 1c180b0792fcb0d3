"""Bytes to statements: files cut into spans, their timing notes, and edits that keep all other bytes."""

from .dialect import Dialects
from .edit import Edit, check_writable, edit, write_atomic
from .note import Accept, BadNote, GivesUp, Leave, Note, PlacedNote, Runs, Takes, With, WrittenFor
from .read import LARGEST, parse, read
from .split import operands, split
from .statement import Source, Span, Statement
from .vocabulary import Shape, Syntax, Vocabulary, load_syntax, vocabulary

__all__ = [
    "LARGEST",
    "Accept",
    "BadNote",
    "Dialects",
    "Edit",
    "GivesUp",
    "Leave",
    "Note",
    "PlacedNote",
    "Runs",
    "Shape",
    "Source",
    "Span",
    "Statement",
    "Syntax",
    "Takes",
    "Vocabulary",
    "With",
    "WrittenFor",
    "check_writable",
    "edit",
    "load_syntax",
    "operands",
    "parse",
    "read",
    "split",
    "vocabulary",
    "write_atomic",
]
