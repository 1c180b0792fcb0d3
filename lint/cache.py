"""What is quicker to read again than to work out again, kept in the user's cache folder as plain JSON."""

import hashlib
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Final

from . import __version__

FOLDER: Final = "CLOCKHOP_CACHE"  # the environment variable that names another folder, or "off"
_MOST: Final = 400  # files kept of each kind; the oldest go first
_LARGEST: Final = 8 * 1024 * 1024


def key(*parts: str) -> str:
    """A name for what these texts and this version of the tool determine."""
    text = "\0".join((__version__, sys.version, *parts))
    return hashlib.blake2b(text.encode("utf-8", "surrogateescape"), digest_size=20).hexdigest()


def load(kind: str, name: str) -> object:
    """What was kept under that name; None where nothing is, or nothing that can be read."""
    folder = _folder()
    if folder is None:
        return None
    try:
        with open(folder / kind / f"{name}.json", encoding="ascii") as file:
            found: object = json.load(file)
            return found
    except (OSError, ValueError, RecursionError):
        return None


def keep(kind: str, name: str, value: object) -> None:
    """Keeps a value of JSON's types; a folder that can't be written is no error."""
    folder = _folder()
    if folder is None:
        return
    text = json.dumps(value, ensure_ascii=True, separators=(",", ":"))
    if len(text) > _LARGEST:
        return
    temporary = ""
    try:
        place = folder / kind
        place.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=".", dir=place)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text)
        os.replace(temporary, place / f"{name}.json")
        _clear(place)
    except OSError:
        if temporary:
            Path(temporary).unlink(missing_ok=True)


def stamp() -> str:
    """What tells this installation from another of the same version: its files by size and time."""
    root = os.path.dirname(os.path.abspath(__file__))
    found: list[str] = []
    folders = [root, *(path for name in ("grammar", "shared") for path in _beside(name))]
    while folders:
        for entry in os.scandir(folders.pop()):
            if entry.is_dir(follow_symlinks=False):
                if entry.name != "__pycache__":
                    folders.append(entry.path)
            else:
                status = entry.stat()
                found.append(f"{entry.path} {status.st_size} {status.st_mtime_ns}")
    return "\n".join(sorted(found))


def _beside(name: str) -> list[str]:
    """The folder of a package of data; inside the tool's own where it is installed, elsewhere in a checkout."""
    from importlib.util import find_spec

    found = find_spec(f"{__package__}.{name}")
    return [] if found is None else [*(found.submodule_search_locations or ())]


def _folder() -> Path | None:
    named = os.environ.get(FOLDER)
    if named == "off":
        return None
    if named:
        return Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    return Path(base) / "clockhop" if base and os.path.isabs(base) else None


def _clear(place: Path) -> None:
    """Takes out the oldest files where there are too many."""
    files = [entry for entry in os.scandir(place) if entry.name.endswith(".json")]
    if len(files) > _MOST:
        by_age = sorted(files, key=lambda entry: entry.stat().st_mtime_ns)
        for entry in by_age[: len(files) - _MOST // 2]:
            Path(entry.path).unlink(missing_ok=True)
