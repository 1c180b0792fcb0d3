"""The language server: which method of the protocol is answered by what."""

from __future__ import annotations

import gc
import logging
import os
import sys
from collections.abc import Awaitable, Callable, Mapping
from typing import Any, BinaryIO, Final, cast

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer

from .. import __version__
from . import answer, border
from .session import TRACE, Session
from .wire import Wire

# How often threads take turns: an answer waits for the analysis once or twice on its way.
_TURN: Final = 0.001
# An analysis makes millions of small values and hardly a ring of them: looking for rings that often costs a tenth.
_GARBAGE: Final = (50_000, 5, 5)

_ANSWERS: Final[Mapping[str, Callable[[Session, Any], Awaitable[object]]]] = {
    lsp.TEXT_DOCUMENT_HOVER: answer.hovered,
    lsp.TEXT_DOCUMENT_INLAY_HINT: answer.hinted,
    lsp.TEXT_DOCUMENT_DEFINITION: answer.defined,
    lsp.TEXT_DOCUMENT_CODE_ACTION: answer.mended,
}


def serve() -> int:
    """Talks to the editor at standard input and output until it says exit; returns the exit status, 0 or 1.

    1 where the editor did not shut the server down first, as the protocol has it.
    """
    output = sys.stdout.buffer
    sys.stdout = sys.stderr  # what is printed by mistake must not get between two messages
    logging.getLogger("pygls").setLevel(logging.DEBUG if os.environ.get(TRACE) else logging.CRITICAL + 1)
    sys.setswitchinterval(_TURN)
    gc.set_threshold(*_GARBAGE)

    def refuse(data: bytes) -> None:
        output.write(data)
        output.flush()

    server = LanguageServer("clockhop", __version__, lsp.TextDocumentSyncKind.Full)
    session = Session(server)
    _register(server, session)
    wire = Wire(sys.stdin.buffer, refuse, border.check())
    server.start_io(cast(BinaryIO, wire), output)
    session.close()
    return 0 if wire.clean else 1


def _register(server: LanguageServer, session: Session) -> None:
    told: Mapping[str, Callable[[Any], None]] = {
        lsp.INITIALIZE: session.initialize,
        lsp.INITIALIZED: session.initialized,
        lsp.SHUTDOWN: session.close,
        lsp.TEXT_DOCUMENT_DID_OPEN: session.opened,
        lsp.TEXT_DOCUMENT_DID_CHANGE: session.changed,
        lsp.TEXT_DOCUMENT_DID_SAVE: session.again,
        lsp.TEXT_DOCUMENT_DID_CLOSE: session.closed,
        lsp.WORKSPACE_DID_CHANGE_CONFIGURATION: session.configured,
        lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES: session.again,
    }
    for method, handler in told.items():
        server.feature(method)(_told(session, handler))
    for method, answering in _ANSWERS.items():
        server.feature(method)(_answered(session, answering))


def _told(session: Session, handler: Callable[[Any], None]) -> Callable[[Any], None]:
    def guarded(params: Any) -> None:
        try:
            handler(params)
        except Exception as fault:
            session.failed(fault)

    return guarded


def _answered(
    session: Session, answering: Callable[[Session, Any], Awaitable[object]]
) -> Callable[[Any], Awaitable[object]]:
    async def guarded(params: Any) -> object:
        try:
            return await answering(session, params)
        except Exception as fault:
            session.failed(fault)
            return None

    return guarded
