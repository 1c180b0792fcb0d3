"""Bytes to statements: files cut into spans, their timing notes, and edits that keep all other bytes."""

from .note import Accept, BadNote, Leave, Note, PlacedNote, Runs, Takes, With
from .statement import Source, Span, Statement

__all__ = [
    "Accept",
    "BadNote",
    "Leave",
    "Note",
    "PlacedNote",
    "Runs",
    "Source",
    "Span",
    "Statement",
    "Takes",
    "With",
]
