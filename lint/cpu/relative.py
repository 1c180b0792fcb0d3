"""How processors are related: which have a word as an instruction, and which others a table goes back to."""

import re
from functools import cache
from importlib.resources import files

_EXTENDS = re.compile(r'^extends: "?(\w+)"?', re.MULTILINE)
_SYNTAX = re.compile(r"^syntax: ([\w-]+)", re.MULTILINE)
_SPELLINGS = re.compile(r"^spellings:\n(?:^  .*\n|\n)*", re.MULTILINE)
_SPELLING = re.compile(r"^  ([\w-]+):", re.MULTILINE)
_ROW = re.compile(r"^ *- \[[^,\]]+, *([A-Z0-9/]+),", re.MULTILINE)


@cache
def having(word: str, syntax: str) -> tuple[str, ...]:
    """The processors whose tables have `word` as a mnemonic and can be written in `syntax`, in order of their names.

    The tables are searched as texts: reading all of them would take longer than all else that a run does.
    """
    return tuple(sorted(name for name in _texts() if word in _words(name) and syntax in _syntaxes(name)))


@cache
def generation(name: str) -> int:
    """How many processors one goes back to: those its table extends, and that of which it is a way to run."""
    if name not in _texts():
        return 1 + generation(name.rpartition("-")[0]) if "-" in name else 0
    parent = _EXTENDS.search(_texts()[name])
    return 1 + generation(parent[1]) if parent else 0


@cache
def _texts() -> dict[str, str]:
    folder = files("clockhop.shared").joinpath("cpus")
    return {
        entry.name.removesuffix(".yaml"): entry.read_text(encoding="utf-8")
        for entry in folder.iterdir()
        if entry.name.endswith(".yaml")
    }


@cache
def _words(name: str) -> frozenset[str]:
    """The mnemonics that a table adds to the one it extends, or has by itself."""
    return frozenset(word for words in _ROW.findall(_texts()[name]) for word in words.split("/"))


@cache
def _syntaxes(name: str) -> frozenset[str]:
    text = _texts()[name]
    found = frozenset(_SYNTAX.findall(text))
    for section in _SPELLINGS.findall(text):
        found |= frozenset(_SPELLING.findall(section))
    parent = _EXTENDS.search(text)
    return found | (_syntaxes(parent[1]) if parent else frozenset())
