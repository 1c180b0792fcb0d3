"""What an editor shows at the pointer: cycles and times of the instruction, its loops and its routine, and limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..quantity import Clock
from ..report.cycles import FileCycles, Taken
from ..report.cycles_text import account, figure, said
from ..timing import Exact, Range
from .figure import Figures


def hover(figures: Figures, path: str, line: int) -> tuple[str, ...]:
    """What is known of a line (from 1), a text for each thing; none where the line takes no time."""
    file = figures.files.get(path)
    return () if file is None else tuple(_told(figures, file, path, line))


def _told(figures: Figures, file: FileCycles, path: str, line: int) -> Iterator[str]:
    clocks = figures.clocks
    taken = file.taken.get(line)
    if taken is not None:
        yield f"{figure(file, line)} cycles{_times(taken, clocks)}"
    if line in file.called:
        name, total = file.called[line]
        yield f"{name}: {said(total, clocks)}"
    for loop in sorted((loop for loop in file.loops if line in loop.lines), key=lambda loop: len(loop.lines)):
        yield f"loop {loop.name}: {account(loop)}: {said(loop.total, clocks)}"
    for routine in file.routines:
        if taken is not None and routine.first <= line <= routine.last:
            yield f"routine {routine.name}: {said(routine.total, clocks)}"
    yield from figures.limits.get((path, line), ())


def _times(taken: Taken, clocks: Sequence[Clock]) -> str:
    """The times of what stands in a line, the branch passed included."""
    spans = [(taken.fewest, taken.most), *([taken.passed] if taken.passed else [])]
    highs = [high for _, high in spans if high is not None]
    low = min(low for low, _ in spans)
    if len(highs) < len(spans):
        return "".join(f", at least {clock.duration(low).text()} at {clock.text()}" for clock in clocks)
    high = max(highs)
    total = Exact(low) if low == high else Range(low, high)
    return said(total, clocks).partition(" cycles")[2]
