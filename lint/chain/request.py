"""What is asked for becomes builds to run: the command line joined with the project file."""

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from ..board import FILE_NAME, Build, Project, find, load
from ..cpu import Cpu, is_known, names
from ..cpu import load as load_processor
from ..errors import BoardError, ClockhopError, Place, SourceError
from ..quantity import Clock, parse_clock
from ..tables import nearest
from ..tree import tree

_RADIX = {"$": 16, "0x": 16, "0X": 16, "%": 2, "": 10}
_LONGEST = 64  # digits
_NAME = re.compile(r"[^\W\d][\w.$@?]*|[.@?$][\w.$@?]*[^\W\d][\w.$@?]*")
_NUMBER = re.compile(r"(\$|0[xX]|%|)([0-9A-Fa-f]+)")


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asks for. What is empty or None is taken from the project file, what is given replaces it.

    `sources` are main files, each a program of its own; none of them means every build of the project. `project` is
    the path of a project file to use instead of the one found upward from the source. `crystals` are oscillators of it
    to turn, as NAME=FREQUENCY or, where it has but one, the frequency alone. `gaps_at` are addresses or
    symbols whose accesses are wanted. `habits` are written NAME or NAME=no.
    """

    sources: tuple[str, ...] = ()
    processor: str | None = None
    clocks: tuple[Clock, ...] = ()
    written_for: Clock | None = None
    project: str | None = None
    defines: tuple[str, ...] = ()
    include: tuple[str, ...] = ()
    gaps_at: tuple[str, ...] = ()
    crystals: tuple[str, ...] = ()
    syntax: str = ""
    habits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Request:
    """One build to run: everything the command line and the project file say about it.

    `clocks` may be empty, `syntax` too where every file shows its own. `build` is the project's build it comes from,
    where there is one. What is included has to lie in one of the folders `within`: those of the tree, then those named
    on the command line.
    """

    source: str
    processor: str
    clocks: tuple[Clock, ...] = ()
    written_for: Clock | None = None
    project: Project | None = None
    build: Build | None = None
    defines: Mapping[str, int] | None = None
    include: tuple[str, ...] = ()
    gaps_at: tuple[str, ...] = ()
    syntax: str = ""
    habits: Mapping[str, bool] | None = None
    within: tuple[str, ...] = ()

    def cpu(self) -> Cpu:
        """The table of the processor, in the syntax and with the registers that the project file states."""
        state = self.project.processor_state if self.project else frozenset[tuple[str, int]]()
        return load_processor(self.processor, self.syntax, state)


def requests(asked: Asked) -> tuple[Request, ...]:
    """The builds that are asked for: by the names of the sources in order, else as the project file has them.

    A source that several builds of its project name is run once for each of them. Raises BoardError and
    QuantityError for a project file that is wrong, SourceError where no processor or no source is known.
    """
    if asked.sources:
        return tuple(request for source in sorted({*asked.sources}) for request in _for_source(asked, source))
    project = stated(asked, Path())
    if project is None:
        raise SourceError(f"no source is named and no {FILE_NAME} is found from here upward; name a source")
    if not project.builds:
        raise SourceError("no source is named and the project file has no builds:", Place(str(project.path)))
    return tuple(_request(asked, _source(project, build), project, build) for build in project.builds)


def number(text: str) -> int | None:
    """A whole number as written on a command line: 10, $0A, 0x0A or %1010; None for anything else."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None or len(found[2]) > _LONGEST:
        return None
    try:
        return int(found[2], _RADIX[found[1]])
    except ValueError:
        return None


def _for_source(asked: Asked, source: str) -> Iterator[Request]:
    project = stated(asked, Path(source).parent)
    if project is None:
        yield _request(asked, source, None, None)
        return
    wanted = os.path.realpath(source)
    builds = [build for build in project.builds if os.path.realpath(_source(project, build)) == wanted]
    if not builds:
        yield _request(asked, source, project, None)
    for build in builds:
        yield _request(asked, source, project, build)


