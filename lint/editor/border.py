"""The border to the protocol's own types: nothing behind it knows them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from lsprotocol import types as lsp
from lsprotocol.converters import get_converter

from ..rules import Severity
from ..visible import visible
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
        method = str(message["method"])
        shape = lsp.METHOD_TO_TYPES[method][0]
        if hasattr(shape, "id") != ("id" in message):
            return f"{method} is {'no' if 'id' in message else 'a'} request"
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


def lsp_position(given: Position) -> lsp.Position:
    return lsp.Position(given.line, given.character)


def lsp_range(given: Range) -> lsp.Range:
    return lsp.Range(lsp_position(given.start), lsp_position(given.end))


def lsp_location(given: Location, name: Callable[[str], str] = uri_of) -> lsp.Location:
    return lsp.Location(name(given.path), lsp_range(given.range))


def lsp_diagnostic(given: Diagnostic, related: bool, name: Callable[[str], str] = uri_of) -> lsp.Diagnostic:
    """`related` is whether the editor shows other places with a finding; where not, they stand in its text."""
    lines = [given.message, *given.notes]
    if not related:
        lines += [f"line {place.range.start.line + 1}: {text}" for place, text in given.related]
    others = [
        lsp.DiagnosticRelatedInformation(lsp_location(p, name), shown(text)) for p, text in given.related
    ]
    return lsp.Diagnostic(
        range=lsp_range(given.range),
        message=shown("\n".join(lines)),
        severity=_SEVERITIES[given.severity],
        code=given.name,
        source=SOURCE,
        related_information=others if related and others else None,
    )


def shown(text: str) -> str:
    """A text of one or more lines in which nothing is left that a terminal would obey."""
    return "\n".join(visible(line) for line in text.split("\n"))


def covers(wanted: object, kind: lsp.CodeActionKind) -> bool:
    """Whether a kind of action an editor asks for takes in another one."""
    name, own = str(getattr(wanted, "value", wanted)), str(kind.value)
    return name == "" or own == name or own.startswith(f"{name}.")


@dataclass(frozen=True, slots=True)
class Can:
    """What an editor can show, of what some can't.

    `related`: other places with a finding; `disabled`: an action that can't be taken; `versions`: edits for a version
    of a text; `annotations`: words beside an edit; `configuration`: it answers for its settings; `refresh`: it asks
    again for what stands beside the lines.
    """

    related: bool = False
    disabled: bool = False
    versions: bool = False
    annotations: bool = False
    configuration: bool = False
    refresh: bool = False


def can(given: lsp.ClientCapabilities) -> Can:
    """What the editor's capabilities say."""
    text, workspace = given.text_document, given.workspace
    diagnostics = text.publish_diagnostics if text else None
    actions = text.code_action if text else None
    edits = workspace.workspace_edit if workspace else None
    hints = workspace.inlay_hint if workspace else None
    return Can(
        related=bool(diagnostics and diagnostics.related_information),
        disabled=bool(actions and actions.disabled_support),
        versions=bool(edits and edits.document_changes),
        annotations=bool(edits and edits.document_changes and edits.change_annotation_support),
        configuration=bool(workspace and workspace.configuration),
        refresh=bool(hints and hints.refresh_support),
    )
