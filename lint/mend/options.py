"""What a plan of mends is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..quantity import Clock
from .model import Grade

Only = Literal["retime", "pad"]


@dataclass(frozen=True, slots=True)
class Options:
    """What to mend for: the new clock, the old one where no note speaks, which kinds of mend.

    `keep_gaps` keeps every gap between accesses as long in time as at `written_for` and needs no part data; `checked`
    makes mends of that grade as well. `within` is the share by which a wait may be longer than it has to be, None for
    1 % or 2 cycles. `by_symbol` names a clock symbol that counts are to be written by, for all of `clocks`.
    """

    clock: Clock
    written_for: Clock | None = None
    only: Only | None = None
    keep_gaps: bool = False
    checked: bool = False
    within: Fraction | None = None
    by_symbol: str | None = None
    clocks: tuple[Clock, ...] = ()

    def wanted(self, grade: Grade) -> bool:
        """Whether mends of that grade are to be made."""
        return grade == "proved" or (grade == "checked" and self.checked)
