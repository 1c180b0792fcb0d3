"""The border to the protocol's own types: nothing behind it knows them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from lsprotocol import types as lsp
from lsprotocol.converters import get_converter

from ..rules import Severity
from .diagnostic import Diagnostic, Location
from .document import Change, uri_of
from .position import Encoding, Position, Range
from .wire import Check, Message

SOURCE: Final = "clockhop"

_SEVERITIES: Final[Mapping[Severity, lsp.DiagnosticSeverity]] = {
    "error": lsp.DiagnosticSeverity.Error,
    "warning": lsp.DiagnosticSeverity.Warning,
    "note": lsp.DiagnosticSeverity.Information,
}
_ENCODINGS: Final[Mapping[str, Encoding]] = {"utf-8": "utf-8", "utf-16": "utf-16", "utf-32": "utf-32"}


def check() -> Check:
    """Tells whether a message has the shape that the protocol gives its method."""
    converter = get_converter()

    def fault(message: Message) -> str | None:
        shape = lsp.METHOD_TO_TYPES[str(message["method"])][0]
        try:
            converter.structure(message, shape)
        except Exception as wrong:  # whatever stands in a message: it is told to who sent it
            return f"parameters are not those of {message['method']}: {type(wrong).__name__}"
        return None

    return fault


def encoding(agreed: object) -> Encoding:
    """The encoding agreed on; what the protocol falls back to where none was."""
    return _ENCODINGS.get(str(getattr(agreed, "value", agreed)), "utf-16")


def changes(events: Iterable[object]) -> list[Change]:
    """The changes of a document in order."""
    return [Change(_range(event), str(getattr(event, "text", ""))) for event in events]


def _range(event: object) -> Range | None:
    found = getattr(event, "range", None)
    return None if found is None else Range(position(found.start), position(found.end))


def position(given: lsp.Position) -> Position:
    return Position(given.line, given.character)


def lsp_range(given: Range) -> lsp.Range:
    return lsp.Range(
        lsp.Position(given.start.line, given.start.character),
        lsp.Position(given.end.line, given.end.character),
    )


def lsp_location(given: Location, name: Callable[[str], str] = uri_of) -> lsp.Location:
    return lsp.Location(name(given.path), lsp_range(given.range))


def lsp_diagnostic(given: Diagnostic, related: bool, name: Callable[[str], str] = uri_of) -> lsp.Diagnostic:
    """`related` is whether the editor shows other places with a finding; where not, they stand in its text."""
    lines = [given.message, *given.notes]
    if not related:
        lines += [f"line {place.range.start.line + 1}: {text}" for place, text in given.related]
    others = [lsp.DiagnosticRelatedInformation(lsp_location(p, name), text) for p, text in given.related]
    return lsp.Diagnostic(
        range=lsp_range(given.range),
        message="\n".join(lines),
        severity=_SEVERITIES[given.severity],
        code=given.name,
        source=SOURCE,
        related_information=others if related and others else None,
    )
