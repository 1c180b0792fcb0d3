"""A command that only reads and prints says the same again as long as nothing it looked at has changed."""

import os
import sys
from typing import Final

from .. import cache, looked

_KIND: Final = "said"
# What decides on the text beside the arguments and the files.
_ENVIRONMENT: Final = ("NO_COLOR", "TERM", "COLUMNS", "PYTHONIOENCODING", "PYTHONUTF8", "LC_ALL", "LANG")

_told: list[tuple[int, str]] = []
_repeatable = False


def plain_streams() -> None:
    """Names from a Latin-1 source must not stop a report on a terminal that knows only ASCII."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def begin() -> None:
    """Forgets what was told and looked at: a command begins."""
    global _repeatable
    _repeatable = False
    _told.clear()
    looked.forget()


def repeatable() -> None:
    """Says of the command that runs: the same arguments and the same files give the same text and status."""
    global _repeatable
    _repeatable = True


def show(text: str) -> None:
    """Prints `text`, and remembers it for the next time; a reader that has gone away is no error."""
    _told.append((1, text))
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # The interpreter flushes once more when it ends, which must not fail again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def warn(text: str) -> None:
    """Prints `text` on the standard error output, and remembers it for the next time."""
    _told.append((2, text))
    sys.stderr.write(text)
    sys.stderr.flush()


def name(arguments: list[str]) -> str:
    """The name under which the answer to these arguments is kept; empty where none is."""
    environment = [f"{key}={os.environ.get(key)}" for key in _ENVIRONMENT]
    screen = f"{sys.stdout.isatty()} {sys.stdout.encoding}"
    try:
        return cache.key(cache.stamp(), os.getcwd(), screen, *environment, "", *arguments)
    except OSError:
        return ""


def repeat(known: str) -> int | None:
    """Tells again what was told under that name, and gives the exit status; None where something has changed."""
    kept = cache.load(_KIND, known)
    match kept:
        case {"looked": dict(files), "told": list(told), "status": int(status)}:
            pass
        case _:
            return None
    texts = [
        (way, text) for way, text in (each for each in told if isinstance(each, list) and len(each) == 2)
    ]
    if len(texts) != len(told) or not all(way in (1, 2) and isinstance(text, str) for way, text in texts):
        return None
    if not all(isinstance(state, str) and looked.unchanged(path, state) for path, state in files.items()):
        return None
    for way, text in texts:
        (show if way == 1 else warn)(text)
    return status


def remember(known: str, status: int) -> None:
    """Keeps what was told in this process, if the command said that it can be told again."""
    if _repeatable:
        cache.keep(_KIND, known, {"looked": looked.seen(), "told": _told, "status": status})
