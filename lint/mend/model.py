"""What a plan of mends is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ..errors import Place
from ..quantity import Clock
from ..source import Edit

Grade = Literal["proved", "checked", "shown"]
Kind = Literal["retime", "pad"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """How far a mend is shown to be right, a line for each thing that was.

    `proved`: the symbolic readings of old and new agree in all that is live, for all states. `checked`: executed
    from named states. `shown`: neither; never written.
    """

    grade: Grade
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """Edits of one file; offsets are into the file as the plan was given it."""

    path: str
    edits: tuple[Edit, ...]


@dataclass(frozen=True, slots=True)
class Mend:
    """One edit with its reason; `place` is where it is made, `error` what remains, in words."""

    kind: Kind
    subject: str
    place: Place
    reason: str
    error: str
    evidence: Evidence
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Left:
    """Something that was looked at and is left as it is, and why."""

    subject: str
    place: Place
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Mends for one program. `before` and `after` are the files that mends to be written touch.

    `shown` mends are not in `after`.
    """

    clock: Clock
    written_for: Clock | None
    mends: tuple[Mend, ...]
    left: tuple[Left, ...]
    before: Mapping[str, bytes]
    after: Mapping[str, bytes]