def stated(asked: Asked, start: Path) -> Project | None:
    """The project file named, else the nearest one upward from `start`, with its oscillators turned as asked."""
    path = Path(asked.project) if asked.project is not None else find(start)
    if path is None:
        if asked.crystals:
            raise ClockhopError(
                f'--crystal "{asked.crystals[0]}": no {FILE_NAME} is found that has one; use --clock'
            )
        return None
    path = path if asked.project is not None else _shown(path)
    if not asked.crystals:
        return load(path)
    return load(path, dict(_turned(text, path) for text in asked.crystals))


def _turned(text: str, path: Path) -> tuple[str, Clock]:
    """The oscillator to turn, and its frequency."""
    name, equals, frequency = text.rpartition("=")
    clock = parse_clock(frequency)
    if equals:
        return name.strip(), clock
    names = [oscillator.name for oscillator in load(path).oscillators]
    if len(names) != 1:
        known = ", ".join(names) or "none"
        raise ClockhopError(f'--crystal "{text}": say which, as NAME=FREQUENCY; {path} names: {known}')
    return names[0], clock


def _shown(path: Path) -> Path:
    """The path as short as it can be said from here."""
    try:
        return path.relative_to(Path.cwd())
    except ValueError:
        return path


def _source(project: Project, build: Build) -> str:
    return str(project.path.parent / build.source)


def _request(asked: Asked, source: str, project: Project | None, build: Build | None) -> Request:
    defines = {**(project.defines if project else {}), **(build.defines if build else {})}
    place = build.place if build else Place(str(project.path)) if project else None
    given = {name: _defined(name, text, place) for name, text in defines.items()}
    own = (*(build.include if build else ()), *(project.include if project else ()))
    folder = project.path.parent if project else Path()
    clocks = asked.clocks or (build.clocks if build else ()) or (project.clocks if project else ())
    old = asked.written_for or (project.written_for if project else None)
    if project:
        clocks = tuple(map(project.on_the_bus, clocks))
        old = project.on_the_bus(old) if old else None
    processor = _processor(asked, source, project)
    if project and processor != project.processor:
        # A grade is printed on one processor and says nothing about another, nor do registers.
        project = replace(project, processor=processor, processor_grade=None, processor_state=frozenset())
    return Request(
        source=source,
        processor=processor,
        clocks=clocks,
        written_for=old,
        project=project,
        build=build,
        defines={**given, **defined(asked.defines)},
        include=(*asked.include, *(str(folder / path) for path in own)),
        gaps_at=asked.gaps_at,
        syntax=asked.syntax or (project.syntax if project else ""),
        habits={**(project.habits if project else {}), **dict(map(_habit, asked.habits))},
        within=(*tree(source, project.path if project else None), *asked.include),
    )


def _habit(text: str) -> tuple[str, bool]:
    name, equals, value = text.partition("=")
    if equals and value not in ("yes", "no"):
        raise ClockhopError(f'--habit "{text}": write --habit {name} or --habit {name}=no')
    return name, value != "no"


def _processor(asked: Asked, source: str, project: Project | None) -> str:
    name = asked.processor or (project.processor if project else None)
    if name is None:
        raise SourceError(
            f"no processor is known: no {FILE_NAME} here or above; add --cpu, or write one with clockhop draft",
            Place(source),
        )
    if not is_known(name):
        place = project.processor_place if project and not asked.processor else None
        fault = f'unknown processor "{name}"; {nearest(name, names())}'
        raise BoardError(fault, place) if place else ClockhopError(f"--cpu: {fault}")
    return name


def defined(texts: Iterable[str]) -> dict[str, int]:
    """The defines written on a command line as NAME or NAME=VALUE; raises ClockhopError for one that is neither."""
    return dict(_define(text) for text in texts)


def _define(text: str) -> tuple[str, int]:
    """A define as written on the command line: NAME or NAME=VALUE; a name alone is 1."""
    name, equals, value = text.partition("=")
    if not _NAME.fullmatch(name.strip()):
        fault = f'"{name}" is no name of a symbol' if name.strip() else "no name"
        raise ClockhopError(f'-D "{text}": {fault}; write -D NAME=VALUE')
    return name.strip(), _defined(name.strip(), value, None) if equals else 1


def _defined(name: str, text: str, place: Place | None) -> int:
    value = number(text)
    if value is None:
        fault = f'define {name}: "{text}" is not a whole number; write decimal, $hex, 0xhex or %binary'
        raise BoardError(fault, place) if place else ClockhopError(fault)
    return value
