"""The conversation with an editor: what is open, what is known of it, and who is told."""

from __future__ import annotations

import logging
import os
import sys
import traceback
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO, Final, cast

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer

from .. import __version__
from ..visible import visible
from . import border
from .analysis import Analysis, Analyst, Stop
from .diagnostic import Diagnostic, diagnostics
from .document import Documents, uri_of
from .setting import SECTION, Settings, settings
from .wire import Wire
from .worker import Work, Worker

TRACE: Final = "CLOCKHOP_TRACE"

# How often threads take turns: an answer waits for the analysis once or twice on its way.
_TURN: Final = 0.001

# What each document was at, and what came of it.
Outcome = tuple[Mapping[str, int], tuple[Analysis, ...]]


def serve() -> int:
    """Talks to the editor at standard input and output until it says exit; returns the exit status, 0 or 1.

    1 where the editor did not shut the server down first, as the protocol has it.
    """
    output = sys.stdout.buffer
    sys.stdout = sys.stderr  # what is printed by mistake must not get between two messages
    logging.getLogger("pygls").setLevel(logging.DEBUG if os.environ.get(TRACE) else logging.CRITICAL + 1)
    sys.setswitchinterval(_TURN)

    def answer(data: bytes) -> None:
        output.write(data)
        output.flush()

    wire = Wire(sys.stdin.buffer, answer, border.check())
    session = _Session()
    session.server.start_io(cast(BinaryIO, wire), output)
    session.worker.close()
    return 0 if wire.clean else 1


class _Session:
    def __init__(self) -> None:
        self.server = LanguageServer("clockhop", __version__, lsp.TextDocumentSyncKind.Full)
        self.documents = Documents()
        self.settings = Settings()
        self.analyst = Analyst()
        self.analyses: dict[str, Analysis] = {}
        self.shown: dict[str, dict[str, tuple[Diagnostic, ...]]] = {}
        self.told: dict[str, object] = {}
        self.worker: Worker[Outcome] = Worker(self._prepare, self._done, self._failed)
        self.fresh = False
        self.related = False
        features: Mapping[str, Callable[[Any], object]] = {
            lsp.INITIALIZE: self._initialize,
            lsp.INITIALIZED: self._initialized,
            lsp.SHUTDOWN: lambda _: self.worker.close(),
            lsp.TEXT_DOCUMENT_DID_OPEN: self._opened,
            lsp.TEXT_DOCUMENT_DID_CHANGE: self._changed,
            lsp.TEXT_DOCUMENT_DID_SAVE: lambda _: self._again(),
            lsp.TEXT_DOCUMENT_DID_CLOSE: self._closed,
            lsp.WORKSPACE_DID_CHANGE_CONFIGURATION: self._configured,
            lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES: lambda _: self._again(),
        }
        for method, handler in features.items():
            self.server.feature(method)(self._guarded(handler))

    def _guarded(self, handler: Callable[[Any], object]) -> Callable[[Any], object]:
        """The handler, which says in one line that a fault is ours and never stops the conversation."""

        def guarded(params: Any) -> object:
            try:
                return handler(params)
            except Exception as fault:
                self._failed(fault)
                return None

        return guarded

    # -- what the editor says

    def _initialize(self, params: lsp.InitializeParams) -> None:
        self.documents.encoding = border.encoding(self.server.workspace.position_encoding)
        self.settings = settings(params.initialization_options)
        text = params.capabilities.text_document
        shows = text.publish_diagnostics if text else None
        self.related = bool(shows and shows.related_information)

    def _initialized(self, _params: object) -> None:
        self._complain()
        workspace = self.server.client_capabilities.workspace
        if workspace and workspace.configuration:
            wanted = lsp.ConfigurationParams([lsp.ConfigurationItem(section=SECTION)])
            self.server.workspace_configuration(
                wanted, lambda found: self._choose(found[0] if found else None)
            )

    def _configured(self, params: lsp.DidChangeConfigurationParams) -> None:
        self._choose(params.settings)

    def _choose(self, given: object) -> None:
        if given is not None:
            self.settings = settings(given)
            self._complain()
            self._again()

    def _complain(self) -> None:
        for fault in self.settings.faults:
            self.server.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Warning, visible(fault)))

    def _opened(self, params: lsp.DidOpenTextDocumentParams) -> None:
        given = params.text_document
        document = self.documents.open(given.uri, given.version, given.text)
        if document is not None:
            self.worker.ask(document.path, at_once=True)

    def _changed(self, params: lsp.DidChangeTextDocumentParams) -> None:
        given = params.text_document
        document = self.documents.change(given.uri, given.version, border.changes(params.content_changes))
        if document is not None:
            self.worker.ask(document.path)

    def _closed(self, params: lsp.DidCloseTextDocumentParams) -> None:
        document = self.documents.close(params.text_document.uri)
        if document is None:
            return
        self.told.pop(document.uri, None)
        for name, analysis in list(self.analyses.items()):
            if not any(self.documents.at(path) for path in analysis.sources):
                self._drop(name)
        self._again()

    def _again(self) -> None:
        """Everything anew: something changed that is not open here."""
        self.fresh = True
        for path in self.documents.texts:
            self.worker.ask(path, at_once=True)

    # -- what is found

    def _prepare(self, names: tuple[str, ...]) -> Work[Outcome]:
        texts, versions, asked = self.documents.texts, self.documents.versions, self.settings.asked
        fresh, self.fresh = self.fresh, False

        def work(stop: Stop) -> Outcome:
            if fresh:
                self.analyst.forget()
            still_open = [name for name in names if name in texts]
            return versions, self.analyst.analyse(still_open, asked, texts, stop)

        return work

    def _done(self, outcome: Outcome) -> None:
        versions, found = outcome
        for analysis in found:
            for name in analysis.sources:
                # What was taken for a program of its own belongs to another one.
                if name != analysis.name and name in self.analyses:
                    self._drop(name)
            self.analyses[analysis.name] = analysis
            before = self.shown.get(analysis.name, {})
            now = dict(diagnostics(analysis, self.documents.encoding))
            self.shown[analysis.name] = now
            for path in dict.fromkeys([*before, *now]):
                self._tell(path, versions.get(path))
                if path not in now and self.documents.at(path) is not None:
                    self.worker.ask(path)  # it has left this program, and may be one of its own

    def _drop(self, name: str) -> None:
        self.analyses.pop(name, None)
        for path in self.shown.pop(name, {}):
            self._tell(path, None)

    def _tell(self, path: str, version: int | None) -> None:
        """Shows what all programs that read the file say of it, unless that is shown already."""
        document = self.documents.at(path)
        if document is not None and version is not None and version != document.version:
            return
        uri = document.uri if document else uri_of(path)
        every = [each.get(path, ()) for each in self.shown.values()]
        rows = tuple(dict.fromkeys(row for rows in every for row in rows))
        if self.told.get(uri, ()) == rows and document is None:
            return
        self.told[uri] = rows
        if not rows:
            del self.told[uri]
        self.server.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(
                uri,
                [border.lsp_diagnostic(row, self.related, self._uri) for row in rows],
                document.version if document else None,
            )
        )

    def _uri(self, path: str) -> str:
        document = self.documents.at(path)
        return document.uri if document else uri_of(path)

    def _failed(self, fault: BaseException) -> None:
        if os.environ.get(TRACE):
            traceback.print_exception(fault)
        what = f"{type(fault).__name__}: {fault}".splitlines()[0]
        text = f"this is a bug in clockhop ({what}); set {TRACE}=1, run again and report what it prints"
        self.server.window_log_message(lsp.LogMessageParams(lsp.MessageType.Error, visible(text)))
