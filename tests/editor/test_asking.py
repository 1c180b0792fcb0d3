"""What an editor asks about a line: cycles and times, limits, definitions, mends with their evidence."""

from typing import Any

import pytest

# The count of the wait is the include's; a macro and a local name are there to be found.
DIAL = """\
* Two commands for the dial.
LIGHT   MACRO
        STA     LAMP
        ENDM
SHOW    LDA     #6              ; \u00e9 \U0001f55b
        STA     DIAL
        LDB     #11
WAIT    DECB
        BNE     WAIT
        STA     DIAL
        LIGHT
        RTS
LAMP    EQU     $9000
"""


def at(uri: str, line: int, character: int) -> dict[str, Any]:
    return {"textDocument": {"uri": uri}, "position": {"line": line, "character": character}}


def stretch(uri: str, first: int, last: int) -> dict[str, Any]:
    ends = {"start": {"line": first, "character": 0}, "end": {"line": last, "character": 0}}
    return {"textDocument": {"uri": uri}, "range": ends}


def test_a_line_tells_cycles_times_and_limits_and_names_lead_to_their_definitions(editor, tower):
    editor.begin()
    dial = editor.open(tower / "dial.asm", DIAL)

    def hover(line: int) -> list[str]:
        found = editor.request("textDocument/hover", at(dial, line, 9))
        return found["contents"]["value"].splitlines() if found else []

    assert hover(0) == []
    assert hover(5) == [
        "5 cycles, 2.5 us at 2 MHz",
        "routine SHOW: 79 cycles, 39.5 us at 2 MHz",
        "44780: at least 52.6 us from entry mode set to what comes next: "
        "HD44780U Dot Matrix LCD Controller/Driver data sheet ADE-207-272(Z), Table 6",
    ]
    assert hover(8) == [
        "3 cycles, 1.5 us at 2 MHz",
        "loop WAIT: 11 turns x 5: 55 cycles, 27.5 us at 2 MHz",
        "routine SHOW: 79 cycles, 39.5 us at 2 MHz",
    ]

    def definition(line: int, character: int) -> tuple[str, int, int] | None:
        found = editor.request("textDocument/definition", at(dial, line, character))
        start = found["range"]["start"] if found else {}
        return (found["uri"].rpartition("/")[2], start["line"], start["character"]) if found else None

    assert definition(5, 17) == ("main.asm", 0, 0)  # DIAL
    assert definition(8, 18) == ("dial.asm", 7, 0)  # WAIT
    assert definition(10, 9) == ("dial.asm", 1, 0)  # LIGHT, the macro
    assert definition(2, 17) == ("dial.asm", 12, 0)  # LAMP, in the macro's text
    assert definition(6, 18) is None  # a number
    main = editor.open(tower / "main.asm")
    found = editor.request("textDocument/definition", at(main, 4, 20))
    assert (found["uri"], found["range"]["start"]["line"]) == (dial, 0)

    # The call's hint is that of the text as it is now.
    editor.change(dial, DIAL.replace("#11", "#20"))
    (call,) = editor.request("textDocument/inlayHint", stretch(main, 0, 9))
    assert (call["position"], call["label"]) == ({"line": 2, "character": 20}, "call 62 us")
    assert call["tooltip"] == "SHOW: 124 cycles, 62 us at 2 MHz"
    assert editor.end() == 0


@pytest.mark.parametrize(("encoding", "column"), [("utf-8", 41), ("utf-16", 38), ("utf-32", 37)])
def test_columns_count_in_the_encoding_agreed_on(editor, tower, encoding, column):
    editor.begin(encodings=[encoding])
    assert editor.capabilities["positionEncoding"] == encoding
    dial = editor.open(tower / "dial.asm", DIAL)
    routine, *_ = editor.request("textDocument/inlayHint", stretch(dial, 0, 9))
    assert (routine["label"], routine["position"]) == ("routine 39.5 us", {"line": 4, "character": column})
    assert editor.end() == 0


def test_a_proved_pad_of_44_cycles_is_an_edit_with_its_evidence_and_ends_the_finding(editor, tower):
    annotations = {"workspaceEdit": {"documentChanges": True, "changeAnnotationSupport": {}}}
    editor.begin(workspace=annotations)
    dial = editor.open(tower / "dial.asm")
    findings = editor.diagnostics(dial)
    wanted = {**stretch(dial, 5, 5), "context": {"diagnostics": findings}}
    assert editor.request("textDocument/codeAction", {**wanted, **stretch(dial, 0, 0)}) == []

    (action,) = editor.request("textDocument/codeAction", wanted)
    assert action["title"] == "pad DIAL: 44 cycles more (22 us at 2 MHz), 44 needed; 12 bytes; proved"
    assert action["diagnostics"] == findings
    assert action["edit"]["changeAnnotations"]["clockhop"]["description"] == (
        "DIAL written 62 cycles after line 2, 31 us at 2 MHz; 44780 needs 52.6 us; pad 44 cycles\n"
        "the pads change nothing, for all states\nrests on the 6809 table, entered only as the text shows"
    )
    (change,) = action["edit"]["documentChanges"]
    assert change["textDocument"] == {"uri": dial, "version": 1}
    (edit,) = change["edits"]
    assert edit["range"] == {"start": {"line": 3, "character": 0}, "end": {"line": 3, "character": 0}}

    lines = (tower / "dial.asm").read_text().splitlines(keepends=True)
    editor.change(dial, "".join([*lines[:3], edit["newText"], *lines[3:]]))
    assert editor.diagnostics(dial) == []
    assert editor.end() == 0


def test_the_mend_of_an_output_that_can_hurt_is_only_shown(editor, tower):
    board = (tower / "clockhop.yaml").read_text()
    hurts = "  hammer: {family: output, at: $9000, hurts: true}\nbuilds:"
    (tower / "clockhop.yaml").write_text(board.replace("builds:", hurts))
    editor.begin(textDocument={"codeAction": {"disabledSupport": True}})
    dial = editor.open(
        tower / "dial.asm",
        "SHOW    LDA     #1\n        STA     $9000\n        LDX     #3750\n"
        "DRIVE   LEAX    -1,X            ; timing: takes 30 ms\n"
        "        BNE     DRIVE\n        CLR     $9000\n        RTS\n",
    )
    editor.diagnostics(dial)
    actions = editor.request(
        "textDocument/codeAction", {**stretch(dial, 3, 3), "context": {"diagnostics": []}}
    )
    (action,) = actions
    assert action["title"] == "retime DRIVE: 60000 cycles, 30 ms at 2 MHz: exactly as long; shown"
    assert "edit" not in action
    assert action["disabled"]["reason"] == (
        "it times hammer, an output that can hurt people or equipment; to be made by hand: LDX     #7500"
    )
    assert editor.end() == 0
