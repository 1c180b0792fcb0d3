"""A build run on texts that are not, or not yet, in its files."""

import os
from collections.abc import Mapping
from functools import cache

from ..assemble import Reader, dialects
from ..source import Source, parse, read
from .request import Request


def reader(request: Request, texts: Mapping[str, bytes]) -> Reader:
    """Reads the sources of a build from the disk, but those of `texts` from there; they need not exist.

    It raises SourceError as `source.read` does.
    """
    readable = dialects(request.cpu(), request.habits, request.syntax)
    held = {os.path.realpath(path): data for path, data in texts.items()}

    @cache
    def reading(path: str) -> Source:
        data = held.get(os.path.realpath(path))
        return read(path, readable) if data is None else parse(data, path, readable)

    return reading
