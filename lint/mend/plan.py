"""Plans the least change that keeps a program's waits and gives slow parts their time at another clock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from ..chain import Chain
from ..errors import Place
from ..quantity import Clock
from ..source import Edit
from ..timing import Wait, waits
from .edited import Texts, again, made
from .goal import Goal, Key, Wanted, goals, key
from .keep import kept
from .model import Change, Grade, Left, Mend, Plan
from .pad import Pad, pad_step
from .padding import Padding, moved
from .reach import reach
from .retiming import Retimed, open_counts, pads_of, retimings, time_outs

Only = Literal["retime", "pad"]

# Pads can make room for others to be seen as needed; after this many rounds the rest is left.
_MOST_ROUNDS: Final = 8


@dataclass(frozen=True, slots=True)
class Options:
    """What to mend for: the new clock, the old one where no note speaks, which kinds of mend.

    `keep_gaps` keeps every gap between accesses as long in time as at `written_for` and needs no part data; `checked`
    makes mends of that grade as well.
    """

    clock: Clock
    written_for: Clock | None = None
    only: Only | None = None
    keep_gaps: bool = False
    checked: bool = False


def plan(chain: Chain, options: Options) -> Plan:
    """Mends of one build, each with its evidence; what can't be mended is in `left` with the reason.

    Every mend that would be written has been through the whole chain again on the edited text.
    """
    return _Planner(chain, options).plan()


class _Planner:
    def __init__(self, chain: Chain, options: Options) -> None:
        self.chain = chain
        self.options = options
        self.texts = Texts.of(chain)
        self.mends: list[Mend] = []
        self.left: list[Left] = []
        # Files whose notes have to be there before counts in other files change, should the run be cut short.
        self.first: set[str] = set()
        self.retimed: frozenset[int] = frozenset()
        self.goals: Mapping[Key, Goal] = {}
        old = options.written_for
        self.keep = kept(chain, old) if options.keep_gaps and old is not None else None

    def plan(self) -> Plan:
        if self.options.only != "pad":
            self._retime()
        if self.options.only != "retime":
            self._pad()
        changed = self.texts.changed()
        return Plan(
            self.options.clock,
            self.options.written_for,
            tuple(self.mends),
            tuple(dict.fromkeys(self.left)),
            {path: self.texts.original[path] for path in changed},
            {path: changed[path] for path in sorted(changed, key=lambda path: path not in self.first)},
        )

    # -- waits -----------------------------------------------------------------------------------------------

    def _retime(self) -> None:
        """Innermost waits first: one that calls another is solved when that one lasts as long as it has to."""
        clock, old = self.options.clock, self.options.written_for
        self.left += time_outs(self.chain, clock, old)
        self.left += open_counts(self.chain, clock, old)
        self.goals = goals(self.chain, clock, old)
        closed: set[Key] = set()
        while True:
            waiting = {name: goal for name, goal in self.goals.items() if name not in closed}
            found = retimings(self.chain, clock, old, waiting, self.retimed)
            ready = [each for each in found if not self._waits_for(each[0], found)]
            if not ready:
                return
            paddings = self._made_together([each for _, each in ready])
            closed |= {key(wait) for wait, _ in ready}
            closed = {(kind, moved(at, paddings)) for kind, at in closed}
            self.goals = {(kind, moved(at, paddings)): goal for (kind, at), goal in self.goals.items()}

    def _waits_for(self, wait: Wait, found: list[tuple[Wait, Retimed | Left]]) -> bool:
        inside = reach(self.chain.graph, wait)
        return any(other.index in inside for other, _ in found if other is not wait)

    def _made_together(self, found: list[Retimed | Left]) -> list[Padding]:
        """Makes those that are to be made and that come out as solved; the pads that came in with them."""
        self.left += [self._given(each) for each in found if isinstance(each, Left)]
        solved = [each for each in found if isinstance(each, Retimed)]
        wanted = [each for each in solved if self._wanted(each.evidence.grade)]
        chosen = self._confirmed(wanted)
        self.mends += [
            self._retimed(each, each in chosen) for each in solved if each in chosen or each not in wanted
        ]
        if not chosen:
            return []
        self.first |= {each.note[0] for each in chosen if each.note is not None and len(each.edits) > 1}
        paddings = pads_of(chosen)
        indices = self.retimed | {each.wait.index for each in chosen}
        self.retimed = frozenset(moved(index, paddings) for index in indices)
        self.texts.current = made(self.texts.current, self.chain, _edits(chosen))
        self.chain = again(self.chain, self.texts.current)
        self._padded(paddings)
        return paddings

    def _wanted(self, grade: Grade) -> bool:
        return grade == "proved" or (grade == "checked" and self.options.checked)

    def _padded(self, paddings: list[Padding]) -> None:
        self.keep = self.keep.moved(paddings) if self.keep else None

    def _confirmed(self, chosen: list[Retimed]) -> list[Retimed]:
        """Those that, all made together, last what they were solved for when the edited text is counted again."""
        while chosen:
            edited = self._edited(chosen)
            wrong = [each for each in chosen if not each.lasts_in(edited, chosen)]
            reason = "counted again on the edited text it does not last what it was solved for"
            if not wrong:
                reason = _new_problem(self.chain, edited) or self._spoilt(edited, chosen)
                if not reason:
                    return chosen
                wrong = [each for each in chosen if _new_problem(self.chain, self._edited([each]))] or chosen
            self.left += [self._given(Left(each.subject, each.place, reason)) for each in wrong]
            chosen = [each for each in chosen if each not in wrong]
        return []

    def _spoilt(self, edited: Chain, chosen: list[Retimed]) -> str:
        """A wait that lasts what it has to, and would not any more: it shares a count with one that is changed."""
        paddings = pads_of(chosen)
        after = {key(wait): wait.cycles for wait in waits(edited.timings)}
        for wait in waits(self.chain.timings):
            goal = self.goals.get(key(wait))
            lasts = after.get((wait.kind, moved(wait.index, paddings)), 0)
            if isinstance(goal, Wanted) and goal.met(wait.cycles) and not goal.met(lasts):
                return f"{wait.name} lasts what it has to, and would then last {lasts} cycles"
        return ""

    def _edited(self, chosen: list[Retimed]) -> Chain:
        return again(self.chain, made(self.texts.current, self.chain, _edits(chosen)))

    def _retimed(self, retimed: Retimed, chosen: bool) -> Mend:
        before = self.texts.current
        return Mend(
            "retime",
            retimed.subject,
            tuple(map(self._original, retimed.places)),
            retimed.reason,
            retimed.result,
            retimed.evidence,
            tuple(_changes(before, made(before, self.chain, _edits([retimed])))),
            chosen,
        )

    def _original(self, place: Place) -> Place:
        """The place in the file as it was given."""
        return replace(place, line=self.texts.original_line(place.path, place.line))

    def _given(self, left: Left) -> Left:
        return replace(left, place=self._original(left.place))

    # -- pads ------------------------------------------------------------------------------------------------

    def _pad(self) -> None:
        given = self.chain
        self.left += self.keep.left if self.keep else ()
        for _ in range(_MOST_ROUNDS):
            step = pad_step(self.chain, self.options.clock, self.options.written_for, self.keep)
            if not step.made:
                self.left += map(self._given, step.left)
                self._note_pads(step.shown, False)
                return
            edited = made(self.texts.current, self.chain, step.edits)
            after = again(self.chain, edited)
            fault = _new_problem(given, after)
            if fault:
                self.left += [self._given(Left(pad.subject, pad.place, fault)) for pad in step.made]
                return
            self._note_pads(step.made, True)
            self.texts.current, self.chain = edited, after
            self._padded([pad.padding for pad in step.made])

    def _note_pads(self, pads: Iterable[Pad], written: bool) -> None:
        before = self.texts.current
        for pad in pads:
            places = tuple(map(self._original, pad.places))
            alone = made(before, self.chain, {pad.path: [pad.edit]})
            self.mends.append(
                Mend(
                    "pad",
                    pad.subject,
                    places,
                    pad.reason,
                    pad.result,
                    pad.evidence,
                    tuple(_changes(before, alone)),
                    written,
                )
            )


def _edits(chosen: Iterable[Retimed]) -> dict[str, list[Edit]]:
    found: dict[str, list[Edit]] = {}
    for retimed in chosen:
        for path, edits in retimed.edits.items():
            found.setdefault(path, []).extend(e for e in edits if e not in found.get(path, []))
    return found


def _changes(before: Mapping[str, bytes], after: Mapping[str, bytes]) -> Iterator[Change]:
    for path, data in after.items():
        if data != before[path]:
            yield Change(path, before[path], data)


def _new_problem(before: Chain, after: Chain) -> str:
    """What the edited text has that the given one had not: a branch out of reach, code over code."""
    known = Counter(message for _, message in _problems(before))
    for place, message in _problems(after):
        known[message] -= 1
        if known[message] < 0:
            return f"the edited text would not do: {place}: {message}"
    if _overlaps(after) > _overlaps(before):
        return "the code would grow over what stands behind it"
    return ""


def _problems(chain: Chain) -> Iterator[tuple[Place, str]]:
    for problem in chain.program.problems:
        yield problem.place, problem.message
    for opaque in chain.program.opaque:
        yield opaque.origin.place, opaque.cause


def _overlaps(chain: Chain) -> int:
    """Bytes that two instructions, or an instruction and data, both claim."""
    program = chain.program
    claimed: set[int] = set(program.data)
    twice = 0
    for instruction in program.instructions:
        for address in range(instruction.address, instruction.end):
            twice += address in claimed
            claimed.add(address)
    return twice
