"""What a long run is at is told on a terminal, and nowhere else."""

import io
import sys
import threading

from clockhop.cli import progress


class Terminal(io.StringIO):
    """A terminal; `seen` is set when a line with the seconds has come."""

    def __init__(self, is_one):
        super().__init__()
        self.is_one = is_one
        self.seen = threading.Event()

    def isatty(self):
        return self.is_one

    def write(self, text):
        if " s" in text:
            self.seen.set()
        return super().write(text)


def at_length(monkeypatch, terminal):
    monkeypatch.setattr(progress, "_PATIENCE", 0.001)
    monkeypatch.setattr(sys, "stderr", terminal)
    for _ in progress.shown_while(["tower"], ["a\x1b[2Jb.asm"]):
        if terminal.is_one:
            assert terminal.seen.wait(60)
    return terminal.getvalue()


def test_a_terminal_shows_which_program_it_is_at_and_is_left_clean(monkeypatch):
    written = at_length(monkeypatch, Terminal(True))
    assert written.startswith("\r\x1b[Ka\\x1b[2Jb.asm, 0 s")
    assert written.endswith("\r\x1b[K")


def test_a_file_gets_nothing(monkeypatch):
    assert at_length(monkeypatch, Terminal(False)) == ""


def test_a_run_that_is_over_at_once_shows_nothing(monkeypatch):
    terminal = Terminal(True)
    monkeypatch.setattr(sys, "stderr", terminal)
    assert list(progress.shown_while(["tower", "bells"], ["tower.asm", "bells.asm"])) == ["tower", "bells"]
    assert terminal.getvalue() == ""
