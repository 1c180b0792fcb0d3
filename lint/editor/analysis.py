"""Programs run on the texts the editor holds; what did not change since the last run is not run again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..assemble import dialects
from ..board import Project
from ..chain import Asked, Chain, Request, judge, requests, run, stated
from ..errors import ClockhopError, SourceError
from ..report import Check, Judged, check
from ..source import Source, parse, read
from ..timing import Remembered
from .figure import Figures, figures

# A path, and how a text there is read: processor, syntax, habits.
_Way = tuple[str, str, str, tuple[tuple[str, bool], ...]]

# Raises Superseded where a newer text is waiting.
Stop = Callable[[], None]


class Superseded(Exception):
    """A newer text is there: nobody wants this run's result."""


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """What is known of one program, or of all the builds of one project, as it stands in the editor.

    `name` is its project file, else its main source; `asked` is what brings its builds. `report` is None where no
    build could be run; `faults` say why, for each that could not. `sources` are the texts as they were analysed, by
    path with every link followed.
    """

    name: str
    asked: Asked
    judged: tuple[Judged, ...]
    report: Check | None
    faults: tuple[ClockhopError, ...]
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """A build that was run, and every path it asked for with what it found there."""

    request: Request
    asked_for: Mapping[str, Source | None]
    judged: Judged


@dataclass(slots=True, eq=False)
class Analyst:
    """Runs the programs that documents belong to, one call at a time; keeps the last run of a build and its counts."""

    _sources: dict[_Way, tuple[object, Source]] = field(default_factory=dict)
    _kept: dict[tuple[str, str], _Kept] = field(default_factory=dict)
    _figures: dict[tuple[str, str], Figures] = field(default_factory=dict)
    _mains: dict[str, str] = field(default_factory=dict)
    _remembered: dict[tuple[str, str], Remembered] = field(default_factory=dict)

    def forget(self) -> None:
        """Everything is read and run anew: a file changed that is not open."""
        self._sources.clear()
        self._kept.clear()

    def analyse(
        self, paths: Iterable[str], asked: Asked, texts: Mapping[str, bytes], stop: Stop
    ) -> tuple[Analysis, ...]:
        """Every program that one of the documents belongs to, each once.

        A document belongs to the builds of its project that read it; where there are none it is a program of its own,
        unless it was included by another one that has been analysed. Raises what `stop` raises.
        """
        found: dict[str, Analysis] = {}
        for path in paths:
            if not any(path in each.sources for each in found.values()):
                for each in self._of(path, asked, texts, stop):
                    found[each.name] = each
        return tuple(found.values())

    def figures(self, analysis: Analysis, stop: Stop) -> tuple[Figures, ...]:
        """The figures of its builds, in their order. Raises what `stop` raises."""
        return tuple(self._figures_of(each.chain, stop) for each in analysis.judged)

    def _figures_of(self, chain: Chain, stop: Stop) -> Figures:
        found = self._figures.get(_key(chain.request))
        if found is None or found.chain is not chain:
            stop()
            found = self._figures[_key(chain.request)] = figures(chain)
        return found

    def _of(self, path: str, asked: Asked, texts: Mapping[str, bytes], stop: Stop) -> Iterator[Analysis]:
        try:
            project = stated(asked, Path(path).parent)
        except ClockhopError as fault:
            yield Analysis(path, asked, (), None, (fault,), {})
            return
        if project is not None and project.builds:
            asked = replace(asked, project=str(project.path))
            all_builds = self._analysis(str(project.path), asked, texts, stop)
            yield all_builds
            if path in all_builds.sources or all_builds.faults:
                return
        yield self._alone(self._mains.get(path, path), project, asked, texts, stop)

    def _alone(
        self, main: str, project: Project | None, asked: Asked, texts: Mapping[str, bytes], stop: Stop
    ) -> Analysis:
        asked = replace(
            asked, sources=(_short(main),), project=None if project is None else str(project.path)
        )
        made = self._analysis(main, asked, texts, stop)
        self._mains = {path: each for path, each in self._mains.items() if each != main}
        self._mains |= {path: main for path in made.sources if path != main}
        return made

    def _analysis(self, name: str, asked: Asked, texts: Mapping[str, bytes], stop: Stop) -> Analysis:
        judged: list[Judged] = []
        faults: list[ClockhopError] = []
        try:
            for request in requests(asked):
                try:
                    judged.append(self._judged(request, texts, stop))
                except ClockhopError as fault:
                    faults.append(fault)
        except ClockhopError as fault:
            faults.append(fault)
        files = (source for each in judged for source in each.chain.program.files)
        sources = {os.path.realpath(source.name): source for source in files}
        return Analysis(name, asked, tuple(judged), check(judged) if judged else None, tuple(faults), sources)

    def _judged(self, request: Request, texts: Mapping[str, bytes], stop: Stop) -> Judged:
        key = _key(request)
        reader = _Reader(self._sources, request, texts, stop)
        kept = self._kept.get(key)
        if kept is not None and kept.request == request and reader.agrees(kept.asked_for):
            return kept.judged
        self._kept.pop(key, None)
        chain = run(request, reader, self._remembered.setdefault(key, Remembered()))
        stop()
        judgement = judge(chain)
        stop()
        judged = Judged(chain, judgement.verdicts, judgement.accepted)
        self._kept[key] = _Kept(request, reader.asked_for, judged)
        return judged


def _key(request: Request) -> tuple[str, str]:
    return request.source, request.build.name if request.build else ""


class _Reader:
    """Gives the sources of a build from the editor's texts, else from the disk; the same one while it is the same."""

    def __init__(
        self,
        sources: dict[_Way, tuple[object, Source]],
        request: Request,
        texts: Mapping[str, bytes],
        stop: Stop,
    ) -> None:
        self.sources = sources
        self.readable = dialects(request.cpu(), request.habits, request.syntax)
        self.way = request.processor, request.syntax, tuple(sorted((request.habits or {}).items()))
        self.texts = texts
        self.stop = stop
        self.asked_for: dict[str, Source | None] = {}

    def __call__(self, path: str) -> Source:
        self.stop()
        self.asked_for[path] = None
        source = self._read(path)
        self.asked_for[path] = source
        return source

    def agrees(self, asked_for: Mapping[str, Source | None]) -> bool:
        """Whether each of the paths still gives what it gave."""
        return all(self._found(path) is before for path, before in asked_for.items())

    def _found(self, path: str) -> Source | None:
        try:
            return self._read(path)
        except SourceError:
            return None

    def _read(self, path: str) -> Source:
        data = self.texts.get(os.path.realpath(path))
        state = _state(path) if data is None else data
        known = self.sources.get((path, *self.way))
        if known is not None and known[0] == state:
            return known[1]
        source = read(path, self.readable) if data is None else parse(data, path, self.readable)
        self.sources[path, *self.way] = state, source
        return source


def _state(path: str) -> object:
    """What changes whenever somebody writes the file."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _short(path: str) -> str:
    """The path as it would be typed where the editor was started."""
    here = os.getcwd()
    return os.path.relpath(path, here) if os.path.commonpath([here, path]) == here else path
