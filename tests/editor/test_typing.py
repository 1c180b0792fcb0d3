"""Findings follow the text that is typed, whatever stands in the files."""

from pathlib import Path
from typing import Any

MESSAGE = (
    "DIAL written 62 cycles after line 2, 31 us at 2 MHz; 44780 needs 52.6 us; pad 44 cycles\n"
    "strobe to strobe on a scope: 31 us at 2 MHz\n"
    "44780: 52.579 us after entry mode set (oscillator at its slowest): HD44780U Dot Matrix LCD Controller/Driver "
    "data sheet ADE-207-272(Z), Table 6\n"
    "no clock is stated for dial: 190 kHz, the slowest it may have, is taken\n"
    "4.1 ms may be needed: whether it is the first function set after power-on is not known"
)


def codes(shown: list[dict[str, Any]]) -> list[tuple[str, int]]:
    return [(each["code"], each["range"]["start"]["line"]) for each in shown]


def test_two_writes_62_cycles_apart_are_shown_in_the_included_file_until_the_wait_is_20_turns(editor, tower):
    editor.begin()
    dial = editor.open(tower / "dial.asm")

    (shown,) = editor.diagnostics(dial)
    assert shown["range"] == {"start": {"line": 5, "character": 8}, "end": {"line": 5, "character": 20}}
    assert (shown["severity"], shown["code"], shown["source"]) == (1, "access-too-soon", "clockhop")
    assert shown["message"] == MESSAGE
    ways = [
        (each["location"]["range"]["start"]["line"], each["message"]) for each in shown["relatedInformation"]
    ]
    assert ways == [(1, "SHOW STA DIAL"), (2, "LDB #11"), (3, "WAIT DECB"), (5, "STA DIAL")]

    text = (tower / "dial.asm").read_text()
    editor.change(dial, text.replace("#11", "#20"))
    assert editor.diagnostics(dial) == []

    # Both texts are taken from the editor: the main one does not include the other any more.
    editor.change(dial, text)
    assert codes(editor.diagnostics(dial)) == [("access-too-soon", 5)]
    main = editor.open(tower / "main.asm", (tower / "main.asm").read_text().replace("INCLUDE", "* NOT"))
    assert codes(editor.diagnostics(main)) == [("not-understood", 2)]
    assert ("access-too-soon", 5) not in codes(editor.diagnostics(dial))
    assert editor.end() == 0


def test_a_project_file_with_a_fault_is_shown_at_its_line_until_it_is_saved_right(editor, tower):
    board = tower / "clockhop.yaml"
    right = board.read_text()
    board.write_text(right.replace("2 MHz", "2 mhz"))
    editor.begin()
    dial = editor.open(tower / "dial.asm")
    wrong = editor.until(lambda message: message.get("params", {}).get("uri", "").endswith("clockhop.yaml"))
    (shown,) = wrong["params"]["diagnostics"]
    assert shown["range"]["start"] == {"line": 2, "character": 7}
    assert shown["message"] == 'clock "2 mhz": unknown unit; write Hz, kHz or MHz'

    board.write_text(right)
    editor.tell("textDocument/didSave", {"textDocument": {"uri": dial}})
    assert codes(editor.diagnostics(dial)) == [("access-too-soon", 5)]
    assert editor.shown[wrong["params"]["uri"]] == []
    assert editor.end() == 0


def test_the_clock_is_chosen_by_the_settings_and_by_a_change_of_them(editor, tower):
    editor.begin(settings={"clock": "1 MHz"})
    dial = editor.open(tower / "dial.asm")
    assert editor.diagnostics(dial) == []
    editor.tell("workspace/didChangeConfiguration", {"settings": {"clockhop": {"clock": "1.9 MHz"}}})
    (shown,) = editor.diagnostics(dial)
    assert shown["message"].startswith(
        "DIAL written 62 cycles after line 2, 32.6316 us at 1.9 MHz; 44780 needs"
    )
    editor.tell("workspace/didChangeConfiguration", {"settings": {"clock": "2 mhz"}})
    said = editor.until(lambda message: message.get("method") == "window/showMessage")
    assert said["params"]["message"] == (
        'setting clockhop.clock: clock "2 mhz": unknown unit; write Hz, kHz or MHz'
    )
    assert editor.end() == 0


def test_a_program_without_a_project_file_needs_its_processor_in_the_settings(editor, tmp_path: Path):
    source = tmp_path / "lamp.asm"
    source.write_text("LAMP LDX #0\nL LEAX -1,X\n BEQ L\n BRAA L\n")
    editor.begin()
    lamp = editor.open(source)
    (shown,) = editor.diagnostics(lamp)
    assert shown["message"] == (
        "no processor is known: no clockhop.yaml here or above; add --cpu, or write one with clockhop draft"
    )
    editor.tell("workspace/didChangeConfiguration", {"settings": {"cpu": "6809", "clock": "1 MHz"}})
    assert ("not-understood", 3) in codes(editor.diagnostics(lamp))
    assert editor.end() == 0
