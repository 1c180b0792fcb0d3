"""Changing a source file: spans are replaced, all other bytes stay, and the file changes in one step."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import Place, SourceError
from ..whole import put
from .statement import Source


@dataclass(frozen=True, slots=True)
class Edit:
    """`text` instead of the bytes `start` to `end` (offsets into Source.data); start == end inserts."""

    start: int
    end: int
    text: bytes


def edit(source: Source, edits: Sequence[Edit]) -> bytes:
    """The bytes of `source` with all `edits` made.

    Insertions at one place stay in the order given. Raises SourceError when two edits overlap, or one
    lies outside the file.
    """
    ordered = sorted(edits, key=lambda change: (change.start, change.end))
    pieces: list[bytes] = []
    position = 0
    previous: Edit | None = None
    for change in ordered:
        if not 0 <= change.start <= change.end <= len(source.data):
            raise SourceError(f"an edit of bytes {_range(change)} lies outside the file", Place(source.name))
        if previous and change.start < position:
            raise SourceError(
                f"two edits overlap: bytes {_range(previous)} and bytes {_range(change)}; make one of them",
                source.place(change.start),
            )
        pieces += [source.data[position : change.start], change.text]
        position = change.end
        previous = change
    return b"".join([*pieces, source.data[position:]])


def _range(change: Edit) -> str:
    return f"{change.start} to {change.end}"


def write_atomic(path: str | Path, data: bytes, expected: bytes) -> None:
    """Puts `data` in place of the file, in one step and with the file's own permissions and owner.

    Raises SourceError and leaves the file as it is when it no longer holds `expected`, is read-only, or
    can't be written.
    """
    try:
        put(Path(path), data, last=lambda: check_writable(path, expected))
    except OSError as fault:
        raise _unwritable(path, fault) from None


def check_writable(path: str | Path, expected: bytes) -> None:
    """Raises SourceError where write_atomic would before it writes: for a file that has changed or is read-only."""
    place = Place(str(path))
    try:
        if Path(path).read_bytes() != expected:
            raise SourceError("has changed since it was read; run again", place)
        if not os.access(path, os.W_OK):
            raise SourceError("is read-only; make it writable to mend it", place)
    except OSError as fault:
        raise _unwritable(path, fault) from None


def _unwritable(path: str | Path, fault: OSError) -> SourceError:
    reason = (fault.strerror or "unwritable").lower()
    return SourceError(f"can't be written ({reason}); check its permissions", Place(str(path)))
