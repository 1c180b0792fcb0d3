"""What an editor shows beside the lines: how long loops, calls and routines last at the chosen clock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..report.amount import bounds, cycles_text, time_text
from ..report.cycles_text import account, said
from ..timing import Total
from .figure import Figures


@dataclass(frozen=True, slots=True)
class Hint:
    """A short text behind a line (from 1), and the whole of what it says."""

    line: int
    text: str
    whole: str


def hints(figures: Figures, path: str) -> Iterator[Hint]:
    """Every hint of a file in the order of its lines; none where nothing bounds what something takes."""
    file = figures.files.get(path)
    if file is None:
        return
    found: dict[int, list[Hint]] = {}
    for routine in file.routines:
        whole = f"routine {routine.name}: {said(routine.total, figures.clocks)}"
        _add(found, figures, routine.first, "routine", routine.total, whole)
    for loop in file.loops:
        whole = f"loop {loop.name}: {account(loop)}: {said(loop.total, figures.clocks)}"
        _add(found, figures, loop.first, "loop", loop.total, whole)
    for line, (name, total) in file.called.items():
        _add(found, figures, line, "call", total, f"{name}: {said(total, figures.clocks)}")
    for line in sorted(found):
        here = found[line]
        yield Hint(line, ", ".join(each.text for each in here), "\n".join(each.whole for each in here))


def _add(
    found: dict[int, list[Hint]], figures: Figures, line: int, kind: str, total: Total, whole: str
) -> None:
    if bounds(total)[1] is None:
        return
    clock = next(iter(figures.clocks), None)
    lasts = time_text(total, clock) if clock else f"{cycles_text(total)} cycles"
    found.setdefault(line, []).append(Hint(line, f"{kind} {lasts}", whole))
