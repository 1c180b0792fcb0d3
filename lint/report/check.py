"""The report of `check`: findings, requirements that hold, requirements that can't be judged, and what was left out."""

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

from ..board import FailOn, Part
from ..chain import Chain, Comparison
from ..errors import Place
from ..quantity import Clock
from ..rules import RULES, Astray, Finding, Holds, Open, PadGoal, Severity, Verdict, astray
from ..visible import shortened
from .mended import GRADES, Mended

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")

_LONGEST_NAME = 200

_ORDER = {rule.name: number for number, rule in enumerate(RULES)}

_AT_OWN_RISK = "running parts beyond their data sheet is at the owner's risk"
_ONLY_SHOWN = "outputs that move, heat, strike or program are shown, not rewritten"
_DECIDE = "data sheets, local codes and licensed practice decide"


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding, the builds it is in, and the weakest evidence of its mends; None where nobody asked for it.

    `runs` are the positions of those builds in the report, `label` the nearest one above the finding, `character` its
    column in characters, where its place counts bytes.
    """

    finding: Finding
    builds: tuple[str, ...]
    mend: Mended | None
    runs: tuple[int, ...]
    label: str
    character: int


@dataclass(frozen=True, slots=True)
class HoldsRow:
    """A requirement that every path keeps, and the build it is in."""

    holds: Holds
    build: str


@dataclass(frozen=True, slots=True)
class OpenRow:
    """A requirement that can't be judged, and the build it is in."""

    open: Open
    build: str


@dataclass(frozen=True, slots=True)
class Unread:
    """A line that was not understood, and the first reason."""

    file: str
    line: int
    cause: str


@dataclass(frozen=True, slots=True)
class BuildChecked:
    """One build: its clocks, and how much of its text was understood; `root` is the folder it belongs to.

    `unread` are the lines that were not, in the order of the program. `fail_on` is the level from which on its
    findings fail, `not_understood` the share of its statements that may be, as its project file says.
    """

    name: str
    source: str
    root: str
    processor: str
    clocks: tuple[Clock, ...]
    written_for: Clock | None
    statements: int
    understood: int
    unread: tuple[Unread, ...]
    fail_on: FailOn
    not_understood: Fraction | None

    @property
    def too_little(self) -> str:
        """What to say where more was not understood than may be; a half is always too much. Else empty."""
        unknown = self.statements - self.understood
        if self.not_understood is not None and unknown > self.not_understood * self.statements:
            share = f"{float(self.not_understood * 100):g}%"
            return f"{unknown} of {self.statements} statements not understood; not_understood: allows {share}"
        if unknown * 2 >= self.statements:
            return f"{unknown} of {self.statements} statements not understood, a half or more is too much"
        return ""


@dataclass(frozen=True, slots=True)
class Gone:
    """A recorded finding that is there `found` times instead of the `recorded`; `place` is that of its entry."""

    place: Place
    name: str
    file: str
    subject: str
    recorded: int
    found: int


