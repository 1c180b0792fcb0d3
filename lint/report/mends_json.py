"""`mend` for machines: shared/schemas/report-mend.json says what is in it."""

from ..errors import Place
from ..mend import Left, Mend
from .amount import Json, exact
from .mends import Hunk, Mends, PlanReport

SCHEMA_VERSION = 1


def value(report: Mends) -> Json:
    """The report as JSON values."""
    return {
        "schema_version": SCHEMA_VERSION,
        "builds": [_plan(plan) for plan in report.plans],
        "written": None if report.written is None else list(report.written),
    }


def _plan(plan: PlanReport) -> Json:
    before = plan.plan.written_for
    return {
        "name": plan.name,
        "source": plan.source,
        "processor": plan.processor,
        "clock_hz": exact(plan.plan.clock.hz),
        "written_for_hz": exact(before.hz) if before else None,
        "mends": [_mend(mend) for mend in plan.plan.mends],
        "left": [_left(left) for left in plan.left],
        "diff": _diff(plan.made),
        "shown_diff": _diff(plan.shown),
    }


def _mend(mend: Mend) -> Json:
    return {
        "kind": mend.kind,
        "subject": mend.subject,
        "places": [_place(place) for place in mend.places],
        "reason": mend.reason,
        "result": mend.result,
        "use": None if mend.use is None else {"kind": mend.use.kind, "judged": mend.use.judged},
        "instead": list(mend.instead),
        "grade": mend.evidence.grade,
        "evidence": list(mend.evidence.lines),
    }


def _left(left: Left) -> Json:
    return {"subject": left.subject, **_place(left.place), "reason": left.reason}


def _place(place: Place) -> Json:
    return {"file": place.path, "line": place.line, "column": place.column}


def _diff(hunks: tuple[Hunk, ...]) -> str:
    return "".join(f"{line}\n" for hunk in hunks for line in hunk.lines)
