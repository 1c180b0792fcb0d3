"""A finding on the page: what it says, the picture of it, the way it speaks of, and what mends it."""

from __future__ import annotations

from collections.abc import Iterator

from ...rules import Finding, Severity
from ..check import FindingRow
from .bars import compared
from .markup import Markup, element
from .waveform import waveform
from .way import Way

_SIGNS: dict[Severity, str] = {"error": "✕", "warning": "▲", "note": "●"}
_COMPARED = {
    "delay-changes": "lasted",
    "pulse-changes": "lasted",
    "claim-off": "is claimed",
    "memory-too-slow": "is needed",
    "wait-too-short": "is stated",
    "handler-too-long": "comes again after",
}
_MENDED = {
    "proved": "a mend is proved for every state of the machine",
    "checked": "a mend was tried from named states",
    "shown": "a mend is shown, to be made by hand",
    "none": "no mend is known",
}


def badge(severity: Severity) -> Markup:
    """The severity as a sign and a word."""
    sign = element("span", _SIGNS[severity], aria_hidden="true")
    return element("span", sign, " ", severity, class_=f"badge {severity}")


def article(row: FindingRow, way: Way | None, number: int, line: str, builds: int) -> Markup:
    """One finding with its picture; `line` is the id of its line in the source, empty where the page has it not."""
    finding, key = row.finding, f"f{number}"
    where = str(finding.place)
    linked = element("a", where, href=f"#{line}") if line else element("span", where)
    return element(
        "article",
        element("h4", badge(finding.severity), " ", element("span", finding.subject, class_="name")),
        element(
            "p", element("a", finding.name, href=f"#about-{finding.name}"), " at ", linked, class_="where"
        ),
        element("p", finding.message, class_="message"),
        _picture(finding, way, key),
        _facts(row),
        _notes(row, builds),
        id=key,
        aria_label=f"{finding.severity}: {finding.name} of {finding.subject}",
    )


def line_of(row: FindingRow, number: int, line: str) -> Markup:
    """A note in one line, for a list."""
    finding = row.finding
    where = str(finding.place)
    linked = element("a", where, href=f"#{line}") if line else element("span", where)
    about = element("a", finding.name, href=f"#about-{finding.name}")
    return element("li", linked, ": ", about, ": ", finding.message, id=f"f{number}")


def _picture(finding: Finding, way: Way | None, key: str) -> Markup | str:
    if way is not None:
        drawing = waveform(way, finding.subject, finding.whose, key)
        told = f"{finding.subject}, cycle by cycle, at {way.clock.text()}"
        scrolled = element("div", drawing, class_="scroll", tabindex=0, role="group", aria_label=told)
        return element(
            "figure", scrolled, element("figcaption", told, ". F fetch, R read, W write, D unwanted read.")
        )
    if finding.measured is None or finding.limit is None:
        return ""
    words = "lasts", _COMPARED.get(finding.name, "is needed")
    return element("figure", compared(finding.measured, finding.limit, words, key))


def _facts(row: FindingRow) -> Markup:
    finding = row.finding
    facts = list(_known(finding))
    if row.mend is not None:
        facts.append(("mend", _MENDED[row.mend]))
    return element("dl", [element("div", element("dt", name), element("dd", said)) for name, said in facts])


def _known(finding: Finding) -> Iterator[tuple[str, str]]:
    if finding.measured is not None:
        cycles = "" if finding.measured_cycles is None else f" ({finding.measured_cycles} cycles)"
        yield "measured", f"{finding.measured.text()}{cycles}"
    if finding.limit is not None:
        yield "limit", finding.limit.text(6, "up")
    if finding.clock is not None:
        yield "at", finding.clock.text()
    if finding.holds_up_to is not None:
        yield "holds up to", finding.holds_up_to.text(6, "down")
    if finding.short_before:
        yield "before", "short at the old clock as well"
    if finding.hurts:
        yield "caution", "an output that can hurt people or equipment"


def _notes(row: FindingRow, builds: int) -> Markup | str:
    notes = list(row.finding.notes)
    if len(row.builds) < builds:
        notes.append(f"in {'build' if len(row.builds) == 1 else 'builds'} {', '.join(row.builds)}")
    if not notes:
        return ""
    items = element("ul", [element("li", note) for note in notes], class_="notes")
    return element("details", element("summary", "The way, and where the figures come from"), items)
