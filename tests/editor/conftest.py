"""An editor of our own: starts the server and talks to it over its pipes."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

Json = dict[str, Any]
# Long enough for a machine that does other things; reached only where something hangs.
PATIENCE = 120
CLOCKHOP = (sys.executable, "-c", "from clockhop.cli import main; main()")


class Editor:
    """A client. `sent` messages go out at once; answers and notifications are read until the one that is wanted."""

    def __init__(self, folder: Path, *, patience: int = PATIENCE) -> None:
        command = [*CLOCKHOP, "editor"]
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=folder
        )
        self.patience = threading.Timer(patience, self.process.kill)
        self.patience.daemon = True
        self.patience.start()
        assert self.process.stdin
        assert self.process.stdout
        self.input, self.output = self.process.stdin, self.process.stdout
        self.number = 0
        self.versions: dict[str, int] = {}
        self.shown: dict[str, list[Json]] = {}
        self.heard: list[Json] = []
        self.capabilities: Json = {}

    # -- the pipe

    def raw(self, data: bytes) -> None:
        self.input.write(data)
        self.input.flush()

    def send(self, message: Json) -> None:
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        self.raw(b"Content-Length: %d\r\n\r\n%s" % (len(body), body))

    def read(self) -> Json:
        length = 0
        while line := self.output.readline().strip():
            name, _, value = line.partition(b":")
            if name.lower() == b"content-length":
                length = int(value)
        assert length, "the server has gone"
        message: Json = json.loads(self.output.read(length))
        if message.get("method") == "textDocument/publishDiagnostics":
            self.shown[message["params"]["uri"]] = message["params"]["diagnostics"]
        self.heard.append(message)
        return message

    def until(self, wanted: Callable[[Json], bool]) -> Json:
        while True:
            message = self.read()
            if wanted(message):
                return message

    # -- the protocol

    def ask(self, method: str, params: Json | None = None) -> int:
        self.number += 1
        self.send({"id": self.number, "method": method, "params": params})
        return self.number

    def answer(self, number: int) -> Json:
        return self.until(lambda message: message.get("id") == number and "method" not in message)

    def request(self, method: str, params: Json | None = None) -> Any:
        message = self.answer(self.ask(method, params))
        assert "error" not in message, message
        return message["result"]

    def tell(self, method: str, params: Json) -> None:
        self.send({"method": method, "params": params})

    def begin(self, *, encodings: Sequence[str] = (), settings: Any = None, **capabilities: Any) -> None:
        given: Json = {"textDocument": {"publishDiagnostics": {"relatedInformation": True}}, **capabilities}
        if encodings:
            given["general"] = {"positionEncodings": list(encodings)}
        params = {
            "processId": None,
            "rootUri": None,
            "capabilities": given,
            "initializationOptions": settings,
        }
        self.capabilities = self.request("initialize", params)["capabilities"]
        self.tell("initialized", {})

    def open(self, path: Path, text: str | None = None) -> str:
        uri = path.resolve().as_uri()
        self.versions[uri] = 1
        text = path.read_bytes().decode() if text is None else text
        document = {"uri": uri, "languageId": "asm", "version": 1, "text": text}
        self.tell("textDocument/didOpen", {"textDocument": document})
        return uri

    def change(self, uri: str, text: str) -> None:
        self.versions[uri] += 1
        document = {"uri": uri, "version": self.versions[uri]}
        self.tell("textDocument/didChange", {"textDocument": document, "contentChanges": [{"text": text}]})

    def diagnostics(self, uri: str) -> list[Json]:
        """What is shown for the newest version of an open document."""

        def of_now(message: Json) -> bool:
            params = message.get("params", {})
            newest = params.get("uri") == uri and params.get("version") == self.versions[uri]
            return message.get("method") == "textDocument/publishDiagnostics" and newest

        shown: list[Json] = self.until(of_now)["params"]["diagnostics"]
        return shown

    def end(self) -> int:
        self.request("shutdown")
        self.tell("exit", {})
        return self.process.wait(PATIENCE)

    def kill(self) -> None:
        self.patience.cancel()
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE)
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            with contextlib.suppress(BrokenPipeError):
                pipe.close()


@pytest.fixture(scope="module")
def long_running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Editor]:
    """One server for all tests of a module, in an empty folder, past its greeting."""
    client = Editor(tmp_path_factory.mktemp("long_running"))
    client.begin()
    yield client
    client.kill()


@pytest.fixture
def editor(tmp_path: Path) -> Iterator[Editor]:
    """A server that has just been started, in an empty folder."""
    client = Editor(tmp_path)
    yield client
    client.kill()


BOARD = """\
processor: 6809
processor_grade: 68B09
clock: 2 MHz
entries: [START]
parts:
  dial: {family: 44780, grade: 5 V, mode: 8-bit, at: DIAL}
builds:
  tower: {source: main.asm}
"""
MAIN = """\
DIAL    EQU     $8000           ; the dial's display
        ORG     $E000
START   JSR     SHOW
DONE    BRA     DONE
        INCLUDE "dial.asm"
"""
SHOW = """\
* Two commands for the dial.
SHOW    STA     DIAL
        LDB     #11
WAIT    DECB
        BNE     WAIT
        STA     DIAL
        RTS
"""


@pytest.fixture
def tower(tmp_path: Path) -> Path:
    """A program of two files: what is sent to the dial follows 62 cycles after what was sent before."""
    for name, text in (("clockhop.yaml", BOARD), ("main.asm", MAIN), ("dial.asm", SHOW)):
        (tmp_path / name).write_text(text)
    return tmp_path
