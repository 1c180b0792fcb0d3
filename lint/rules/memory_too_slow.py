"""memory-too-slow: a memory gets less time to answer than its sheet needs."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import Budget, Path, budgets
from .base import Case, Finding, Holds, Open, Rule, Verdict


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each memory with a part: its tightest path at the fastest clock that is judged."""
    fastest = max((clock.fastest for clock in case.clocks), default=None)
    for budget in budgets(case.board, fastest) if fastest else ():
        path = budget.tightest
        if path is not None and path.margin.seconds < 0:
            yield _finding(budget, path)
            continue
        if path is not None:
            yield Holds(f"{budget.area.name}: {path.kind} path", path.left, path.needed, path.fastest)
        for unsummed in budget.unsummed:
            yield Open(f"{budget.area.name}: {unsummed.kind} path", unsummed.reason)


def _finding(budget: Budget, path: Path) -> Finding:
    area, clock = budget.area, budget.clock
    needs = f"{path.whose} needs {path.needed.text()}{_taken(budget)}"
    tried = f"; tried at {area.tried.text()}, not rated" if area.tried else ""
    return Finding(
        name="memory-too-slow",
        severity="error" if area.grade_stated else "warning",
        place=area.place,
        message=(
            f"{area.name} has {path.left.text(4, 'down')} from {path.kind} to data at {clock.text()}; {needs}; "
            f"{(-path.margin).text(4, 'up')} short, holds up to {path.fastest.text(6, 'down')}{tried}"
        ),
        subject=area.name,
        notes=(
            *(f"{term.time.text(5)} {term.text}: {term.source}" for term in path.terms),
            f"{path.needed.text()} {path.kind} of {path.whose}: {path.source}",
        ),
        measured=path.left,
        limit=path.needed,
        clock=clock,
        holds_up_to=path.fastest,
    )


def _taken(budget: Budget) -> str:
    return "" if budget.area.grade_stated else ", the strictest grade, as none is stated"


RULE = Rule(
    name="memory-too-slow",
    summary="A memory gets less time to answer than its sheet needs",
    mend="",
    explanation="""
        What it finds: a memory with a part in the project file that has less time between an edge of the bus and the
            moment the processor takes the data than its sheet needs, at the fastest clock that is judged. Three paths
            are added up: from the address, from chip enable and from output enable; the shortest decides. clockhop
            budget shows the sums.
        Why it matters: what is read is wrong now and then, first in the heat, and with the next memory from the tube.
        Example: a 150 ns memory of a 68B09 at 4 MHz, decoded from the address by 15 ns of logic: 250 ns less 15, less
            110 for the address, 40 for set-up and 20 for the edge leave 65 ns.
        Mend: none is made; fit a faster grade, decode with less delay or an earlier edge, or add a wait state.
        When to leave it: it was tried, at the owner's risk: write tried: and the clock beside the memory.
    """,
    judge=judge,
)
