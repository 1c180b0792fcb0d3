"""How far a finding can be mended: planned, made in memory, judged again. Nothing is written."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal

from ..chain import Chain, judge
from ..mend import Mend, Options, Plan, plan
from ..mend.edited import again
from ..rules import Finding, PadGoal, Verdict

Mended = Literal["proved", "checked", "shown", "none"]

# From the weakest evidence up: what rests on several mends is as good as the weakest of them.
GRADES: tuple[Mended, ...] = ("none", "shown", "checked", "proved")


def planned(chain: Chain) -> Plan:
    """The mends of a build for the fastest of its clocks."""
    return plan(chain, Options(max(chain.board.clocks), chain.board.written_for))


def mended(chain: Chain, verdicts: Sequence[Verdict], known: Plan | None = None) -> tuple[Mended, ...]:
    """For each finding among the verdicts, in order: the evidence of the mends that remove it, at the fastest clock.

    "none" where no mend does. `known` is what was planned for that clock, where it is known already.
    """
    findings = [verdict for verdict in verdicts if isinstance(verdict, Finding)]
    if not findings:
        return ()
    made = known or planned(chain)
    left = _named(judge(again(chain, made.after)).verdicts) if made.after else _named(verdicts)
    return tuple(_grade(chain, finding, made.mends, left) for finding in findings)


def _named(verdicts: Sequence[Verdict]) -> Counter[tuple[str, str]]:
    return Counter((each.name, each.subject) for each in verdicts if isinstance(each, Finding))


def _grade(chain: Chain, finding: Finding, mends: Sequence[Mend], left: Counter[tuple[str, str]]) -> Mended:
    lines = set(_lines(chain, finding))
    grades = {
        mend.evidence.grade
        for mend in mends
        if mend.subject == finding.subject or any((place.path, place.line) in lines for place in mend.places)
    }
    if left[finding.name, finding.subject] and "shown" not in grades:
        return "none"
    if not left[finding.name, finding.subject] and not grades:
        # Gone, and no single mend is known to be the one: it rests on all that would be written.
        grades = {mend.evidence.grade for mend in mends} - {"shown"}
    return min(grades, key=GRADES.index, default="none")


def _lines(chain: Chain, finding: Finding) -> Iterator[tuple[str, int]]:
    """The lines a mend of the finding would change: those of the way between the accesses."""
    if isinstance(finding.goal, PadGoal):
        for index in finding.goal.path:
            place = chain.program.instructions[index].origin.text_place
            yield place.path, place.line
