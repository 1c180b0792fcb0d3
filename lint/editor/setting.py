"""What the editor's settings choose: the same as the options of the command line, and checked the same way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from ..chain import Asked, defined
from ..errors import ClockhopError
from ..quantity import parse_clock

SECTION: Final = "clockhop"


@dataclass(frozen=True, slots=True)
class Settings:
    """What is asked for besides a source, and what was wrong with the settings, a line each."""

    asked: Asked = field(default_factory=Asked)
    faults: tuple[str, ...] = ()


def settings(given: object) -> Settings:
    """The settings in what an editor hands over; what is not there is left to the project file.

    A setting that is wrong is left out and named in `faults`.
    """
    if isinstance(given, Mapping) and isinstance(given.get(SECTION), Mapping):
        given = given[SECTION]
    found = Settings()
    if not isinstance(given, Mapping):
        return found
    for key, value in given.items():
        read = _KEYS.get(str(key))
        # Editors send the settings of others, and empty ones for what nobody set.
        if read is None or value is None or value in ("", []):
            continue
        try:
            found = replace(found, asked=read(found.asked, _texts(value)))
        except ClockhopError as fault:
            found = replace(found, faults=(*found.faults, f"setting {SECTION}.{key}: {fault.message}"))
    return found


def _texts(value: object) -> tuple[str, ...]:
    items = value if isinstance(value, list) else [value]
    if not all(isinstance(item, str | int) for item in items):
        raise ClockhopError("is neither a text nor a list of texts")
    return tuple(str(item) for item in items)


def _clock(asked: Asked, texts: tuple[str, ...]) -> Asked:
    return replace(asked, clocks=tuple(parse_clock(text) for text in texts))


def _written_for(asked: Asked, texts: tuple[str, ...]) -> Asked:
    return replace(asked, written_for=parse_clock(texts[0]))


def _defines(asked: Asked, texts: tuple[str, ...]) -> Asked:
    defined(texts)
    return replace(asked, defines=texts)


_KEYS: Final[Mapping[str, Callable[[Asked, tuple[str, ...]], Asked]]] = {
    "clock": _clock,
    "writtenFor": _written_for,
    "crystal": lambda asked, texts: replace(asked, crystals=texts),
    "cpu": lambda asked, texts: replace(asked, processor=texts[0]),
    "project": lambda asked, texts: replace(asked, project=texts[0]),
    "define": _defines,
    "syntax": lambda asked, texts: replace(asked, syntax=texts[0]),
    "habit": lambda asked, texts: replace(asked, habits=texts),
    "include": lambda asked, texts: replace(asked, include=texts),
}
