"""Findings of an old tree that are known: recorded in a file today, left out of the report tomorrow.

An entry says how often its finding is there. More than that is never left out, and what is no longer there is named.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace

from ..errors import Place, RecordError
from ..tables import Node, load
from .check import BuildChecked, Check, Compared, FindingRow, Gone
from .fingerprint import Identity, bus_clock, identity, relative

VERSION = 1

_HEAD = "# Findings that were there when this was recorded; clockhop check --known leaves them out."
_WORDS = tuple(field.name for field in fields(Identity))


@dataclass(frozen=True, slots=True)
class Entry:
    """A finding that is there `count` times, in `builds`, when judged at the bus clocks `clocks` (in Hz)."""

    count: int
    builds: frozenset[str]
    clocks: frozenset[str]
    place: Place


@dataclass(frozen=True, slots=True)
class Known:
    """The entries of a record; its paths are relative to the folder of `path`."""

    path: str
    entries: Mapping[Identity, Entry]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What a new record holds: its text, how many findings it has, and how many more or fewer than the old one."""

    text: str
    count: int
    more: int
    fewer: int


def read_known(text: str, path: str) -> Known:
    """The record written in `text`. Raises RecordError with its place for what is none, and for one entry twice."""
    fields = load(text, path, RecordError).fields(required=("version", "findings"))
    fields["version"].integer(VERSION, VERSION)
    entries: dict[Identity, Entry] = {}
    for node in fields["findings"].sequence():
        one, entry = _entry(node)
        if one in entries:
            node.fail(f"this finding stands in line {entries[one].place.line}, too; keep one of them")
        entries[one] = entry
    return Known(path, entries)


def compare(report: Check, known: Known) -> Check:
    """The report without the findings that are known.

    Where one is there more often than recorded, all of its kind stay: which of them is new can't be told.
    """
    root = os.path.dirname(known.path)
    found = _found(report, root)
    new: list[FindingRow] = []
    left_out = 0
    for row in report.findings:
        one = identity(row, report.clocks, root)
        entry = known.entries.get(one)
        if entry is None:
            new.append(row)
        elif found[one] > entry.count:
            new.append(_noted(row, entry.count, found[one]))
        else:
            left_out += row.finding.count
    gone = tuple(_gone(known, found, _judged(report, root), _clocks(report.builds)))
    return replace(report, findings=tuple(new), known=Compared(known.path, left_out, gone))


def record(report: Check, path: str, old: Known | None) -> Recorded:
    """The findings of the report as a record to be written to `path`.

    Entries of `old` that this run could not judge, being of other builds or clocks, stay as they are.
    """
    root = os.path.dirname(path)
    former = old.entries if old else {}
    entries = _entries(report, root)
    builds, clocks = _judged(report, root), _clocks(report.builds)
    for one, entry in former.items():
        if not entry.builds <= builds or not entry.clocks <= clocks:
            entries[one] = _joined(entries[one], entry) if one in entries else entry
    before = {one: entry.count for one, entry in former.items()}
    after = {one: entry.count for one, entry in entries.items()}
    return Recorded(
        "".join(f"{line}\n" for line in _written(entries)),
        sum(after.values()),
        sum((Counter(after) - Counter(before)).values()),
        sum((Counter(before) - Counter(after)).values()),
    )


def _found(report: Check, root: str) -> Counter[Identity]:
    found: Counter[Identity] = Counter()
    for row in report.findings:
        found[identity(row, report.clocks, root)] += row.finding.count
    return found


def _entries(report: Check, root: str) -> dict[Identity, Entry]:
    entries: dict[Identity, Entry] = {}
    for row in report.findings:
        one = identity(row, report.clocks, root)
        of = [report.builds[number] for number in row.runs]
        bus = bus_clock(row.finding, report.clocks)
        names = frozenset(_name(build, root) for build in of)
        clocks = frozenset({str(bus)}) if bus else _clocks(of)
        before = entries.get(one, Entry(0, names, clocks, Place("")))
        entries[one] = Entry(
            before.count + row.finding.count, before.builds | names, before.clocks | clocks, Place("")
        )
    return entries


def _joined(here: Entry, elsewhere: Entry) -> Entry:
    most = max(here.count, elsewhere.count)
    return Entry(most, here.builds | elsewhere.builds, here.clocks | elsewhere.clocks, here.place)


def _noted(row: FindingRow, recorded: int, found: int) -> FindingRow:
    times = "time" if recorded == 1 else "times"
    note = f"recorded as known {recorded} {times}, found {found} times"
    return replace(row, finding=replace(row.finding, notes=(*row.finding.notes, note)))


def _gone(
    known: Known, found: Mapping[Identity, int], builds: frozenset[str], clocks: frozenset[str]
) -> Iterator[Gone]:
    for one, entry in sorted(known.entries.items()):
        there = found.get(one, 0)
        if there < entry.count and entry.builds <= builds and entry.clocks <= clocks:
            yield Gone(entry.place, one.finding, one.file, one.subject, entry.count, there)


def _judged(report: Check, root: str) -> frozenset[str]:
    return frozenset(_name(build, root) for build in report.builds)


def _name(build: BuildChecked, root: str) -> str:
    source = relative(build.source, root)
    return source if build.name == build.source else f"{source}, build {build.name}"


def _clocks(builds: Iterable[BuildChecked]) -> frozenset[str]:
    return frozenset(str(clock.hz) for build in builds for clock in build.clocks)


def _entry(node: Node) -> tuple[Identity, Entry]:
    given = node.fields(required=(*_WORDS, "count", "builds", "clocks"))
    one = Identity(**{word: given[word].text() for word in _WORDS})
    builds = frozenset(item.text() for item in given["builds"].sequence())
    clocks = frozenset(item.text() for item in given["clocks"].sequence())
    return one, Entry(given["count"].integer(1), builds, clocks, node.place)


def _written(entries: Mapping[Identity, Entry]) -> Iterator[str]:
    """A line for each entry in a fixed order, so that two records can be compared and merged line by line."""
    yield _HEAD
    yield f"version: {VERSION}"
    yield "findings:" if entries else "findings: []"
    for one, entry in sorted(entries.items(), key=lambda item: item[0]):
        words = ", ".join(f"{word}: {_quoted(getattr(one, word))}" for word in _WORDS)
        lists = f"builds: {_listed(entry.builds)}, clocks: {_listed(entry.clocks)}"
        yield f"  - {{{words}, count: {entry.count}, {lists}}}"


def _listed(words: Iterable[str]) -> str:
    return f"[{', '.join(_quoted(word) for word in sorted(words))}]"


def _quoted(text: str) -> str:
    """The text as YAML takes it between quotes: whatever a label may hold, on one line."""
    return f'"{"".join(_escaped(character) for character in text)}"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return f"\\{character}"
    return character if " " <= character <= "~" else f"\\U{ord(character):08X}"