@dataclass(frozen=True, slots=True)
class Compared:
    """What a record of known findings did: how many of them were left out, and which are no longer there."""

    path: str
    left_out: int
    gone: tuple[Gone, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """The report. `findings` are in the order of files and lines; one that several builds share stands once.

    `accepted` counts findings that the source or the project file accepts; `cautions` are said once. `unmapped` are the
    device addresses that were not judged because no part is there, `astray` the accesses through pointers that were not
    judged because nobody knows where they point. `image` is what a comparison with burned bytes gave.
    `known` is None where nothing was compared with a
    record; findings left out by it are not in `findings`.
    """

    builds: tuple[BuildChecked, ...]
    findings: tuple[FindingRow, ...]
    holds: tuple[HoldsRow, ...]
    opens: tuple[OpenRow, ...]
    accepted: int
    cautions: tuple[str, ...]
    unmapped: int
    astray: tuple[Astray, ...]
    known: Compared | None = None
    image: Comparison | None = None

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """Every bus clock at which a build was judged."""
        return tuple(dict.fromkeys(clock for build in self.builds for clock in build.clocks))

    def count(self, severity: Severity) -> int:
        """How many findings have that severity."""
        return sum(row.finding.severity == severity for row in self.findings)

    @property
    def statements(self) -> int:
        """Lines that are neither blank nor comment, over all builds."""
        return sum(build.statements for build in self.builds)

    @property
    def not_understood(self) -> int:
        """Statements that were not understood, over all builds."""
        return sum(build.statements - build.understood for build in self.builds)

    @property
    def unread(self) -> tuple[Unread, ...]:
        """The lines that were not understood, over all builds."""
        return tuple(unread for build in self.builds for unread in build.unread)

    def fails(self, level: FailOn | None = None) -> bool:
        """Whether a finding is at or above the level; None: that of the build it is in.

        A build of which too little was understood, or other bytes than were burned, fails at every level.
        """
        is_other = self.image is not None and not self.image.fits
        return (
            is_other
            or any(build.too_little for build in self.builds)
            or any(
                row.finding.severity in _failing(level or self.builds[number].fail_on)
                for row in self.findings
                for number in row.runs
            )
        )


def _failing(level: FailOn) -> tuple[Severity, ...]:
    return () if level == "never" else SEVERITIES[: SEVERITIES.index(level) + 1]


@dataclass(frozen=True, slots=True)
class Judged:
    """One build with what the rules say about it; `accepted` counts the findings left out as accepted.

    `mends` are the grades of `mended`, one for each finding in order; empty where they were not asked for.
    """

    chain: Chain
    verdicts: tuple[Verdict, ...]
    accepted: int
    mends: tuple[Mended, ...] = ()


def check(judged: Sequence[Judged]) -> Check:
    """The report on builds that have been judged; the same in whatever order they come."""
    judged = sorted(judged, key=lambda each: (each.chain.request.source, each.chain.name))
    findings = tuple(_findings(judged))
    return Check(
        builds=tuple(_build(each.chain) for each in judged),
        findings=findings,
        holds=tuple(HoldsRow(each, name) for name, each in _verdicts(judged) if isinstance(each, Holds)),
        opens=tuple(
            OpenRow(Open(shortened(each.subject, _LONGEST_NAME), shortened(each.reason)), name)
            for name, each in _verdicts(judged)
            if isinstance(each, Open)
        ),
        accepted=sum(each.accepted for each in judged),
        cautions=tuple(_cautions(judged)),
        unmapped=len({row.finding.subject for row in findings if row.finding.name == "address-unmapped"}),
        astray=tuple(
            dict.fromkeys(row for each in judged for row in astray(each.chain.timings, each.chain.board))
        ),
    )


def _build(chain: Chain) -> BuildChecked:
    return BuildChecked(
        chain.name,
        chain.request.source,
        _root(chain),
        chain.request.processor,
        chain.board.clocks,
        chain.board.written_for,
        chain.program.statements,
        chain.program.understood,
        tuple(_unread(chain)),
        chain.request.project.fail_on if chain.request.project else "warning",
        chain.request.project.not_understood if chain.request.project else None,
    )


def _unread(chain: Chain) -> Iterator[Unread]:
    for opaque in chain.program.opaque:
        yield Unread(opaque.origin.path, opaque.origin.line, shortened(opaque.cause))


def _root(chain: Chain) -> str:
    """The folder of the project file, else that of the source."""
    project = chain.request.project
    return os.path.dirname(project.path if project else chain.request.source)


def _verdicts(judged: Iterable[Judged]) -> Iterator[tuple[str, Verdict]]:
    for each in judged:
        for verdict in each.verdicts:
            yield each.chain.name, verdict


def _findings(judged: Iterable[Judged]) -> Iterator[FindingRow]:
    found: dict[tuple[object, ...], FindingRow] = {}
    for number, each in enumerate(judged):
        findings = (verdict for verdict in each.verdicts if isinstance(verdict, Finding))
        for finding, mend in zip_longest(findings, each.mends):
            key = (finding.place, finding.name, finding.message)
            row = FindingRow(
                finding=_shortened(finding),
                builds=(each.chain.name,),
                mend=mend,
                runs=(number,),
                label=_label(each.chain, finding),
                character=_character(each.chain, finding.place),
            )
            found[key] = _joined(found[key], row) if key in found else row
    yield from sorted(found.values(), key=_position)


def _shortened(finding: Finding) -> Finding:
    """The finding as a person can read it: a name or a line of a source may be a megabyte long."""
    return replace(
        finding,
        message=shortened(finding.message),
        subject=shortened(finding.subject, _LONGEST_NAME),
        notes=tuple(shortened(note) for note in finding.notes),
    )


def _joined(one: FindingRow, other: FindingRow) -> FindingRow:
    """The same finding in two builds: a mend must do in both."""
    builds = tuple(dict.fromkeys(one.builds + other.builds))
    mend = min((one.mend, other.mend), key=lambda grade: GRADES.index(grade) if grade else -1)
    return replace(one, builds=builds, mend=mend, runs=one.runs + other.runs)


def _position(row: FindingRow) -> tuple[str, int, int, int, str]:
    place = row.finding.place
    return place.path, place.line, place.column, _ORDER.get(row.finding.name, 0), row.finding.message


def _label(chain: Chain, finding: Finding) -> str:
    """The first of the nearest labels at or above the instruction; empty where the finding is of none."""
    if finding.index is None:
        return ""
    above = chain.program.instructions[finding.index :: -1]
    return next((instruction.labels[0] for instruction in above if instruction.labels), "")


def _character(chain: Chain, place: Place) -> int:
    source = next((file for file in chain.program.files if file.name == place.path), None)
    if source is None or not 0 < place.line <= len(source.lines) or not place.column:
        return place.column
    start = source.lines[place.line - 1].start
    return len(source.data[start : start + place.column - 1].decode(source.encoding, "replace")) + 1


def _cautions(judged: Sequence[Judged]) -> Iterator[str]:
    """What must be said once: where something is beyond its rating or can hurt, and the warnings of the sheets.

    Of a part only where a finding is about it: a caution without a reason is passed over.
    """
    findings = [verdict for _, verdict in _verdicts(judged) if isinstance(verdict, Finding)]
    over = any(finding.name == "over-rating" for finding in findings)
    hurts = any(finding.hurts for finding in findings)
    if over or hurts:
        yield "; ".join(text for text in (_AT_OWN_RISK * over, _ONLY_SHOWN * hurts, _DECIDE) if text)
    yield from dict.fromkeys(
        f"{part.name}: {remark.text}"
        for each in judged
        for part in _concerned(each)
        for remark in each.chain.board.cautions(part)
    )


def _concerned(judged: Judged) -> Iterator[Part]:
    """The parts with two accesses that a finding is about."""
    board = judged.chain.board
    for verdict in judged.verdicts:
        if isinstance(verdict, Finding) and isinstance(verdict.goal, PadGoal):
            address = verdict.goal.then.access.address
            mapped = board.part_at(address)
            yield from (mapped[0],) if mapped else ()
            yield from board.behind_at(address)
