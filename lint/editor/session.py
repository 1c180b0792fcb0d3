"""One conversation with an editor: what is open, what is known of it, and what the editor has been told."""

from __future__ import annotations

import os
import traceback
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer

from ..chain import Asked
from ..visible import visible
from . import border
from .analysis import Analysis, Analyst, Stop
from .diagnostic import Diagnostic, diagnostics
from .document import Document, Documents, uri_of
from .figure import Figures
from .fix import Mends
from .setting import SECTION, Settings, settings
from .worker import Work, Worker

TRACE: Final = "CLOCKHOP_TRACE"

# The version each document was at, what came of it, and later its figures, too.
Outcome = tuple[Mapping[str, int], Analysis, tuple[Figures, ...] | None]


@dataclass(slots=True)
class _Known:
    """What the editor was shown of one program, by file, and what it may ask for more."""

    asked: Asked
    rows: Mapping[str, tuple[Diagnostic, ...]]
    figures: tuple[Figures, ...]


class Session:
    """Every method runs in the thread of the loop; only the analyses run beside it."""

    def __init__(self, server: LanguageServer) -> None:
        self.server = server
        self.documents = Documents()
        self.can = border.Can()
        self.mends = Mends()
        self.worker: Worker[Outcome] = Worker(self._prepare, self._done, self.failed)
        self._settings = Settings()
        self._analyst = Analyst()
        self._known: dict[str, _Known] = {}
        self._told: dict[str, tuple[Diagnostic, ...]] = {}
        self._fresh = False

    # -- what the editor says

    def initialize(self, params: lsp.InitializeParams) -> None:
        """Agrees on what both can."""
        self.documents.encoding = border.encoding(self.server.workspace.position_encoding)
        self.can = border.can(params.capabilities)
        self._settings = settings(params.initialization_options)

    def initialized(self, _params: object) -> None:
        """Asks for the settings, where the editor answers for them."""
        self._complain()
        if self.can.configuration:
            wanted = lsp.ConfigurationParams([lsp.ConfigurationItem(section=SECTION)])
            self.server.workspace_configuration(
                wanted, lambda found: self._choose(found[0] if found else None)
            )

    def configured(self, params: lsp.DidChangeConfigurationParams) -> None:
        """Takes new settings; an editor that sends none wants to be asked."""
        if params.settings is None:
            self.initialized(None)
        else:
            self._choose(params.settings)

    def opened(self, params: lsp.DidOpenTextDocumentParams) -> None:
        given = params.text_document
        document = self.documents.open(given.uri, given.version, given.text)
        if document is not None:
            self._changed(document, at_once=True)

    def changed(self, params: lsp.DidChangeTextDocumentParams) -> None:
        given = params.text_document
        document = self.documents.change(given.uri, given.version, border.changes(params.content_changes))
        if document is not None:
            self._changed(document, at_once=False)

    def closed(self, params: lsp.DidCloseTextDocumentParams) -> None:
        """From now on the file counts; a program of which nothing is open any more is forgotten."""
        document = self.documents.close(params.text_document.uri)
        if document is None:
            return
        for name, known in list(self._known.items()):
            if not any(self.documents.at(path) for path in known.rows):
                self._drop(name)
        self.again()

    def again(self, _params: object = None) -> None:
        """Everything anew: something changed that is not open here."""
        self._fresh = True
        self.mends.forget()
        for path in self.documents.texts:
            self.worker.ask(path, at_once=True)

    def close(self, _params: object = None) -> None:
        """Nothing more is worked out."""
        self.worker.close()
        self.mends.forget()

    def _changed(self, document: Document, at_once: bool) -> None:
        self.mends.forget()
        self.worker.ask(document.path, at_once)

    def _choose(self, given: object) -> None:
        if given is not None:
            self._settings = settings(given)
            self._complain()
            self.again()

    def _complain(self) -> None:
        for fault in self._settings.faults:
            self.server.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Warning, visible(fault)))

    # -- what is known

    def rows(self, path: str) -> tuple[Diagnostic, ...]:
        """All that is shown in a file, whichever program says it."""
        every = (row for known in self._known.values() for row in known.rows.get(path, ()))
        return tuple(dict.fromkeys(every))

    def figures_of(self, document: Document) -> Figures | None:
        """The figures of the first build that reads the document as it stands; None where none does."""
        return next((found for _, found in self._reading(document)), None)

    def asked_for(self, document: Document) -> Asked | None:
        """What brings the builds that read the document as it stands; None where none does."""
        return next((known.asked for known, _ in self._reading(document)), None)

    def _reading(self, document: Document) -> Iterator[tuple[_Known, Figures]]:
        for known in self._known.values():
            for found in known.figures:
                file = found.files.get(document.path)
                if file is not None and file.source.data == document.data:
                    yield known, found

    def uri(self, path: str) -> str:
        """The address of a file as the editor calls it."""
        document = self.documents.at(path)
        return document.uri if document else uri_of(path)

    def version(self, uri: str) -> int | None:
        document = self.documents.get(uri)
        return document.version if document else None

    # -- what is found

    def _prepare(self, names: tuple[str, ...]) -> Work[Outcome]:
        texts, versions, asked = self.documents.texts, self.documents.versions, self._settings.asked
        fresh, self._fresh = self._fresh, False

        def work(stop: Stop) -> Iterator[Outcome]:
            if fresh:
                self._analyst.forget()
            found = self._analyst.analyse([name for name in names if name in texts], asked, texts, stop)
            yield from ((versions, analysis, None) for analysis in found)
            for analysis in found:
                yield versions, analysis, self._analyst.figures(analysis, stop)

        return work

    def _done(self, outcome: Outcome) -> None:
        versions, analysis, figures = outcome
        if figures is not None:
            self._known[analysis.name].figures = figures
            if self.can.refresh:
                # What stands beside the lines of one file can change with another file.
                self.server.workspace_inlay_hint_refresh(None)
            return
        for name in analysis.sources:
            # What was taken for a program of its own belongs to another one.
            if name != analysis.name and name in self._known:
                self._drop(name)
        before = self._known.get(analysis.name)
        now = diagnostics(analysis, self.documents.encoding)
        self._known[analysis.name] = _Known(analysis.asked, now, before.figures if before else ())
        for path in dict.fromkeys([*(before.rows if before else ()), *now]):
            self._tell(path, versions.get(path))
            if path not in now and self.documents.at(path) is not None:
                self.worker.ask(path)  # it has left this program, and may be one of its own

    def _drop(self, name: str) -> None:
        for path in self._known.pop(name).rows:
            self._tell(path, None)

    def _tell(self, path: str, version: int | None) -> None:
        """Shows what is said of a file; of one that is not open only where that has changed."""
        document = self.documents.at(path)
        if document is not None and version is not None and version != document.version:
            return
        uri, rows = self.uri(path), self.rows(path)
        if document is None and self._told.get(uri, ()) == rows:
            return
        self._told[uri] = rows
        if not rows:
            del self._told[uri]
        shown = [border.lsp_diagnostic(row, self.can.related, self.uri) for row in rows]
        self.server.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(uri, shown, document.version if document else None)
        )

    def failed(self, fault: BaseException) -> None:
        """Says in one line that a fault is ours; the conversation goes on."""
        if os.environ.get(TRACE):
            traceback.print_exception(fault)
        what = f"{type(fault).__name__}: {fault}".splitlines()[0]
        text = f"this is a bug in clockhop ({what}); set {TRACE}=1, run again and report what it prints"
        self.server.window_log_message(lsp.LogMessageParams(lsp.MessageType.Error, visible(text)))
