"""What makes a finding the same one tomorrow: what it says of what, not on which line it stands."""

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from ..quantity import Clock
from ..rules import Finding
from .check import FindingRow

_DIGITS = 32


@dataclass(frozen=True, slots=True, order=True)
class Identity:
    """A finding without its figures and its line: lines may be put above it, and the code may move.

    `file` is relative to a folder and has slashes, `label` is the nearest one above, `clock` the bus clock in Hz, empty
    where the finding is of none.
    """

    file: str
    finding: str
    severity: str
    label: str
    subject: str
    clock: str

    @property
    def fingerprint(self) -> str:
        """The same 32 hexadecimal digits wherever and whenever the identity is the same."""
        return _digest([self.file, self.finding, self.severity, self.label, self.subject, self.clock])


def identity(row: FindingRow, clocks: Iterable[Clock], root: str) -> Identity:
    """The identity of a finding in a tree whose top is the folder `root`, judged at the bus clocks `clocks`."""
    finding = row.finding
    clock = bus_clock(finding, clocks) or (finding.clock.hz if finding.clock else "")
    file = relative(finding.place.path, root)
    return Identity(file, finding.name, finding.severity, row.label, finding.subject, str(clock))


def bus_clock(finding: Finding, clocks: Iterable[Clock]) -> Fraction | None:
    """The one of the bus clocks that a finding is of, as its crystal says; None where it is of none."""
    return next(
        (clock.hz for clock in clocks if finding.clock in (clock, clock.fastest, clock.slowest)), None
    )


def numbered(one: Identity, ordinal: int) -> str:
    """The fingerprint of the findings with one identity that comes as number `ordinal`, from 0."""
    return one.fingerprint if ordinal == 0 else _digest([one.fingerprint, str(ordinal)])


def relative(path: str, root: str) -> str:
    """The path from the folder `root` on, with slashes."""
    return Path(os.path.relpath(path, root or ".")).as_posix()


def _digest(words: list[str]) -> str:
    return hashlib.sha256(json.dumps(words).encode()).hexdigest()[:_DIGITS]
