"""Whatever comes down the pipe, the server answers what can be answered, and goes on."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest
from clockhop.editor.wire import DEEPEST, Wire, too_deep
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

HOVER = {"textDocument": {"uri": "file:///nowhere/bell.asm"}, "position": {"line": 0, "character": 0}}


def framed(body: bytes) -> bytes:
    return b"Content-Length: %d\r\n\r\n%s" % (len(body), body)


def message(**fields: Any) -> bytes:
    return framed(json.dumps({"jsonrpc": "2.0", **fields}).encode())


def through(data: bytes) -> tuple[list[Any], list[Any]]:
    """What the wire passes on of these bytes, and what it answers itself."""
    answers: list[bytes] = []
    wire = Wire(io.BytesIO(data), answers.append, lambda _: None)
    passed = []
    while wire.readline():
        assert wire.readline() == b"\r\n"
        passed.append(json.loads(wire.read(0)))
    return passed, [json.loads(answer.partition(b"\r\n\r\n")[2]) for answer in answers]


def codes(data: bytes) -> list[int]:
    return [answer["error"]["code"] for answer in through(data)[1]]


BEGIN = message(id=0, method="initialize", params={})


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (framed(b"{"), -32700),
        (framed(b"\xff\xfe"), -32700),
        (framed(b'{"jsonrpc": "2.0", "id": ' + b"9" * 100_000 + b"}"), -32700),
        (framed(b"[" * 100_000 + b"]" * 100_000), -32600),
        (framed(b'[{"jsonrpc": "2.0"}]'), -32600),
        (framed(b'{"id": 1, "method": "initialize"}'), -32600),
        (message(id=[1], method="textDocument/hover"), -32600),
        (message(id=True, method="textDocument/hover"), -32600),
        (message(id=1, method=7), -32600),
        (message(id=1, method="textDocument/hover", params={"x": {"jsonrpc": "2.0"}}), -32602),
        (message(id=1, method="textDocument/hover"), -32002),
        (b"Content-Length: 999999999999\r\n\r\n" + b"x" * 1000, -32600),
    ],
)
def test_a_malformed_message_is_answered_with_its_code_and_the_next_one_is_passed_on(data, code):
    assert codes(data) == [code]
    if not data.startswith(b"Content-Length: 9999"):
        passed, answers = through(data + BEGIN)
        assert [each["id"] for each in passed] == [0]
        assert len(answers) == 1


def test_brackets_in_a_text_are_not_depth():
    body = json.dumps({"text": "[" * 10_000 + '\\"{'}).encode()
    assert not too_deep(body)
    assert not too_deep(b"[" * DEEPEST + b"]" * DEEPEST)
    assert too_deep(b"[" * (DEEPEST + 1))


def test_a_conversation_has_its_order():
    again = message(id=1, method="initialize", params={})
    late = message(id=2, method="textDocument/hover", params=HOVER)
    stop = message(id=3, method="shutdown")
    passed, answers = through(BEGIN + again + stop + late + message(method="exit") + late)
    assert [each["method"] for each in passed] == ["initialize", "shutdown", "exit"]
    assert [(each["id"], each["error"]["code"]) for each in answers] == [(1, -32600), (2, -32600)]


@settings(max_examples=300)
@given(
    st.lists(
        st.one_of(
            st.binary(max_size=60),
            st.binary(max_size=60).map(framed),
            st.just(BEGIN),
            st.sampled_from([b"Content-Length: 5\r\n", b"\r\n", b"Content-Length: -1\r\n\r\n", b"\n\n"]),
        ),
        max_size=12,
    )
)
def test_any_bytes_come_to_an_end_and_only_messages_come_through(pieces):
    passed, answers = through(b"".join(pieces))
    assert all(each["jsonrpc"] == "2.0" for each in passed + answers)


# -- the whole server ----------------------------------------------------------------------------------------

ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["file:///", "file:///dev/zero", "untitled:1", "\ud800", "textDocument"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["textDocument", "uri", "version", "text", "position", "range", "contentChanges"])
            | st.sampled_from(
                ["line", "character", "start", "end", "context", "settings", "clockhop", "clock"]
            )
            | st.text(max_size=4),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)
METHODS = st.sampled_from(
    [
        *("textDocument/didOpen", "textDocument/didChange", "textDocument/didClose", "textDocument/didSave"),
        *(
            "textDocument/hover",
            "textDocument/inlayHint",
            "textDocument/definition",
            "textDocument/codeAction",
        ),
        *("workspace/didChangeConfiguration", "workspace/didChangeWatchedFiles", "workspace/executeCommand"),
        *("$/cancelRequest", "$/setTrace", "initialized", "window/showMessage", "bell/unheard", ""),
    ]
)


@settings(
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(METHODS, ANYTHING, st.booleans())
def test_any_parameters_of_any_method_leave_the_server_answering(long_running, method, params, is_request):
    if is_request:
        answer = long_running.answer(long_running.ask(method, params))
        assert ("result" in answer) != ("error" in answer)
    else:
        long_running.tell(method, params)
    assert long_running.request("textDocument/hover", HOVER) is None
    long_running.heard.clear()


def test_texts_that_are_no_source_and_places_that_are_none_leave_the_server_answering(editor, tower):
    editor.begin()
    dial = editor.open(tower / "dial.asm")
    editor.diagnostics(dial)
    far = {"line": 2**31 - 1, "character": 2**31 - 1}
    for text in (
        "\0",
        "\ud800",
        "[" * 5000,
        "A" * 1_000_000,
        "\x1b[2J\u202e\n MACRO\n",
        "L\tREPT 1000000000\n",
    ):
        editor.change(dial, text)
        for method in ("hover", "definition"):
            params = {"textDocument": {"uri": dial}, "position": far}
            assert editor.request(f"textDocument/{method}", params) is None
        span = {"textDocument": {"uri": dial}, "range": {"start": far, "end": {"line": 0, "character": 0}}}
        assert editor.request("textDocument/inlayHint", span) == []
        assert editor.request("textDocument/codeAction", {**span, "context": {"diagnostics": []}}) == []
    # Two changes in one, one of them older than the text: the newest counts.
    newest = {"uri": dial, "version": 900}
    change = {"range": {"start": {"line": 0, "character": 0}, "end": far}, "text": "x"}
    whole = {"text": (tower / "dial.asm").read_text()}
    editor.tell("textDocument/didChange", {"textDocument": newest, "contentChanges": [change, whole]})
    editor.tell(
        "textDocument/didChange", {"textDocument": {"uri": dial, "version": 5}, "contentChanges": [change]}
    )
    editor.versions[dial] = 900
    assert [each["code"] for each in editor.diagnostics(dial)] == ["access-too-soon"]
    assert not any("bug" in str(each) for each in editor.heard)
    assert editor.end() == 0


def test_a_request_taken_back_is_answered_as_cancelled_and_an_editor_that_goes_ends_the_server(editor, tower):
    editor.begin()
    dial = editor.open(tower / "dial.asm")
    place = {"textDocument": {"uri": dial}, "position": {"line": 2, "character": 9}}
    number = editor.ask("textDocument/hover", place)
    editor.tell("$/cancelRequest", {"id": number})
    answer = editor.answer(number)
    # It may have been answered just before.
    assert answer.get("error", {}).get("code", -32800) == -32800
    editor.input.close()
    assert editor.process.wait(120) == 1
