"""Answers to what an editor asks about an open text: hover, hints, definitions, mends.

Each waits until the newest text has been analysed; an editor that has lost interest meanwhile takes its question back.
"""

from __future__ import annotations

import os
from collections.abc import Sequence

from lsprotocol import types as lsp

from . import border
from .definition import definition
from .document import Document
from .figure import Figures
from .fix import mendable, offered_at
from .hint import hints
from .hover import hover
from .mending import Offer
from .position import Range, offset, position
from .session import Session


async def hovered(session: Session, params: lsp.HoverParams) -> lsp.Hover | None:
    """Cycles, times and limits of the line at a position."""
    document, found = await _known(session, params.text_document.uri)
    line = params.position.line
    if document is None or found is None:
        return None
    texts = hover(found, document.path, line + 1)
    content = lsp.MarkupContent(lsp.MarkupKind.PlainText, border.shown("\n".join(texts)))
    return lsp.Hover(content) if texts else None


async def hinted(session: Session, params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
    """How long loops, calls and routines in a range last."""
    document, found = await _known(session, params.text_document.uri)
    if document is None or found is None:
        return []
    source = found.files[document.path].source
    first, last = params.range.start.line, params.range.end.line
    return [
        lsp.InlayHint(
            border.lsp_position(
                position(source, source.statements[each.line - 1].whole.end, session.documents.encoding)
            ),
            border.shown(each.text),
            tooltip=border.shown(each.whole),
            padding_left=True,
        )
        for each in hints(found, document.path)
        if first <= each.line - 1 <= last
    ]


async def defined(session: Session, params: lsp.DefinitionParams) -> lsp.Location | None:
    """Where the name at a position is defined."""
    document, found = await _known(session, params.text_document.uri)
    if document is None or found is None:
        return None
    encoding = session.documents.encoding
    source = found.files[document.path].source
    at = offset(source, border.position(params.position), encoding)
    place = None if at is None else definition(found.chain.program, document.path, source, at)
    if place is None:
        return None
    path = os.path.realpath(place.path)
    target = found.files[path].source if path in found.files else None
    line, column = max(place.line - 1, 0), max(place.column - 1, 0)
    if target is None or line >= len(target.statements):
        return lsp.Location(session.uri(path), lsp.Range(lsp.Position(line, 0), lsp.Position(line, 0)))
    start = position(target, target.statements[line].whole.start + column, encoding)
    return lsp.Location(session.uri(path), border.lsp_range(Range(start, start)))


async def mended(session: Session, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    """The mends of what is found in a range: those that are proved as edits, others only to be read."""
    only = params.context.only
    if only is not None and not any(border.covers(kind, lsp.CodeActionKind.QuickFix) for kind in only):
        return []
    document, _ = await _known(session, params.text_document.uri)
    first, last = params.range.start.line, params.range.end.line
    if document is None or not mendable(session.rows(document.path), first, last):
        return []
    asked = session.asked_for(document)
    if asked is None:
        return []
    offers = await session.mends.offers(asked, session.documents.texts)
    if session.documents.get(document.uri) is not document:
        return []  # typed on meanwhile
    shown = [each for each in params.context.diagnostics if each.source == border.SOURCE]
    return [_action(session, offer, shown) for offer in offered_at(offers, document.path, first, last)]


async def _known(session: Session, uri: str) -> tuple[Document | None, Figures | None]:
    await session.worker.settled()
    document = session.documents.get(uri)
    return document, None if document is None else session.figures_of(document)


def _action(session: Session, offer: Offer, shown: Sequence[lsp.Diagnostic]) -> lsp.CodeAction:
    action = lsp.CodeAction(border.shown(offer.title), lsp.CodeActionKind.QuickFix, list(shown) or None)
    if not offer.refused:
        action.edit = _edit(session, offer)
        return action
    by_hand = " / ".join(line.strip() for edit in offer.edits for line in edit.text.splitlines())
    reason = border.shown(f"{offer.refused}; to be made by hand: {by_hand}")
    if session.can.disabled:
        action.disabled = lsp.CodeActionDisabled(reason)
    else:
        action.title = f"{action.title}: {reason}"
    return action


def _edit(session: Session, offer: Offer) -> lsp.WorkspaceEdit:
    """The offer as an edit of all its files, with its evidence where the editor can show that."""
    changes: dict[str, list[lsp.TextEdit]] = {}
    for each in offer.edits:
        where = lsp.Range(lsp.Position(each.start, 0), lsp.Position(each.end, 0))
        changes.setdefault(session.uri(os.path.realpath(each.path)), []).append(
            lsp.TextEdit(where, each.text)
        )
    if not session.can.versions:
        return lsp.WorkspaceEdit(changes)
    title, evidence = border.shown(offer.title), border.shown("\n".join(offer.evidence))
    notes = {border.SOURCE: lsp.ChangeAnnotation(title, description=evidence)}
    return lsp.WorkspaceEdit(
        document_changes=[_versioned(session, uri, edits) for uri, edits in changes.items()],
        change_annotations=notes if session.can.annotations else None,
    )


def _versioned(session: Session, uri: str, edits: Sequence[lsp.TextEdit]) -> lsp.TextDocumentEdit:
    document = lsp.OptionalVersionedTextDocumentIdentifier(uri, session.version(uri))
    if not session.can.annotations:
        return lsp.TextDocumentEdit(document, list(edits))
    noted = [lsp.AnnotatedTextEdit(border.SOURCE, each.range, each.new_text) for each in edits]
    return lsp.TextDocumentEdit(document, noted)
