"""Mends for what an editor holds, worked out in a process of its own that can be ended at any moment.

The process reads one JSON value, what is asked for with the texts of open files, and writes one: the offers.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from difflib import SequenceMatcher
from typing import Any, Final

from ..chain import Asked, Chain, judge, reader, requests, run, with_room
from ..errors import ClockhopError
from ..mend import Mend, Options, Plan, plan
from ..quantity import Clock, parse_clock
from ..rules import Finding, PadGoal

COMMAND: Final = (sys.executable, "-c", "from clockhop.editor.mending import main; main()")


@dataclass(frozen=True, slots=True)
class LineEdit:
    """`text` in place of the lines `start` up to `end` (from 0, `end` not in it) of a file; equal: inserted there."""

    path: str
    start: int
    end: int
    text: str


@dataclass(frozen=True, slots=True)
class Offer:
    """One mend. `lines` are the lines it is offered at: those it changes, and those of findings it is for.

    `refused` says why it is only shown, empty where it may be made.
    """

    title: str
    evidence: tuple[str, ...]
    lines: tuple[tuple[str, int], ...]
    edits: tuple[LineEdit, ...]
    refused: str


def asking(asked: Asked, texts: Mapping[str, bytes]) -> bytes:
    """The question to the process."""
    value = {
        **asdict(replace(asked, clocks=(), written_for=None)),
        "clocks": [f"{clock.hz} Hz" for clock in asked.clocks],
        "written_for": f"{asked.written_for.hz} Hz" if asked.written_for else None,
        "texts": {path: data.decode("latin-1") for path, data in texts.items()},
    }
    return json.dumps(value).encode()


def offers(answer: bytes) -> tuple[Offer, ...]:
    """What the process answered; nothing where it could not do its work."""
    try:
        given = json.loads(answer)
    except ValueError:
        return ()
    return tuple(
        Offer(
            each["title"],
            tuple(each["evidence"]),
            tuple((path, line) for path, line in each["lines"]),
            tuple(LineEdit(**edit) for edit in each["edits"]),
            each["refused"],
        )
        for each in given
    )


def main() -> None:
    """Reads the question, writes the answer: an empty list where a program can't be run."""
    given: dict[str, Any] = json.load(sys.stdin)
    texts = {path: text.encode("latin-1") for path, text in given.pop("texts").items()}
    old = given.pop("written_for")
    clocks = tuple(parse_clock(clock) for clock in given.pop("clocks"))
    rest: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in given.items()
    }
    asked = Asked(**rest, clocks=clocks, written_for=parse_clock(old) if old else None)
    try:
        found = with_room(lambda: offered(asked, texts))
    except ClockhopError:
        found = ()
    json.dump([asdict(offer) for offer in found], sys.stdout)


def offered(asked: Asked, texts: Mapping[str, bytes]) -> tuple[Offer, ...]:
    """Every mend of what is asked for, first all together, then one by one.

    One that not every build with its files asks for is refused. Raises ClockhopError as the chain does.
    """
    planned = [_Planned(chain, made, tuple(_offers(chain, made))) for chain, made in _plans(asked, texts)]
    found: dict[tuple[LineEdit, ...], Offer] = {}
    for each in planned:
        for offer in each.offers:
            alone = [other.chain.name for other in planned if other.reads(offer) and not other.has(offer)]
            if alone and not offer.refused:
                offer = replace(offer, refused=f"build {alone[0]} asks for another change, or for none")
            found.setdefault(offer.edits, offer)
    single = tuple(found.values())
    return (*_together(planned, single), *single)


@dataclass(frozen=True, slots=True, eq=False)
class _Planned:
    """The mends of one build."""

    chain: Chain
    plan: Plan
    offers: tuple[Offer, ...]

    def reads(self, offer: Offer) -> bool:
        names = {os.path.realpath(source.name) for source in self.chain.program.files}
        return any(os.path.realpath(edit.path) in names for edit in offer.edits)

    def has(self, offer: Offer) -> bool:
        return any(other.edits == offer.edits for other in self.offers)


