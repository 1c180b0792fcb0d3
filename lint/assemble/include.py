"""Which file an include means: how its name is written, where it is looked for, what stands there instead."""

import re
from collections.abc import Iterator, Sequence
from os.path import basename, dirname, exists, join, normpath

from .. import looked
from ..source import Syntax

_CLOSINGS = {'"': '"', "'": "'", "<": ">", "(": ")"}
# A drive of CP/M or ISIS before the name.
_DRIVE = re.compile(r"(?::[A-Za-z][0-9]:|[A-Pa-p][0-9]{0,2}:)(?=[^\\/])")
# A first word, and what follows it.
_WORDS = re.compile(r"^[ \t]*([.#*$]?[\w@?$]+):?[ \t]+(\S[^\r\n]*)", re.MULTILINE)


def file_name(text: str) -> tuple[str, str]:
    """The name in bare, "name", 'name', <name> or (name), and what follows behind a comma."""
    text = text.strip()
    closing = _CLOSINGS.get(text[:1])
    if closing and closing in text[1:]:
        end = text.index(closing, 1)
        return text[1:end], text[end + 1 :].strip().removeprefix(",").strip()
    name, _, rest = text.partition(",")
    return name.split(None, 1)[0] if name else "", rest.strip()


def named(text: str, syntax: Syntax) -> Iterator[str]:
    """The names of files that the lines of a text include, whether a line counts or not."""
    for first, rest in _WORDS.findall(text):
        second, _, more = rest.partition(" ")
        if syntax.directive(first) == "include":
            yield file_name(rest)[0]
        elif syntax.directive(second) == "include":
            yield file_name(more)[0]


def places(name: str, folders: Sequence[str], endings: Sequence[str]) -> tuple[str, ...]:
    """Where the file may be: in each folder, as written, with an ending where it has none, without its drive."""
    spelled = name.replace("\\", "/")
    spellings = [spelled]
    drive = _DRIVE.match(spelled)
    if drive:
        spellings.append(spelled[drive.end() :])
    if "." not in basename(spelled):
        spellings += [spelling + ending for spelling in spellings for ending in endings]
    found = (normpath(join(folder, spelling)) for folder in folders for spelling in spellings)
    # A device or a pipe is no file to include, and reading it might never end.
    return tuple(dict.fromkeys(path for path in found if looked.is_file(path) or not exists(path)))


def length(size: int, bounds: Sequence[int]) -> int:
    """How many bytes of a file go in: all, or behind a number that is skipped, or so many behind it."""
    skipped, *most = bounds or (0,)
    return max(0, min([size - skipped, *most]))


def alike(paths: Sequence[str]) -> str | None:
    """A file beside one of these that isn't there, whose name differs in the case of letters only."""
    for path in paths:
        folder, name = dirname(path) or ".", basename(path)
        try:
            entries = looked.names(folder)
        except OSError:
            continue
        for entry in entries:
            if entry.lower() == name.lower() and entry != name:
                return entry
    return None
