"""Edited texts of one program, and the whole chain run again on them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from functools import cache

from ..assemble import words
from ..chain import Chain, run
from ..errors import Place
from ..source import Edit, Source, edit, parse, read
from .model import Change


@dataclass(slots=True)
class Texts:
    """The files of a program as they stand after the edits made so far; `original` as they were given."""

    original: dict[str, bytes] = field(default_factory=dict)
    current: dict[str, bytes] = field(default_factory=dict)

    @staticmethod
    def of(chain: Chain) -> Texts:
        files = {source.name: source.data for source in chain.program.files}
        return Texts(dict(files), dict(files))

    def changed(self) -> Mapping[str, bytes]:
        return {path: data for path, data in self.current.items() if data != self.original[path]}

    def original_line(self, path: str, line: int) -> int:
        """The line of the original file that a line of the current one stands at or behind."""
        old = self.original[path].splitlines(keepends=True)
        new = self.current[path].splitlines(keepends=True)
        for _, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
            if c <= line - 1 < d:
                return min(a + (line - 1 - c), max(b - 1, a)) + 1
        return line

    def given(self, place: Place) -> Place:
        """The place in the file as it was given."""
        return replace(place, line=self.original_line(place.path, place.line))


def made(current: Mapping[str, bytes], chain: Chain, edits: Mapping[str, list[Edit]]) -> dict[str, bytes]:
    """The files with edits made; offsets are into the files the chain was run on."""
    sources = {source.name: source for source in chain.program.files}
    after = dict(current)
    for path, changes in edits.items():
        after[path] = edit(sources[path], changes)
    return after


def again(chain: Chain, texts: Mapping[str, bytes]) -> Chain:
    """The same build on other texts; a file that has none is as it was read, whatever became of it on the disk."""
    vocabulary = words(chain.program.cpu)
    files = {source.name: source for source in chain.program.files}

    @cache
    def reader(path: str) -> Source:
        if path in texts:
            return parse(texts[path], path, files[path].vocabulary if path in files else vocabulary)
        return files.get(path) or read(path, vocabulary)

    return run(chain.request, reader)


def changes(before: Mapping[str, bytes], after: Mapping[str, bytes]) -> Iterator[Change]:
    """The files that differ."""
    for path, data in after.items():
        if data != before[path]:
            yield Change(path, before[path], data)
