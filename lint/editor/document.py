"""The texts that are open in the editor: they count, not the files they will be saved to."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import quote, unquote, urlsplit

from ..source import LARGEST
from .position import Encoding, Range, spliced


@dataclass(frozen=True, slots=True)
class Change:
    """A new text, of the range or, where it is None, of all."""

    range: Range | None
    text: str


@dataclass(frozen=True, slots=True)
class Document:
    """One open text under the name the editor gave it; `path` is the file with every link followed.

    `latin` tells that the file is no UTF-8: a character of the text is one byte of it.
    """

    uri: str
    path: str
    version: int
    text: str
    latin: bool

    @property
    def data(self) -> bytes:
        """The bytes the editor would save."""
        return self.text.encode("latin-1" if self.latin else "utf-8", "replace")


class Documents:
    """What is open, by path. A text that is no file has no program and is passed over."""

    def __init__(self, encoding: Encoding = "utf-16") -> None:
        self.encoding: Encoding = encoding
        self._open: dict[str, Document] = {}
        self._kept: Mapping[str, bytes] = {}

    def open(self, uri: str, version: int, text: str) -> Document | None:
        """The document opened; None for what is no file."""
        path = file_of(uri)
        return None if path is None else self._hold(Document(uri, path, version, text, _is_latin(path)))

    def change(self, uri: str, version: int, changes: Sequence[Change]) -> Document | None:
        """The document as changed; None for one that is not open, and for a change older than the text."""
        document = self.get(uri)
        if document is None or version < document.version:
            return None
        text = document.text
        for each in changes:
            text = each.text if each.range is None else spliced(text, each.range, each.text, self.encoding)
        return self._hold(replace(document, version=version, text=text))

    def close(self, uri: str) -> Document | None:
        """The document that was open; its file counts from now on."""
        document = self.get(uri)
        if document is not None:
            del self._open[document.path]
            self._kept = {}
        return document

    def get(self, uri: str) -> Document | None:
        path = file_of(uri)
        return None if path is None else self._open.get(path)

    def at(self, path: str) -> Document | None:
        """The document of a file, by any of its names."""
        return self._open.get(os.path.realpath(path))

    @property
    def texts(self) -> Mapping[str, bytes]:
        """All texts by path; the value is never changed afterwards."""
        if not self._kept:
            self._kept = {path: each.data for path, each in self._open.items()}
        return self._kept

    @property
    def versions(self) -> Mapping[str, int]:
        return {path: each.version for path, each in self._open.items()}

    def _hold(self, document: Document) -> Document:
        self._open[document.path] = document
        self._kept = {}
        return document


def file_of(uri: str) -> str | None:
    """The path a file: address names, with every link followed; None for any other address."""
    try:
        parts = urlsplit(uri)
        path = unquote(parts.path)
        # A drive letter stands behind the slash.
        path = path[1:] if os.name == "nt" and path[2:3] == ":" else path
        if parts.scheme != "file" or not path or "\0" in path:
            return None
        return os.path.realpath(path)
    except (ValueError, OSError):
        return None


def uri_of(path: str) -> str:
    """The address of a file."""
    full = os.path.abspath(path).replace(os.sep, "/")
    return "file://" + quote(full if full.startswith("/") else f"/{full}", errors="surrogateescape")


def _is_latin(path: str) -> bool:
    try:
        if not os.path.isfile(path) or os.path.getsize(path) > LARGEST:
            return False
        with open(path, "rb") as file:
            file.read().decode("utf-8")
    except UnicodeDecodeError:
        return True
    except OSError:
        return False
    return False
