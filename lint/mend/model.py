"""What a plan of mends is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ..errors import Place
from ..quantity import Clock
from .use import Use

Grade = Literal["proved", "checked", "shown"]
Kind = Literal["retime", "pad", "reach", "number"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """How far a mend is shown to be right, a line for each thing that was.

    `proved`: the symbolic readings of old and new agree in all that is live, for all states. `checked`: executed
    from named states, and written only where that is asked for. `shown`: neither; never written.
    """

    grade: Grade
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One file before and after one mend; `before` may hold mends made earlier in the same plan."""

    path: str
    before: bytes
    after: bytes


@dataclass(frozen=True, slots=True)
class Mend:
    """One change with its reason. `places` are the lines it touches, in the file as it was given.

    `reach` is a branch made long, for the others to be possible; `number` one that a part counts. `made` tells whether
    the plan's files have it; `use` what kind of wait it is, None where it is none.
    `instead` are other ways that the part offers, in words: shown, never written.
    """

    kind: Kind
    subject: str
    places: tuple[Place, ...]
    reason: str
    result: str
    evidence: Evidence
    changes: tuple[Change, ...]
    made: bool
    use: Use | None = None
    instead: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Left:
    """Something that was looked at and stays as it is, and why."""

    subject: str
    place: Place
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Mends for one program at one clock. `before` and `after` are the files that mends to be written touch.

    Mends that are only shown are not in `after`. Its files are to be written in their order: where a wait's note and
    its count stand in different files, a run cut short between the two is resumed from the note.
    """

    clock: Clock
    written_for: Clock | None
    mends: tuple[Mend, ...]
    left: tuple[Left, ...]
    before: Mapping[str, bytes]
    after: Mapping[str, bytes]
