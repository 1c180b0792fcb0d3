"""`mend` for people: a unified diff with the reason and the evidence above each hunk; or one line a mend."""

from collections.abc import Iterator

from ..mend import Left, Mend, Plan
from .mends import Hunk, Mends, PlanReport
from .table import Paint

_RISK = "outputs that can hurt people or equipment are shown, not rewritten; data sheets, local codes and "
_CAUTION = f"caution: {_RISK}licensed practice decide"
_OVER_RATING = (
    "caution: the clock is above a rating on the board (see check); running parts beyond their data sheet "
    "is at the owner's risk"
)


def text(report: Mends, paint: Paint) -> Iterator[str]:
    """Every plan: its hunks, what is only shown, what is left, and the count."""
    for plan in report.plans:
        yield paint(_title(plan), "head")
        for hunk in plan.made:
            yield from _hunk(hunk, paint)
        if plan.shown:
            yield ""
            yield paint("shown only, to be made by hand:", "warning")
        for hunk in plan.shown:
            yield from _hunk(hunk, paint)
        if plan.left:
            yield ""
            yield paint("left as it is:", "head")
        for left in plan.left:
            yield f"{left.place}: {left_words(left)}"
        yield ""
        yield counted_mends(plan)
    yield from _end(report)


def lines(report: Mends) -> Iterator[str]:
    """Each mend and each thing left, in one line that stands alone."""
    for plan in report.plans:
        for mend in plan.plan.mends:
            yield f"{mend.places[0]}: note: {mend.kind}: {reason(mend)}; {mend.evidence.grade}"
        for left in plan.left:
            yield f"{left.place}: note: left: {left_words(left)}"


def _title(plan: PlanReport) -> str:
    title = plan.source if plan.name == plan.source else f"{plan.source}, build {plan.name}"
    before = plan.plan.written_for
    return f"{title}, {plan.processor}: mends for {plan.plan.clock.text()}" + (
        f", written for {before.text()}" if before else ""
    )


def _hunk(hunk: Hunk, paint: Paint) -> Iterator[str]:
    yield ""
    for mend in hunk.mends:
        yield f"# {mend.kind}: {reason(mend)}"
        if mend.use is not None:
            yield f"# {mend.use.kind}: {mend.use.judged}"
        grade = paint(mend.evidence.grade, "good" if mend.evidence.grade == "proved" else "warning")
        yield f"# {grade}: {'; '.join(mend.evidence.lines)}"
        for other in mend.instead:
            yield f"# {paint('shown', 'warning')}: {other}"
    for line in hunk.lines:
        yield paint(line, "good" if line[:1] == "+" else "error" if line[:1] == "-" else "")


def reason(mend: Mend) -> str:
    """Why it is mended, and what comes of it."""
    return f"{mend.reason}; now {mend.result}"


def left_words(left: Left) -> str:
    """What stays as it is, and why."""
    named = left.reason.startswith(f"{left.subject} ")
    return left.reason if named else f"{left.subject}: {left.reason}"


def counted_mends(plan: PlanReport) -> str:
    """How many mends of which grade there are, and what is left."""
    kept = f"{len(plan.left)} left as {'they are' if len(plan.left) > 1 else 'it is'}"
    if not plan.plan.mends:
        return f"nothing mended, {kept}" if plan.left else _nothing(plan.plan)
    grades = ", ".join(
        f"{plan.count(grade)} {grade}" for grade in ("proved", "checked", "shown") if plan.count(grade)
    )
    return f"mends: {grades}; {kept}"


def _nothing(plan: Plan) -> str:
    if plan.clock == plan.written_for:
        return "nothing to mend at the clock it was written for; name another with --clock"
    return "nothing to mend"


def _end(report: Mends) -> Iterator[str]:
    if report.written is None:
        if any(plan.made for plan in report.plans):
            yield "nothing is written yet; --write makes what is proved"
    elif report.written:
        yield f"written: {', '.join(report.written)}"
    else:
        yield "written: nothing"
    if any(plan.shown for plan in report.plans):
        yield _CAUTION
    if any(plan.over_rating for plan in report.plans):
        yield _OVER_RATING
