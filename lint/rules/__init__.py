"""Timings and board to findings: one file per finding, each readable as a page of the manual."""

from collections.abc import Iterator
from dataclasses import dataclass

from . import access_too_soon
from .base import Case, Finding, Goal, Holds, Judge, Open, PadGoal, Rule, Severity, Verdict, WaitGoal

RULES: tuple[Rule, ...] = (access_too_soon.RULE,)


@dataclass(frozen=True, slots=True)
class Judgement:
    """All verdicts on one build."""

    verdicts: tuple[Verdict, ...]


def judge(case: Case) -> Judgement:
    """Every rule's verdicts, in the order of the rules."""
    return Judgement(tuple(_all(case)))


def _all(case: Case) -> Iterator[Verdict]:
    for rule in RULES:
        yield from rule.judge(case)


__all__ = [
    "RULES",
    "Case",
    "Finding",
    "Goal",
    "Holds",
    "Judge",
    "Judgement",
    "Open",
    "PadGoal",
    "Rule",
    "Severity",
    "Verdict",
    "WaitGoal",
    "judge",
]
