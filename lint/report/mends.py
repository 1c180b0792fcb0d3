"""The report of `mend`: what changes, why and on what evidence; what is only shown, and what is left."""

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher

from ..chain import Chain
from ..mend import Grade, Left, Mend, Plan

_CONTEXT = 3


@dataclass(frozen=True, slots=True)
class Hunk:
    """One stretch of a file's difference: the lines of a unified diff, and the mends it makes."""

    path: str
    lines: tuple[str, ...]
    mends: tuple[Mend, ...]


@dataclass(frozen=True, slots=True)
class PlanReport:
    """The mends of one build. `made` are the hunks to be written, `shown` those that never are.

    `over_rating`: something on the bus is rated for less than the clock that is mended for.
    """

    name: str
    source: str
    processor: str
    plan: Plan
    made: tuple[Hunk, ...]
    shown: tuple[Hunk, ...]
    over_rating: bool = False

    def count(self, grade: Grade) -> int:
        """How many mends have that grade."""
        return sum(mend.evidence.grade == grade for mend in self.plan.mends)

    @property
    def left(self) -> tuple[Left, ...]:
        return self.plan.left


@dataclass(frozen=True, slots=True)
class Mends:
    """The report over all builds; `written` are the files that were changed, None where nothing was asked for."""

    plans: tuple[PlanReport, ...]
    written: tuple[str, ...] | None


def plan_report(chain: Chain, plan: Plan) -> PlanReport:
    """One plan as the hunks of its difference."""
    kept = [mend for mend in plan.mends if mend.made]
    shown = [mend for mend in plan.mends if not mend.made]
    return PlanReport(
        chain.name,
        chain.request.source,
        chain.request.processor,
        plan,
        tuple(h for path in plan.after for h in _hunks(path, plan.before[path], plan.after[path], kept)),
        tuple(h for mend in shown for c in mend.changes for h in _hunks(c.path, c.before, c.after, [mend])),
        any(
            r.subject == "bus clock" and r.bound == "most" and r.clock < plan.clock
            for r in chain.board.ratings
        ),
    )


def _hunks(path: str, before: bytes, after: bytes, mends: list[Mend]) -> Iterator[Hunk]:
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    for group in matcher.get_grouped_opcodes(_CONTEXT):
        first, last = group[0], group[-1]
        span = range(first[1] + 1, last[2] + 1)
        here = [m for m in mends if any(p.path == path and p.line in span for p in m.places)]
        header = f"@@ -{_range(first[1], last[2])} +{_range(first[3], last[4])} @@"
        body = [line for opcode in group for line in _body(opcode, old, new)]
        yield Hunk(path, (f"--- {path}", f"+++ {path}", header, *body), tuple(here))


def _range(start: int, end: int) -> str:
    length = end - start
    if length == 1:
        return str(start + 1)
    return f"{start + 1 if length else start},{length}"


def _body(opcode: tuple[str, int, int, int, int], old: list[bytes], new: list[bytes]) -> Iterator[str]:
    tag, a, b, c, d = opcode
    if tag == "equal":
        for line in old[a:b]:
            yield from _line(" ", line)
        return
    for line in old[a:b]:
        yield from _line("-", line)
    for line in new[c:d]:
        yield from _line("+", line)


def _line(mark: str, line: bytes) -> Iterator[str]:
    ended = line.endswith((b"\n", b"\r"))
    text = line.removesuffix(b"\n") if line.endswith(b"\n") else line.removesuffix(b"\r")
    yield mark + _text(text)
    if not ended:
        yield "\\ No newline at end of file"


def _text(line: bytes) -> str:
    try:
        return line.decode()
    except UnicodeDecodeError:
        return line.decode("latin-1")
