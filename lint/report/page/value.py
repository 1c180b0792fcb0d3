"""What the page shows: the report of `check`, and beside it the margins, sums, cycles and mends of each build."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...board import Budget, budgets
from ...chain import Chain
from ...mend import Plan
from ..check import Check
from ..cycles import BuildCycles, cycles
from ..margin_table import BuildMargins, margins
from ..mends import PlanReport, plan_report
from .way import Finder, Way


@dataclass(frozen=True, slots=True)
class BuildPage:
    """One build. `mends` are planned for the fastest of its clocks, None where they were not; nothing is written."""

    chain: Chain
    margins: BuildMargins
    budgets: tuple[Budget, ...]
    cycles: BuildCycles
    mends: PlanReport | None


@dataclass(frozen=True, slots=True)
class Page:
    """The whole page. `ways` has one entry for each finding of `report`: None where it is of no two accesses."""

    report: Check
    builds: tuple[BuildPage, ...]
    ways: tuple[Way | None, ...]


def page_of(report: Check, plans: Sequence[tuple[Chain, Plan | None]]) -> Page:
    """The page of a report on builds that were judged, each with the mends planned for it, if they were."""
    plans = sorted(plans, key=lambda pair: (pair[0].request.source, pair[0].name))
    finders = [Finder(chain) for chain, _ in plans]
    return Page(
        report,
        tuple(_build(chain, plan) for chain, plan in plans),
        tuple(finders[row.runs[0]].way(row.finding) for row in report.findings),
    )


def _build(chain: Chain, plan: Plan | None) -> BuildPage:
    return BuildPage(
        chain,
        margins(chain),
        tuple(budget for each in chain.board.clocks for budget in budgets(chain.board, each.fastest)),
        cycles(chain),
        None if plan is None else plan_report(chain, plan),
    )
