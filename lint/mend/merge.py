"""One text of each file for all builds: their edits put together, and every build analysed again on it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from ..chain import Chain, judge
from ..errors import ClockhopError, Place
from ..rules import Finding
from .edited import again
from .model import Plan

Planned = Sequence[tuple[Chain, Plan]]


@dataclass(frozen=True, slots=True)
class _Change:
    """Lines from `start` up to `end` (from 0) of a file, what stands there instead, and the build that asks for it."""

    start: int
    end: int
    lines: tuple[bytes, ...]
    build: str

    def same(self, other: _Change) -> bool:
        return (self.start, self.end, self.lines) == (other.start, other.end, other.lines)

    def meets(self, other: _Change) -> bool:
        """Whether both touch a line, or put lines in at one place."""
        if self.start == self.end or other.start == other.end:
            return self.start <= other.end and other.start <= self.end
        return self.start < other.end and other.start < self.end


def merged(plans: Planned) -> dict[str, tuple[bytes, bytes]]:
    """What each file is and becomes, in the order to write them.

    Equal edits of several builds are made once, those of different lines all. Raises ClockhopError, with both builds
    and the line, where two ask for different things at one place.
    """
    found: dict[str, tuple[bytes, bytes]] = {}
    for path in dict.fromkeys(path for _, plan in plans for path in plan.after):
        asking = [(chain.name, plan) for chain, plan in plans if path in plan.after]
        before = asking[0][1].before[path]
        found[path] = before, _merged(path, before, [(name, plan.after[path]) for name, plan in asking])
    return found


def harmed(plans: Planned, files: Mapping[str, bytes]) -> str:
    """What a build would have in the new texts that it has not now; an empty text where there is nothing."""
    for chain, _ in plans:
        own = {source.name for source in chain.program.files}
        if not own & files.keys():
            continue
        after = again(chain, {path: text for path, text in files.items() if path in own})
        known = Counter((each.name, each.subject) for each in _findings(chain))
        for each in _findings(after):
            known[each.name, each.subject] -= 1
            if known[each.name, each.subject] < 0:
                return f"build {chain.name} would then have: {each.place}: {each.name}: {each.message}"
    return ""


def _findings(chain: Chain) -> Iterator[Finding]:
    for verdict in judge(chain).verdicts:
        if isinstance(verdict, Finding) and verdict.severity != "note":
            yield verdict


def _merged(path: str, before: bytes, asked: Sequence[tuple[str, bytes]]) -> bytes:
    if len({text for _, text in asked}) == 1:
        return asked[0][1]
    lines = before.splitlines(keepends=True)
    made: list[_Change] = []
    for name, text in asked:
        for change in _changes(lines, text.splitlines(keepends=True), name):
            if any(change.same(other) for other in made):
                continue
            other = next((each for each in made if change.meets(each)), None)
            if other is not None:
                raise ClockhopError(
                    f"builds {other.build} and {name} ask for different changes of this line; mend them one by one",
                    Place(path, min(change.start, other.start) + 1),
                )
            made.append(change)
    for change in sorted(made, key=lambda each: -each.start):
        lines[change.start : change.end] = change.lines
    return b"".join(lines)


def _changes(old: list[bytes], new: list[bytes], build: str) -> Iterator[_Change]:
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        # Line by line where as many stand there afterwards, so that neighbours may change in different builds.
        if b - a == d - c:
            for offset in range(b - a):
                yield _Change(a + offset, a + offset + 1, (new[c + offset],), build)
        else:
            yield _Change(a, b, tuple(new[c:d]), build)
