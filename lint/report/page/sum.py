"""The access time of memories on the page: each sum term by term, and what is left of it."""

from __future__ import annotations

from collections.abc import Iterator

from ...board import Budget
from ..budget import rows, verdict
from .markup import Markup, element


def sheets(budget: Budget, level: str) -> Iterator[Markup]:
    """The sums of one memory at one clock, a table for each path."""
    yield element(level, f"{budget.area.name} at {budget.clock.text()}")
    yield element("p", verdict(budget))
    for path in budget.paths:
        head = (f"{path.kind} path", "time", "left", "source")
        *terms, last = rows(path)
        yield element(
            "div",
            element(
                "table",
                element("caption", f"{budget.area.name}, {path.kind} path", class_="unseen"),
                element("thead", element("tr", [element("th", name, scope="col") for name in head])),
                element("tbody", [_row(row.cells, None) for row in terms]),
                element("tfoot", _row(last.cells, "good" if path.margin.seconds >= 0 else "error")),
                class_="sum",
            ),
            class_="scroll",
            tabindex=0,
            role="group",
            aria_label=f"sum of the {path.kind} path of {budget.area.name}",
        )
    for unsummed in budget.unsummed:
        yield element("p", f"{unsummed.kind} path: not added up; {unsummed.reason}", class_="dim")


def _row(cells: tuple[str, ...], mark: str | None) -> Markup:
    name, time, left, source = cells
    return element(
        "tr",
        element("th", name, scope="row"),
        element("td", time, class_="n"),
        element("td", left, class_="n"),
        element("td", source, class_="dim"),
        class_=mark,
    )
