"""What comes down the pipe: frames cut out of it, and only well-formed messages passed on; others are answered here."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import BinaryIO, Final, Literal

LARGEST: Final = 64 * 1024 * 1024
DEEPEST: Final = 100

PARSE_ERROR: Final = -32700
INVALID_REQUEST: Final = -32600
METHOD_NOT_FOUND: Final = -32601
INVALID_PARAMS: Final = -32602
NOT_INITIALIZED: Final = -32002

_LENGTH = re.compile(rb"content-length:\s*([0-9]{1,18})\s*", re.IGNORECASE)
_LONGEST_LINE: Final = 8192
_CHUNK: Final = 1 << 20
_STRING = re.compile(rb'"(?:[^"\\]|\\.)*"?', re.DOTALL)
_BRACKET = re.compile(rb"[\[\]{}]")

Message = Mapping[str, object]
# What a message of a method has to look like: None where it does, else what is wrong; KeyError for no such method.
Check = Callable[[Message], str | None]
Phase = Literal["new", "running", "shut down", "ended"]


class Wire:
    """The messages of an editor, as a file of frames in which nothing is malformed.

    A request that can't be passed on gets an error as its answer, a notification is dropped: neither stops the
    server. `phase` is how far the conversation has come; `clean` says that the editor shut the server down before
    it told it to exit.
    """

    def __init__(self, raw: BinaryIO, answer: Callable[[bytes], None], check: Check) -> None:
        self.raw = raw
        self.answer = answer
        self.check = check
        self.phase: Phase = "new"
        self.clean = False
        self._ready: list[bytes] = []

    def readline(self) -> bytes:
        """The next line of a frame's head; empty at the end of the pipe."""
        if not self._ready:
            body = self._next()
            if body is None:
                return b""
            self._ready = [b"Content-Length: %d\r\n" % len(body), b"\r\n", body]
        return self._ready.pop(0)

    def read(self, _size: int) -> bytes:
        """The body of the frame whose head has been read."""
        return self._ready.pop(0) if self._ready else b""

    def _next(self) -> bytes | None:
        """The next message to pass on; None at the end of the pipe, and behind the one that ends it all."""
        while self.phase != "ended":
            body = self._frame()
            if body is None:
                return None
            message = self._message(body)
            if message is not None and self._passes(message):
                return body
        return None

    # -- frames

    def _frame(self) -> bytes | None:
        length: int | None = None
        while line := self.raw.readline(_LONGEST_LINE):
            found = _LENGTH.fullmatch(line)
            if found:
                length = int(found[1])
            elif not line.strip() and length is not None:
                if length <= LARGEST:
                    body = self.raw.read(length)
                    return body if len(body) == length else None
                self._refuse(None, INVALID_REQUEST, f"message has {length} bytes, more than {LARGEST}")
                self._skip(length)
                length = None
        return None

    def _skip(self, length: int) -> None:
        while length > 0 and (skipped := len(self.raw.read(min(length, _CHUNK)))):
            length -= skipped

    # -- messages

    def _message(self, body: bytes) -> Message | None:
        if too_deep(body):
            self._refuse(None, INVALID_REQUEST, f"message is nested more than {DEEPEST} deep")
            return None
        try:
            message = json.loads(body)
        except (ValueError, RecursionError) as fault:
            self._refuse(None, PARSE_ERROR, f"message is no JSON: {str(fault)[:200]}")
            return None
        if not isinstance(message, dict) or message.get("jsonrpc") != "2.0":
            self._refuse(None, INVALID_REQUEST, 'message is no object with "jsonrpc": "2.0"')
            return None
        if "id" in message and not _is_id(message["id"]):
            self._refuse(None, INVALID_REQUEST, "id is neither a number nor a text")
            return None
        if _nested(message):
            # The layer behind takes every object with this key for a message.
            self._refuse(message.get("id"), INVALID_PARAMS, '"jsonrpc" stands inside the parameters')
            return None
        return message

    def _passes(self, message: Message) -> bool:
        if "method" not in message:
            return "id" in message and ("result" in message or isinstance(message.get("error"), dict))
        method, number = message["method"], message.get("id")
        if not isinstance(method, str):
            self._refuse(number, INVALID_REQUEST, "method is no text")
            return False
        fault = self._out_of_turn(method, "id" in message) or self._wrong(message)
        if fault:
            code, text = fault
            if "id" in message:
                self._refuse(number, code, text)
            return False
        self._advance(method)
        return True

    def _out_of_turn(self, method: str, request: bool) -> tuple[int, str] | None:
        if method == "exit":
            return None
        if self.phase == "shut down":
            return INVALID_REQUEST, "the server has been shut down"
        if self.phase == "new" and method != "initialize":
            return NOT_INITIALIZED, "the first request has to be initialize"
        if self.phase == "running" and method == "initialize":
            return INVALID_REQUEST, "initialize comes only once"
        if method in ("initialize", "shutdown") and not request:
            return INVALID_REQUEST, f"{method} is a request and has an id"
        return None

    def _wrong(self, message: Message) -> tuple[int, str] | None:
        try:
            fault = self.check(message)
        except KeyError:
            return METHOD_NOT_FOUND, f"{message['method']} is not known here"
        return (INVALID_PARAMS, fault) if fault else None

    def _advance(self, method: str) -> None:
        if method == "initialize":
            self.phase = "running"
        elif method == "shutdown":
            self.phase = "shut down"
        elif method == "exit":
            self.clean = self.phase == "shut down"
            self.phase = "ended"

    def _refuse(self, number: object, code: int, text: str) -> None:
        error = {"code": code, "message": text}
        body = json.dumps({"jsonrpc": "2.0", "id": number, "error": error}).encode()
        self.answer(b"Content-Length: %d\r\n\r\n%s" % (len(body), body))


def too_deep(body: bytes) -> bool:
    """Whether brackets outside of texts are nested deeper than any message of an editor is."""
    if body.count(b"[") + body.count(b"{") <= DEEPEST:
        return False
    depth = 0
    for found in _BRACKET.finditer(_STRING.sub(b"", body)):
        depth += 1 if found[0] in b"[{" else -1
        if depth > DEEPEST:
            return True
    return False


def _is_id(value: object) -> bool:
    # A truth value is an int to Python.
    return isinstance(value, str | int) and not isinstance(value, bool)


def _nested(message: Message) -> bool:
    work: list[object] = [value for key, value in message.items() if key != "jsonrpc"]
    while work:
        match work.pop():
            case dict() as inner:
                if "jsonrpc" in inner:
                    return True
                work += inner.values()
            case list() as items:
                work += items
    return False
