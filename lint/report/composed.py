"""A composed piece of code: the text ready to paste below what is said of it, and the same for machines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ..mend import Composition
from ..rules.words import counted
from .amount import Json, exact

SCHEMA_VERSION = 1
_ONE_PAGE: Final = "keep it in one page of 256 bytes: a branch into another takes longer"


def text(composition: Composition) -> Iterator[str]:
    """The code, with what is said of it as comments above it."""
    yield f"; {_said(composition)}"
    yield f"; {_changed(composition)}"
    if composition.one_page:
        yield f"; {_ONE_PAGE}"
    yield from composition.text.splitlines()


def lines(composition: Composition) -> Iterator[str]:
    """What is said of the code, in one line."""
    said = [_said(composition), _changed(composition)]
    if composition.one_page:
        said.append(_ONE_PAGE)
    yield f"{composition.wanted.name}: {'; '.join(said)}"


def value(composition: Composition) -> Json:
    """The code and its figures, by shared/schemas/report-compose.json."""
    wanted = composition.wanted
    return {
        "schema_version": SCHEMA_VERSION,
        "processor": composition.processor,
        "clock": {"text": wanted.clock.text(), "hz": exact(wanted.clock.hz)},
        "asked": {"text": wanted.written, "seconds": str(wanted.duration.seconds)},
        "inline": wanted.inline,
        "name": wanted.name,
        "cycles": composition.cycles,
        "seconds": str(wanted.clock.duration(composition.cycles).seconds),
        "longer": str(composition.longer.seconds),
        "bytes": composition.size,
        "registers": list(composition.registers),
        "flags": list(composition.flags),
        "one_page": composition.one_page,
        "text": composition.text,
    }


def _said(composition: Composition) -> str:
    wanted = composition.wanted
    cycles, size = composition.cycles, composition.size
    longer = composition.longer
    lasts = wanted.clock.duration(cycles).text()
    error = f"{longer.text(3)} more than {wanted.written}" if longer.seconds else "exact"
    return f"{counted(cycles, 'cycle')}, {lasts} at {wanted.clock.text()}, {error}; {counted(size, 'byte')}"


def _changed(composition: Composition) -> str:
    registers, flags = ", ".join(composition.registers), " ".join(composition.flags)
    changed = [registers, f"flags {flags}" if flags else ""]
    return f"changes {'; '.join(filter(None, changed)) or 'nothing'}"
