"""What makes a finding the same one tomorrow: what it says of what, not on which line it stands."""

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from .amount import exact
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


def identity(row: FindingRow, root: str) -> Identity:
    """The identity of a finding in a tree whose top is the folder `root`."""
    finding = row.finding
    clock = str(exact(finding.clock.hz)) if finding.clock else ""
    return Identity(
        relative(finding.place.path, root), finding.name, finding.severity, row.label, finding.subject, clock
    )


def numbered(one: Identity, ordinal: int) -> str:
    """The fingerprint of the findings with one identity that comes as number `ordinal`, from 0."""
    return one.fingerprint if ordinal == 0 else _digest([one.fingerprint, str(ordinal)])


def relative(path: str, root: str) -> str:
    """The path from the folder `root` on, with slashes."""
    return Path(os.path.relpath(path, root or ".")).as_posix()


def _digest(words: list[str]) -> str:
    return hashlib.sha256(json.dumps(words).encode()).hexdigest()[:_DIGITS]
