"""The source on the page: cycles in the margin, sums under loops and routines, findings at their lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..check import FindingRow
from ..cycles import BuildCycles, FileCycles
from ..cycles_text import Sum, called, figure, shown, sums
from .finding import badge
from .markup import Markup, element

Anchors = Mapping[tuple[str, int], str]


@dataclass(frozen=True, slots=True)
class Found:
    """A finding at a line: its number on the page."""

    number: int
    row: FindingRow


def anchors(builds: Sequence[BuildCycles]) -> dict[tuple[str, int], str]:
    """The id of every line of every file, that of the first build that has it."""
    found: dict[tuple[str, int], str] = {}
    for number, build in enumerate(builds):
        for place, file in enumerate(build.files):
            for line in range(1, len(file.source.lines) + 1):
                found.setdefault((file.source.name, line), f"b{number}-{place}-{line}")
    return found


def listing(build: BuildCycles, number: int, found: Sequence[FindingRow], level: str) -> Iterator[Markup]:
    """A table for each file; the count of a line stands where `clockhop cycles` puts it."""
    at: dict[tuple[str, int], list[Found]] = {}
    for position, row in enumerate(found):
        where = row.finding.place
        at.setdefault((where.path, where.line), []).append(Found(position, row))
    for place, file in enumerate(build.files):
        key = f"b{number}-{place}"
        yield element(level, file.source.name, id=key)
        yield element(
            "div",
            element(
                "table",
                element("caption", f"{file.source.name} with the cycles of each line", class_="unseen"),
                _head(),
                element("tbody", list(_rows(build, file, key, at))),
                class_="source",
            ),
            class_="scroll",
            tabindex=0,
            role="group",
            aria_label=f"source of {file.source.name}",
        )


def _head() -> Markup:
    names = ("line", "called", "cycles", "source")
    return element("thead", element("tr", [element("th", name, scope="col") for name in names]))


def _rows(
    build: BuildCycles, file: FileCycles, key: str, at: Mapping[tuple[str, int], Sequence[Found]]
) -> Iterator[Markup]:
    under = sums(file, build.clocks)
    for line in range(1, len(file.source.lines) + 1):
        here = at.get((file.source.name, line), ())
        yield element(
            "tr",
            element("th", element("a", str(line), href=f"#{key}-{line}"), scope="row"),
            element("td", called(file, line), class_="n"),
            element("td", figure(file, line), class_="n"),
            element("td", shown(file, line), class_="code"),
            id=f"{key}-{line}",
            class_="hit" if here else None,
        )
        for each in here:
            yield _finding(each)
        for total in under.get(line, ()):
            yield _sum(total)


def _finding(each: Found) -> Markup:
    finding = each.row.finding
    link = element("a", f"{finding.name}: {finding.message}", href=f"#f{each.number}")
    return element(
        "tr", element("td", colspan=3), element("td", badge(finding.severity), " ", link), class_="found"
    )


def _sum(total: Sum) -> Markup:
    # Where nothing but the reason is known, no finding need say it.
    words = total.words if total.figure or not total.reason else f"{total.words}: {total.reason}"
    return element(
        "tr",
        element("td"),
        element("td", total.figure, colspan=2, class_="n"),
        element("td", words),
        class_=f"sum {total.of}",
    )
