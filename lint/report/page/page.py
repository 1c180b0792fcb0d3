"""The page of a check: one file that needs nothing else, what a person asks first at its top."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Final

from ... import __version__
from ...quantity import Clock
from ...rules import RULES, Margin, Severity
from ..check import SEVERITIES, Check, FindingRow
from ..check_text import astray_in_words, plural
from ..margin_table import BuildMargins, MarginRow, cell, edges, sentences
from .bars import Axis, axis, scale, stretch
from .change import changes
from .finding import article, line_of
from .listing import anchors, listing
from .markup import Child, Markup, element
from .pace import follows
from .style import sheet
from .sum import sheets
from .value import BuildPage, Page

_Content = Callable[[BuildPage, str, int], Iterable[Markup]]

_NO_SCRIPT: Final = "default-src 'none'; style-src 'unsafe-inline'"
_DECIDE: Final = (
    "Data sheets, local codes and licensed practice decide. What was counted is exact; times are rounded."
)


def html(page: Page) -> str:
    """The page as a whole file, to be written as UTF-8."""
    report = page.report
    title = ", ".join(dict.fromkeys(build.source for build in report.builds))
    parts = [part for part in _parts(page) if part[2]]
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", http_equiv="Content-Security-Policy", content=_NO_SCRIPT),
        element("title", f"{title}: timing"),
        element("style", sheet()),
    )
    body = element(
        "body",
        element("a", "To the findings", href="#findings", class_="skip"),
        element("header", _header(report), _contents(parts)),
        element("main", [_section(*part) for part in parts]),
        element("footer", element("p", f"clockhop {__version__}. {_DECIDE}")),
    )
    return f'<!DOCTYPE html>\n<html lang="en">{head}{body}</html>\n'


def _parts(page: Page) -> Iterator[tuple[str, str, list[Child]]]:
    """Id, title and content of each section; those without content are left out."""
    yield "first", "What holds, and what gives first", list(_first(page))
    yield "margins", "Margins", list(_by_build(page, _margins))
    yield "follows", "What follows the clock", list(_by_build(page, _follows))
    yield "findings", "Findings", list(_findings(page))
    yield "unknown", "Not judged, and cautions", list(_unknown(page.report))
    yield "mends", "Mends", list(_by_build(page, _mends))
    yield "memory", "Access time of memory", list(_by_build(page, _memory))
    yield "source", "Source with cycles", list(_by_build(page, _source(page.report)))
    yield "about", "What the findings mean", list(_about(page.report))


def _header(report: Check) -> Iterator[Markup]:
    yield element("h1", "Timing of ", ", ".join(dict.fromkeys(build.source for build in report.builds)))
    for build in report.builds:
        name = "" if build.name == build.source else f"build {build.name}, "
        clocks = ", ".join(clock.text() for clock in build.clocks)
        before = f", written for {build.written_for.text()}" if build.written_for else ""
        yield element("p", f"{name}{build.processor} at {clocks}{before}")


def _contents(parts: Sequence[tuple[str, str, list[Child]]]) -> Markup:
    links = [element("li", element("a", title, href=f"#{key}")) for key, title, _ in parts]
    return element("nav", element("ul", links), aria_label="Sections")


def _section(key: str, title: str, content: Child) -> Markup:
    mark = "unseen" if key == "first" else None
    heading = element("h2", title, id=f"{key}-title", class_=mark)
    return element("section", heading, content, id=key, aria_labelledby=f"{key}-title")


def _by_build(page: Page, content: _Content) -> Iterator[Markup]:
    """What each build has to say, under its name where there are several."""
    several = len(page.builds) > 1
    for number, build in enumerate(page.builds):
        found = list(content(build, "h4" if several else "h3", number))
        if several and found:
            yield element("h3", f"build {build.margins.name}")
        yield from found


# -- first what is asked first -------------------------------------------------------------------------------


def _first(page: Page) -> Iterator[Markup]:
    report = page.report
    for number, build in enumerate(page.builds):
        told = _worst([row.finding.severity for row in report.findings if number in row.runs])
        clocks = " and ".join(clock.text() for clock in build.margins.clocks)
        *others, holds = sentences(build.margins)
        held, _, _ = holds.partition("; ")
        name = f"{build.margins.name}: " if len(page.builds) > 1 else ""
        yield element("p", f"{name}At {_whole(clocks)} ", told, f". {_whole(_held(held))}.", class_="lead")
        little = report.builds[number].too_little
        if little:
            yield element("p", f"Too little to rely on: {little}.", class_="more error")
        for sentence in others:
            yield element("p", sentence[:1].upper(), sentence[1:], ".", class_="more")
    yield element(
        "ul",
        [element("li", element("b", count), f" {word}") for count, word in _counts(report)],
        class_="counts",
    )


def _worst(severities: Sequence[Severity]) -> Markup:
    errors, warnings = severities.count("error"), severities.count("warning")
    if errors:
        return element("span", plural(errors, "fault"), class_="error")
    if warnings:
        return element("span", f"no fault, {plural(warnings, 'warning')}", class_="warning")
    return element("span", "no fault is found", class_="good")


def _held(words: str) -> str:
    """What is said of all requirements, as a sentence of its own."""
    return (
        f"All that is known {words.removesuffix(' by what is known')}"
        if words.startswith("holds")
        else words.capitalize()
    )


def _whole(words: str) -> str:
    """The words with their numbers and units kept on one line."""
    return re.sub(r"(\d) (?=[a-zA-Z]?Hz)", "\\1\u00a0", words)


def _counts(report: Check) -> Iterator[tuple[str, str]]:
    for severity in SEVERITIES:
        count = report.count(severity)
        yield str(count), severity if count == 1 else f"{severity}s"
    yield str(len(report.holds)), "requirements hold"
    yield str(len(report.opens)), "unknown"
    yield (
        str(report.not_understood),
        f"of {sum(b.statements for b in report.builds)} statements not understood",
    )
    if report.accepted:
        yield str(report.accepted), "accepted"
    if report.known:
        yield str(report.known.left_out), "known, left out"


# -- margins -------------------------------------------------------------------------------------------------


def _margins(build: BuildPage, _level: str, number: int) -> Iterator[Markup]:
    found = build.margins
    if not found.rows:
        yield from (element("p", sentence, ".") for sentence in sentences(found))
        return
    board = build.chain.board
    line = axis(found.clocks, board.written_for)
    yield element(
        "p",
        "A bar is the span of bus clocks at which a requirement holds; a diamond marks its edge, and what is ",
        "hatched it lacks. Upright lines are the clocks that are judged; a dashed one is what it was written for.",
        class_="dim",
    )
    # What may not apply at all comes last.
    rows = sorted(found.rows, key=lambda row: bool(row.margin.doubt))
    head = ("requirement", scale(line), *(f"to spare at {clock.text()}" for clock in found.clocks), "holds")
    yield element(
        "table",
        element("caption", f"Margins of {found.name}, what gives first on top", class_="unseen"),
        element("thead", element("tr", [element("th", cell, scope="col") for cell in head])),
        element("tbody", [_margin(row, found, line, f"m{number}-{n}") for n, row in enumerate(rows)]),
        class_="margins",
    )


def _margin(row: MarginRow, build: BuildMargins, line: Axis, key: str) -> Markup:
    margin = row.margin
    more = f", {row.count} places" if row.count > 1 else ""
    span = edges(margin) or "at every clock"
    return element(
        "tr",
        element(
            "th",
            margin.subject,
            element("small", f"{margin.cause}; {margin.place}{more}"),
            element("small", f"unknown: {margin.doubt}") if margin.doubt else "",
            scope="row",
        ),
        element("td", stretch(margin, line, f"holds {span}", key), class_="bar"),
        [element("td", _spare(margin, clock), class_="n", data_of=clock.text()) for clock in build.clocks],
        element("td", span, data_of="holds"),
    )


def _follows(build: BuildPage, _level: str, _number: int) -> Iterator[Markup]:
    yield from follows(build.margins)


def _spare(margin: Margin, clock: Clock) -> Markup:
    words = cell(margin, clock)
    broken = margin.at(clock).seconds < 0
    return element("span", words, class_="error" if broken and not margin.doubt else None)


# -- findings and what belongs to them -----------------------------------------------------------------------


def _findings(page: Page) -> Iterator[Markup]:
    """Errors and warnings with their pictures, then the notes, a line each."""
    report = page.report
    lines = anchors([build.cycles for build in page.builds])
    numbered = list(enumerate(report.findings))
    for severity in SEVERITIES:
        found = [(number, row) for number, row in numbered if row.finding.severity == severity]
        if not found:
            continue
        yield element("h3", plural(len(found), severity).capitalize())
        if severity == "note":
            yield element(
                "ul", [line_of(row, number, _line(lines, row)) for number, row in found], class_="list"
            )
            continue
        for number, row in found:
            yield article(row, page.ways[number], number, _line(lines, row), len(report.builds))
    if not numbered:
        yield element("p", "None.")


def _line(lines: Mapping[tuple[str, int], str], row: FindingRow) -> str:
    return lines.get((row.finding.place.path, row.finding.place.line), "")


def _unknown(report: Check) -> Iterator[Markup]:
    items = [element("li", element("b", row.open.subject), f": {row.open.reason}") for row in report.opens]
    if report.unmapped:
        addresses = "device address" if report.unmapped == 1 else "device addresses"
        items.append(element("li", f"{report.unmapped} {addresses}: no part is mapped there"))
    if report.astray:
        items.append(element("li", astray_in_words(report.astray)))
    items += [element("li", element("b", "caution"), f": {caution}") for caution in report.cautions]
    if items:
        yield element("ul", items, class_="list")


def _mends(build: BuildPage, level: str, _number: int) -> Iterator[Markup]:
    if build.mends is None:
        yield element("p", "Not planned for so many findings; ", element("code", "clockhop mend"), " does.")
    elif build.mends.plan.mends or build.mends.left:
        yield from changes(build.mends, level)


def _memory(build: BuildPage, level: str, _number: int) -> Iterator[Markup]:
    for budget in build.budgets:
        yield from sheets(budget, level)


def _source(report: Check) -> _Content:
    return lambda build, level, number: listing(build.cycles, number, report.findings, level)


def _about(report: Check) -> Iterator[Markup]:
    """The pages of the manual for what was found."""
    named = {row.finding.name for row in report.findings}
    for rule in RULES:
        if rule.name in named:
            yield element("h3", rule.name, id=f"about-{rule.name}")
            yield element("p", rule.summary, ".")
            yield from (element("p", part) for part in rule.parts)
