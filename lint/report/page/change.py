"""The mends on the page: each hunk with its reason and its evidence, and what is left with the reason why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..mends import Hunk, PlanReport
from ..mends_text import counted_mends, left_words, reason
from .markup import Markup, element, join

_LINES = {"+": "new", "-": "old", "@": "at"}


def changes(plan: PlanReport, level: str) -> Iterator[Markup]:
    """What `clockhop mend` would make and what it only shows; the page writes nothing."""
    yield element(
        "p",
        counted_mends(plan),
        ". Nothing is written; ",
        element("code", "clockhop mend --write"),
        " makes what is proved.",
    )
    yield from _hunks(plan.made, "to be made", level)
    yield from _hunks(plan.shown, "shown only, to be made by hand", level)
    if plan.left:
        yield element(level, "Left as it is")
        yield element(
            "ul", [element("li", element("b", str(left.place)), ": ", left_words(left)) for left in plan.left]
        )


def _hunks(hunks: Sequence[Hunk], title: str, level: str) -> Iterator[Markup]:
    if hunks:
        yield element(level, title.capitalize())
    for hunk in hunks:
        told = [
            element(
                "p",
                element("span", mend.evidence.grade, class_=f"badge {mend.evidence.grade}"),
                f" {mend.kind}: {reason(mend)}",
                element("br"),
                element("span", f"evidence: {'; '.join(mend.evidence.lines)}", class_="dim"),
            )
            for mend in hunk.mends
        ]
        diff = element(
            "pre", [_line(line) for line in hunk.lines[2:]], tabindex=0, role="group", aria_label="change"
        )
        yield element("section", element("p", hunk.path, class_="where"), told, diff, class_="change")


def _line(line: str) -> Markup:
    return join(element("span", line, class_=_LINES.get(line[:1])), Markup("\n"))