def _plans(asked: Asked, texts: Mapping[str, bytes]) -> Iterator[tuple[Chain, Plan]]:
    for request in requests(asked):
        chain = run(request, reader(request, texts))
        if chain.board.clocks:
            clock: Clock = max(chain.board.clocks).fastest
            yield chain, plan(chain, Options(clock, chain.board.written_for))


def _together(planned: Sequence[_Planned], single: Sequence[Offer]) -> Iterator[Offer]:
    """All proved mends in one step, where there are several and the builds agree on them."""
    good = [offer for offer in single if not offer.refused]
    if len(good) < 2 or any(offer.refused.startswith("build ") for offer in single):
        return
    edits: dict[LineEdit, None] = {}
    for made in (each.plan for each in planned):
        for path, after in made.after.items():
            edits.update(dict.fromkeys(line_edits(path, made.before[path], made.before[path], after)))
    lines = tuple(dict.fromkeys(line for offer in good for line in offer.lines))
    evidence = tuple(offer.title for offer in good)
    yield Offer(f"make all {len(good)} proved mends", evidence, lines, tuple(edits), "")


def _offers(chain: Chain, made: Plan) -> Iterator[Offer]:
    originals = {source.name: source.data for source in chain.program.files}
    findings = [verdict for verdict in judge(chain).verdicts if isinstance(verdict, Finding)]
    for mend in made.mends:
        edits = tuple(
            edit
            for change in mend.changes
            for edit in line_edits(change.path, originals[change.path], change.before, change.after)
        )
        grade = mend.evidence.grade
        yield Offer(
            f"{mend.kind} {mend.subject}: {mend.result}; {grade}",
            (mend.reason, *mend.evidence.lines),
            tuple(dict.fromkeys(_lines(chain, mend, made.mends, findings))),
            edits,
            "" if mend.made and edits else "; ".join(mend.evidence.lines or (grade,)),
        )


def _lines(
    chain: Chain, mend: Mend, mends: Sequence[Mend], findings: Iterable[Finding]
) -> Iterator[tuple[str, int]]:
    yield from ((place.path, place.line) for place in mend.places)
    for finding in findings:
        place = finding.place
        if _way(chain, finding) & {(each.path, each.line) for each in mend.places} or (
            finding.subject == mend.subject
            and not isinstance(finding.goal, PadGoal)
            and _distance(mend, finding)
            == min(_distance(m, finding) for m in mends if m.subject == mend.subject)
        ):
            yield place.path, place.line


def _way(chain: Chain, finding: Finding) -> set[tuple[str, int]]:
    """The lines between the two accesses a finding is about."""
    if not isinstance(finding.goal, PadGoal):
        return set()
    origins = (chain.program.instructions[index].origin for index in finding.goal.path)
    return {(origin.text_place.path, origin.text_place.line) for origin in origins}


def _distance(mend: Mend, finding: Finding) -> int:
    """Lines between a mend and a finding; more than any file has where they are in different ones."""
    lines = (abs(p.line - finding.place.line) for p in mend.places if p.path == finding.place.path)
    return min(lines, default=sys.maxsize)


def line_edits(path: str, original: bytes, before: bytes, after: bytes) -> Iterator[LineEdit]:
    """What makes `after` of `before`, as edits of the original; nothing where it changes what others changed first."""
    source, old, new = (text.splitlines(keepends=True) for text in (original, before, after))
    home = _home(source, old)
    found: list[LineEdit] = []
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        start = home.get(a, None if a < b else home.get(a - 1, -1) + 1 if a else 0)
        if start is None or any(home.get(a + n) != start + n for n in range(b - a)):
            return
        text = b"".join(new[c:d])
        found.append(LineEdit(path, start, start + b - a, _decoded(text, original)))
    yield from found


def _home(original: Sequence[bytes], before: Sequence[bytes]) -> Mapping[int, int]:
    """For each line that stands unchanged in the original: which one it is."""
    blocks = SequenceMatcher(None, before, original, autojunk=False).get_matching_blocks()
    return {block.a + n: block.b + n for block in blocks for n in range(block.size)}


def _decoded(text: bytes, file: bytes) -> str:
    try:
        file.decode()
    except UnicodeDecodeError:
        return text.decode("latin-1")
    return text.decode("utf-8", "replace")
