"""Which program a file that is included belongs to, told from the files around it."""

import os
from collections.abc import Iterator, Sequence

from .. import looked
from ..assemble import named, places
from ..source import Syntax
from ..tree import inside

# A folder of sources has some hundred files; those that are larger are data.
_MOST_FILES = 300
_LARGEST = 1024 * 1024


def main_file(source: str, within: Sequence[str], syntax: Syntax) -> str | None:
    """The file that includes `source`, and that nothing else includes; None where none is found around it.

    Files of its folder, of the one above and of the folders beside it are looked at, as far as they lie in `within`.
    """
    files = tuple(_files(source, within))
    found, seen = source, {os.path.realpath(source)}
    while above := next((path for path in files if _includes(path, found, seen, syntax)), None):
        found = above
        seen.add(os.path.realpath(above))
    return None if found == source else found


def _includes(path: str, wanted: str, seen: set[str], syntax: Syntax) -> bool:
    """Whether a file that has not been seen names the wanted one."""
    data = b"" if os.path.realpath(path) in seen else _read(path)
    stem = os.path.splitext(os.path.basename(wanted))[0].lower()
    if stem.encode() not in data.lower() or 0 in data:
        return False
    folders = (os.path.dirname(path),)
    names = named(data.decode("latin-1"), syntax)
    found = (place for name in names if name for place in places(name, folders, syntax.include_endings))
    return os.path.realpath(wanted) in map(os.path.realpath, found)


def _files(source: str, within: Sequence[str]) -> Iterator[str]:
    own = os.path.dirname(source)
    above = os.path.join(own, os.pardir)
    folders = [own, *([above, *_beside(above)] if inside(above, within) else [])]
    left = _MOST_FILES
    for folder in dict.fromkeys(map(os.path.normpath, folders)):
        for name in _listed(folder):
            path = os.path.normpath(os.path.join(folder, name))
            if left and looked.is_file(path) and looked.size(path) <= _LARGEST:
                left -= 1
                yield path


def _beside(above: str) -> list[str]:
    paths = (os.path.join(above, name) for name in _listed(above) if not name.startswith("."))
    return [path for path in paths if os.path.isdir(path)]


def _listed(folder: str) -> list[str]:
    try:
        return looked.names(folder)
    except OSError:
        return []


def _read(path: str) -> bytes:
    try:
        return looked.read(path)
    except OSError:
        return b""
