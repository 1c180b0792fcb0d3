"""What follows the clock, on the page: what parts make by counting it, what stays, and which number keeps it."""

from __future__ import annotations

from collections.abc import Iterator

from ..margin_table import BuildMargins
from ..pace_table import PaceRow, at_clock, more
from .markup import Markup, element


def follows(build: BuildMargins) -> Iterator[Markup]:
    """A table of what moves, then a line for each that stays; nothing where parts make nothing by counting."""
    moving = [row for row in build.paces.rows if not row.pace.stays]
    if moving:
        head = ("what", *(clock.text() for clock in build.clocks))
        yield element("p", "In brackets the number that keeps it as it was.", class_="dim")
        yield element(
            "table",
            element("caption", f"What follows the clock in {build.name}", class_="unseen"),
            element("thead", element("tr", [element("th", cell, scope="col") for cell in head])),
            element("tbody", [_row(row, build) for row in moving]),
            class_="margins",
        )
    staying = [row for row in build.paces.rows if row.pace.stays]
    if staying and build.clocks:
        yield element("ul", [_stays(row, build) for row in staying], class_="list")


def _row(row: PaceRow, build: BuildMargins) -> Markup:
    pace, old = row.pace, build.paces.old
    number = f" with {pace.number}" if pace.number else ""
    return element(
        "tr",
        element(
            "th",
            f"{pace.name}{number}",
            element("small", f"{pace.kind}; {pace.place}{more(row)}"),
            scope="row",
        ),
        [
            element("td", at_clock(pace, old, clock), class_="n", data_of=clock.text())
            for clock in build.clocks
        ],
    )


def _stays(row: PaceRow, build: BuildMargins) -> Markup:
    pace = row.pace
    said = f" {pace.said(build.clocks[0])} at every bus clock ({pace.place}){more(row)}"
    return element("li", element("b", f"{pace.name} stays"), said)
