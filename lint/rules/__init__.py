"""Timings and board to findings: one file per finding, each readable as a page of the manual."""

from dataclasses import dataclass, replace
from typing import Final

from . import (
    access_too_late,
    access_too_soon,
    address_unmapped,
    bit_cell_off,
    blanket_acceptance,
    bus_too_fast,
    claim_off,
    count_from_memory,
    delay_changes,
    handler_too_long,
    memory_too_slow,
    never_ends,
    not_understood,
    over_rating,
    page_crossing_changes,
    pulse_changes,
    rate_off,
    time_out_changes,
    timer_changes,
    tone_changes,
    trips_unknown,
    unused_acceptance,
    wait_too_short,
)
from .acceptance import accepted
from .base import (
    Case,
    Constant,
    Finding,
    Goal,
    Holds,
    Judge,
    NumberGoal,
    Open,
    PadGoal,
    Page,
    Rule,
    Severity,
    Strobes,
    Verdict,
    WaitGoal,
)
from .follow import Unfollowed
from .margin import Margin
from .pace import Pace, paces
from .pointer import Astray, astray
from .requirements import margins

RULES: tuple[Rule, ...] = (
    access_too_soon.RULE,
    access_too_late.RULE,
    wait_too_short.RULE,
    pulse_changes.RULE,
    rate_off.RULE,
    bit_cell_off.RULE,
    timer_changes.RULE,
    tone_changes.RULE,
    time_out_changes.RULE,
    handler_too_long.RULE,
    over_rating.RULE,
    memory_too_slow.RULE,
    bus_too_fast.RULE,
    delay_changes.RULE,
    claim_off.RULE,
    page_crossing_changes.RULE,
    never_ends.RULE,
    count_from_memory.RULE,
    trips_unknown.RULE,
    address_unmapped.RULE,
    not_understood.RULE,
    blanket_acceptance.RULE,
    unused_acceptance.RULE,
)
# These look at what the others found.
_ABOUT_FINDINGS: Final = (blanket_acceptance.RULE, unused_acceptance.RULE)


@dataclass(frozen=True, slots=True)
class Judgement:
    """All verdicts on one build, in the order of the rules; `accepted` counts the findings left out as accepted."""

    verdicts: tuple[Verdict, ...]
    accepted: int = 0


def judge(case: Case) -> Judgement:
    """What every rule says of the case. Accepted findings are left out, and counted."""
    verdicts = [verdict for rule in RULES if rule not in _ABOUT_FINDINGS for verdict in rule.judge(case)]
    for rule in _ABOUT_FINDINGS:
        found = tuple(verdict for verdict in verdicts if isinstance(verdict, Finding))
        verdicts += rule.judge(replace(case, found=found))
    left = [v for v in verdicts if not (isinstance(v, Finding) and accepted(case, v))]
    told = (_with_text(case, verdict) if isinstance(verdict, Finding) else verdict for verdict in left)
    return Judgement(tuple(told), len(verdicts) - len(left))


def _with_text(case: Case, finding: Finding) -> Finding:
    """A finding in what a macro puts there names the lines of its text after the use that it points at."""
    if finding.index is None:
        return finding
    origin = case.program.instructions[finding.index].origin
    if not origin.uses:
        return finding
    texts = (*origin.uses[1:], origin.text_place)
    return replace(
        finding, notes=(*(f"{place}: in the text of the macro" for place in texts), *finding.notes)
    )


__all__ = [
    "RULES",
    "Astray",
    "Case",
    "Constant",
    "Finding",
    "Goal",
    "Holds",
    "Judge",
    "Judgement",
    "Margin",
    "NumberGoal",
    "Open",
    "Pace",
    "PadGoal",
    "Page",
    "Rule",
    "Severity",
    "Strobes",
    "Unfollowed",
    "Verdict",
    "WaitGoal",
    "astray",
    "judge",
    "margins",
    "paces",
]
