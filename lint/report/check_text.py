"""`check` for people: findings with what is known below them and a summary, or lines of a build log."""

from collections import Counter
from collections.abc import Iterator, Sequence

from ..address import shown
from ..chain import Comparison
from ..rules import Astray, Severity
from .check import SEVERITIES, Check, FindingRow, Gone
from .table import Paint


def text(report: Check, paint: Paint) -> Iterator[str]:
    """Every finding with its notes, then the summary, then the cautions."""
    for row in report.findings:
        finding = row.finding
        name = paint(f"{finding.severity}: {finding.name}", finding.severity)
        yield f"{finding.place}: {name}: {finding.message}"
        yield from (paint(f"    {note}", "dim") for note in _notes(report, row))
    if report.findings:
        yield ""
    yield from summary(report, paint)


def lines(report: Check) -> Iterator[str]:
    """Each finding in one line that stands alone, and nothing else."""
    for row in report.findings:
        finding = row.finding
        yield f"{finding.place}: {finding.severity}: {finding.name}: {finding.message}"
    yield from (
        f"{build.source}: error: too-little-understood: {build.too_little}"
        for build in report.builds
        if build.too_little
    )
    if report.image and not report.image.fits:
        yield f"{report.image.path}: error: other-bytes: {compared_with(report.image)}"
    for gone in report.known.gone if report.known else ():
        yield f"{gone.place}: note: known-gone: {_gone(gone)}"


def summary(report: Check, paint: Paint) -> Iterator[str]:
    """How many of everything, what could not be judged and why, and the cautions."""
    for build in report.builds:
        title = build.source if build.name == build.source else f"{build.source}, build {build.name}"
        clocks = ", ".join(clock.text() for clock in build.clocks)
        before = f", written for {build.written_for.text()}" if build.written_for else ""
        yield paint(f"{title}, {build.processor} at {clocks}{before}", "head")
    yield f"findings: {_by_severity(report, paint)}{_accepted(report)}{_known(report)}"
    for gone in report.known.gone if report.known else ():
        yield paint(f"    {gone.place}: known, but gone: {_gone(gone)}", "dim")
    yield f"requirements: {_counted(len(report.holds), 'hold')}, {len(report.opens)} unknown"
    yield from (paint(f"    unknown: {row.open.subject}: {row.open.reason}", "dim") for row in report.opens)
    addresses = "device address" if report.unmapped == 1 else "device addresses"
    yield f"{report.unmapped} {addresses} not judged because no part is mapped there"
    if report.astray:
        yield astray_in_words(report.astray)
    for build in report.builds:
        if build.too_little:
            yield paint(f"    too little of {build.name}: {build.too_little}", "error")
    yield from (f"caution: {caution}" for caution in report.cautions)
    if report.image:
        yield paint(
            f"image {report.image.path}: {compared_with(report.image)}",
            "good" if report.image.fits else "error",
        )
    yield _coverage(report)


def astray_in_words(rows: Sequence[Astray]) -> str:
    """How many accesses go nobody knows where, through what, and where the first of each stands."""
    kinds = (f"{row.count} through {row.through}, first {row.first.path}:{row.first.line}" for row in rows)
    accesses = plural(sum(row.count for row in rows), "access", "accesses")
    return f"{accesses} not judged because the address is not known: {'; '.join(kinds)}"


def compared_with(image: Comparison) -> str:
    """How the bytes of the program compare with those that were burned, in one line."""
    rest = "".join(
        f"; {plural(count, 'byte')} {what}"
        for count, what in (
            (image.absent, "of the program not in the image"),
            (image.unknown, "not compared, their values or places are not known"),
        )
        if count
    )
    if image.first is None:
        compared = (
            f"all {plural(image.compared, 'byte')} compared are the program's"
            if image.compared
            else "nothing compared"
        )
        return compared + rest
    first = image.first
    where = f"first at {shown(first.address)}, {first.place.path}:{first.place.line}"
    bytes_there = f"${first.ours:02X} in the program, ${first.burned:02X} burned"
    habit = f"; with --habit {image.habit} all fit" if image.habit else ""
    return (
        f"{image.differing} of {plural(image.compared, 'byte')} differ, {where}: {bytes_there}{rest}{habit}"
    )


def _coverage(report: Check) -> str:
    """How much was not understood, and of what kind most of it is."""
    text = f"{report.not_understood} of {report.statements} statements not understood"
    causes = Counter(unread.cause for unread in report.unread).most_common(1)
    if not causes:
        return text
    ((cause, count),) = causes
    first = next(unread for unread in report.unread if unread.cause == cause)
    more = f", and {plural(count - 1, 'line')} more" if count > 1 else ""
    return f"{text}; most often: {cause} ({first.file}:{first.line}{more})"


def _notes(report: Check, row: FindingRow) -> Iterator[str]:
    yield from row.finding.notes
    if len(row.builds) < len(report.builds):
        yield f"in {'build' if len(row.builds) == 1 else 'builds'} {', '.join(row.builds)}"


def _by_severity(report: Check, paint: Paint) -> str:
    if not report.findings:
        return paint("none", "good")
    return ", ".join(_severity(report.count(severity), severity, paint) for severity in SEVERITIES)


def _severity(count: int, severity: Severity, paint: Paint) -> str:
    return paint(plural(count, severity), severity) if count else f"no {severity}s"


def plural(count: int, word: str, several: str = "") -> str:
    """A number and its word: "1 error", "2 errors"; `several` where an s is not enough."""
    return f"{count} {word}" if count == 1 else f"{count} {several or f'{word}s'}"


def _counted(count: int, verb: str) -> str:
    return f"{count} {verb}s" if count == 1 else f"{count} {verb}"


def _gone(gone: Gone) -> str:
    times = f"recorded {plural(gone.recorded, 'time')}, found {plural(gone.found, 'time')}"
    return f"{gone.name} of {gone.subject} in {gone.file} {times}; record anew"


def _known(report: Check) -> str:
    return f"; {report.known.left_out} known" if report.known else ""


def _accepted(report: Check) -> str:
    return f"; {report.accepted} accepted" if report.accepted else ""
