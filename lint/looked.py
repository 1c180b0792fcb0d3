"""What of the disk a run looked at, so that a later one can tell whether anything of it has changed."""

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

# A device never ends: whoever reads a file takes one byte more than it may have, and then knows that it has more.
_MOST: Final = 16 * 1024 * 1024 + 1

_state: dict[str, str] = {}


def read(path: str | Path) -> bytes:
    """The bytes of a file up to one more than 16 MiB; it is noted with what is in it. Raises OSError."""
    try:
        with open(path, "rb") as file:
            data = file.read(_MOST)
    except OSError as fault:
        _state[str(path)] = _refused(fault)
        raise
    _state[str(path)] = _digest(data, path)
    return data


def is_file(path: str | Path) -> bool:
    """Whether there is a file; that it is there or not is noted, too."""
    found = os.path.isfile(path)
    _state.setdefault(str(path), _there(path))
    return found


def size(path: str | Path) -> int:
    """The length of a file, which is noted; raises OSError."""
    try:
        found = os.path.getsize(path)
    except OSError as fault:
        _state[str(path)] = _refused(fault)
        raise
    # What is in it, if that was read as well, says more.
    if not _state.get(str(path), "").startswith("bytes"):
        _state[str(path)] = f"size {found}"
    return found


def names(folder: str) -> list[str]:
    """The names in a folder, in order, which are noted; raises OSError."""
    try:
        found = sorted(os.listdir(folder))
    except OSError as fault:
        _state.setdefault(folder, _refused(fault))
        raise
    _state[folder] = _listed(found)
    return found


def forget() -> None:
    """Begins anew: nothing has been looked at."""
    _state.clear()


def seen() -> Mapping[str, str]:
    """What was looked at in this process, by path as it was named: the state each was found in."""
    return dict(_state)


def unchanged(path: str, state: str) -> bool:
    """Whether a path, looked at again in the same way, is in the same state."""
    kind, _, _ = state.partition(" ")
    try:
        match kind:
            case "bytes":
                with open(path, "rb") as file:
                    return _digest(file.read(_MOST), path) == state
            case "size":
                return f"size {os.path.getsize(path)}" == state
            case "names":
                return _listed(sorted(os.listdir(path))) == state
            case "refused":
                with open(path, "rb"):
                    return False
            case _:
                return _there(path) == state
    except OSError as fault:
        return _refused(fault) == state


def _digest(data: bytes, path: str | Path) -> str:
    # Two names of one file are one source: where a link leads counts, too.
    return f"bytes {hashlib.blake2b(data, digest_size=16).hexdigest()} {os.path.realpath(path)}"


def _listed(found: list[str]) -> str:
    text = "\0".join(found).encode("utf-8", "surrogateescape")
    return f"names {hashlib.blake2b(text, digest_size=16).hexdigest()}"


def _refused(fault: OSError) -> str:
    return f"refused {fault.errno}"


def _there(path: str | Path) -> str:
    return f"there {os.path.isfile(path)}"
