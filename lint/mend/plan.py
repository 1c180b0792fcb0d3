"""Plans the least change that keeps a program's waits and gives slow parts their time at another clock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from ..chain import Chain
from ..source import Edit
from ..timing import Wait, waits
from .clocksymbol import ClockSymbol
from .edited import Texts, again, changes, made
from .fault import new_problem, out_of_reach
from .goal import Key, goals, key
from .keep import kept
from .lengthen import Line, Longer, lengthened, line_of
from .maker import Retimed, edits_of, pads_of
from .model import Kind, Left, Mend, Plan
from .options import Options
from .pad import Pad, pad_step
from .padding import Padding, moved
from .reach import reach
from .retiming import retimings, unsolved
from .scale import Scale
from .setting import Reset, resets
from .spoilt import spoilt
from .timeout import TimedOut, timed_out, waited
from .unit import Unit, units

# Pads can make room for others to be seen as needed; after this many rounds the rest is left.
_MOST_ROUNDS: Final = 8

_Solved = TimedOut | Reset


def plan(chain: Chain, options: Options) -> Plan:
    """Mends of one build, each with its evidence; what can't be mended is in `left` with the reason.

    Every mend that would be written has been through the whole chain again on the edited text.
    """
    long, short = frozenset[Line](), frozenset[Line]()
    while True:
        planner = _Planner(chain, options, long, short)
        found = planner.plan()
        more, spared = planner.far - long - short, planner.spared()
        if not more and not spared:
            return found
        long, short = (long | more) - spared, short | spared


class _Planner:
    """Plans once. Branches at the lines `long` are made long first; those at `short` are not."""

    def __init__(self, chain: Chain, options: Options, long: frozenset[Line], short: frozenset[Line]) -> None:
        self.chain = chain
        # Branches that were made long, those that can't be, and all that some mend would put out of reach.
        self.longer: tuple[Longer, ...] = ()
        self.stuck: dict[Line, str] = dict.fromkeys(short, "it would be long for nothing")
        self.far: frozenset[Line] = frozenset()
        self.options = options
        self.texts = Texts.of(chain)
        self.mends: list[Mend] = []
        self.left: list[Left] = []
        # Files whose notes have to be there before counts in other files change, should the run be cut short.
        self.first: set[str] = set()
        self.retimed: frozenset[int] = frozenset()
        self.waited = waited(chain, options.written_for)
        self.goals = goals(chain, options.clock, options.written_for, options.within)
        self.symbol: ClockSymbol | None = None
        old = options.written_for
        self.keep = kept(chain, old) if options.keep_gaps and old is not None else None
        if long:
            self._lengthen(long)

    def plan(self) -> Plan:
        clock, old = self.options.clock, self.options.written_for
        if self.options.only != "pad":
            if self.options.by_symbol is None:
                self._retime()
                self._change("retime", timed_out(self.chain, clock, old, self.waited))
                self._change("number", resets(self.chain, clock, old))
            else:
                self._scale(self.options.by_symbol)
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

    # -- branches --------------------------------------------------------------------------------------------

    def _lengthen(self, lines: frozenset[Line]) -> None:
        found = lengthened(self.chain, lines)
        self.longer, self.chain = found.branches, found.chain
        self.mends += found.mends
        self.stuck |= found.stuck
        self.texts.current |= {source.name: source.data for source in found.chain.program.files}
        self._padded(found.paddings)

    def spared(self) -> frozenset[Line]:
        """Branches that were made long, and would reach their targets in the text as it now is if they were not."""
        return frozenset(each.line for each in self.longer if not each.needed(self.chain))

    def _fault(self, after: Chain, paddings: Sequence[Padding]) -> str:
        """Why an edited text would not do; a branch that no longer reaches is made long in the next plan."""
        for index in out_of_reach(self.chain, after, paddings):
            instruction = self.chain.program.instructions[index]
            path, line = line_of(instruction)
            given = path, self.texts.original_line(path, line)
            if given in self.stuck:
                return f"{instruction.mnemonic} in line {given[1]} would not reach its target: {self.stuck[given]}"
            # By a clock symbol every byte stays at the old clock: no branch is made long.
            if self.options.by_symbol is None:
                self.far |= {given}
        fault = new_problem(self.chain, after, paddings)
        return fault or spoilt(self.chain, after, paddings, self.goals if self.symbol is None else {})

    def _scale(self, name: str) -> None:
        """Counts by a clock symbol, for every clock; pads then look at the fastest one."""
        old = self.options.written_for
        assert old is not None
        scaled = Scale(self.chain, self.texts, self.options.clocks, old, name, self.options)
        scaled.run()
        self.chain, self.symbol = scaled.chain, scaled.symbol
        self.mends += scaled.mends
        self.left += scaled.left

    # -- waits -----------------------------------------------------------------------------------------------

    def _retime(self) -> None:
        """Innermost waits first: one that calls another is solved when that one lasts as long as it has to."""
        clock, old = self.options.clock, self.options.written_for
        closed: set[Key] = set()
        for entry in self._units():
            closed |= {key(wait) for wait in waits(self.chain.timings) if self._leads_to(wait, entry)}
        self.left += unsolved(self.chain, clock, old)
        while True:
            waiting = {name: goal for name, goal in self.goals.items() if name not in closed}
            found = retimings(self.chain, clock, old, waiting, self.retimed)
            ready = [each for each in found if not self._waits_for(each[0], found)]
            if not ready:
                return
            paddings = self._made_together([each for _, each in ready])
            closed |= {key(wait) for wait, _ in ready}
            closed = {(kind, moved(at, paddings)) for kind, at in closed}

    def _units(self) -> list[int]:
        """Changes the routines whose unit is kept, one by one; their entries."""
        entries: list[int] = []
        clock, old, within = self.options.clock, self.options.written_for, self.options.within
        while True:
            found = units(self.chain, clock, old, within)
            unit = next(
                (each for each in found if each.entry not in entries and not self._slower(each)), None
            )
            if unit is None:
                return entries
            edited = made(self.texts.current, self.chain, unit.edits)
            after = again(self.chain, edited)
            good = self.options.wanted(unit.evidence.grade) and unit.lasts_in(after)
            chosen = good and not self._fault(after, unit.paddings)
            self.mends.append(
                Mend(
                    "retime",
                    unit.name,
                    tuple(dict.fromkeys(map(self.texts.given, unit.places))),
                    unit.reason,
                    unit.result,
                    unit.evidence,
                    tuple(changes(self.texts.current, edited)),
                    chosen,
                    unit.use,
                )
            )
            if chosen:
                self._padded(list(unit.paddings))
                entries = [moved(entry, unit.paddings) for entry in entries]
                self.texts.current, self.chain = edited, after
            entries.append(unit.entry)

    def _slower(self, unit: Unit) -> bool:
        """Whether a branch of the routine was made long: what it took before is not known from it any more."""
        nodes = self.chain.graph.reachable(unit.entry)
        return any(each.index in nodes for each in self.longer)

    def _leads_to(self, wait: Wait, entry: int) -> bool:
        call = self.chain.graph.calls.get(wait.index) if wait.kind == "call" else None
        return entry == (wait.index if call is None else call.target)

    def _waits_for(self, wait: Wait, found: list[tuple[Wait, Retimed | Left]]) -> bool:
        inside = reach(self.chain.graph, wait)
        return any(other.index in inside for other, _ in found if other is not wait)

    def _made_together(self, found: list[Retimed | Left]) -> list[Padding]:
        """Makes those that are to be made and that come out as solved; the pads that came in with them."""
        self.left += [self._given(each) for each in found if isinstance(each, Left)]
        solved = [each for each in found if isinstance(each, Retimed)]
        wanted = [each for each in solved if self.options.wanted(each.evidence.grade)]
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
        self.texts.current = made(self.texts.current, self.chain, edits_of(chosen))
        self.chain = again(self.chain, self.texts.current)
        self._padded(paddings)
        return paddings

    def _padded(self, paddings: Sequence[Padding]) -> None:
        self.keep = self.keep.moved(paddings) if self.keep else None
        self.goals = {(kind, moved(at, paddings)): goal for (kind, at), goal in self.goals.items()}
        self.longer = tuple(each.moved(paddings) for each in self.longer)
        self.waited = {moved(head, paddings): each for head, each in self.waited.items()}

    def _confirmed(self, chosen: list[Retimed]) -> list[Retimed]:
        """Those that, all made together, last what they were solved for when the edited text is counted again."""
        while chosen:
            edited = self._edited(chosen)
            wrong = [each for each in chosen if not each.lasts_in(edited, chosen)]
            reason = "counted again on the edited text it does not last what it was solved for"
            if not wrong:
                reason = self._fault(edited, pads_of(chosen))
                if not reason:
                    return chosen
                wrong = [e for e in chosen if self._fault(self._edited([e]), pads_of([e]))] or chosen
            self.left += [self._given(Left(each.subject, each.place, reason)) for each in wrong]
            chosen = [each for each in chosen if each not in wrong]
        return []

    def _edited(self, chosen: list[Retimed]) -> Chain:
        return again(self.chain, made(self.texts.current, self.chain, edits_of(chosen)))

    def _retimed(self, retimed: Retimed, chosen: bool) -> Mend:
        before = self.texts.current
        return Mend(
            "retime",
            retimed.subject,
            tuple(map(self.texts.given, retimed.places)),
            retimed.reason,
            retimed.result,
            retimed.evidence,
            tuple(changes(before, made(before, self.chain, edits_of([retimed])))),
            chosen,
            retimed.use,
        )

    # -- time-outs, and numbers of parts ---------------------------------------------------------------------

    def _change(self, kind: Kind, given: Iterable[_Solved | Left]) -> None:
        """Makes those that are to be made and that come out as solved."""
        found = list(given)
        self.left += [self._given(each) for each in found if isinstance(each, Left)]
        solved = [each for each in found if not isinstance(each, Left)]
        wanted = [each for each in solved if self.options.wanted(each.evidence.grade)]
        chosen = self._harmless(wanted)
        for each in solved:
            if each in chosen or each not in wanted:
                self.mends.append(self._changed(kind, each, each in chosen))
        if chosen:
            self.texts.current = self._with(chosen)
            self.chain = again(self.chain, self.texts.current)
            self._padded([padding for each in chosen for padding in each.inserted])

    def _harmless(self, wanted: list[_Solved]) -> list[_Solved]:
        """Those that come out as solved and do no harm together; why the others don't is in `left`."""
        if not wanted or not self._harm_of(wanted):
            return wanted
        good: list[_Solved] = []
        for each in wanted:
            harm = self._harm_of([*good, each])
            if harm:
                self.left.append(self._given(Left(each.subject, each.place, f"{each.reason}; {harm}")))
            else:
                good.append(each)
        return good

    def _harm_of(self, together: list[_Solved]) -> str:
        after = again(self.chain, self._with(together))
        paddings = [padding for each in together for padding in each.inserted]
        fault = self._fault(after, paddings)
        if not fault and not all(each.lasts_in(after, paddings) for each in together):
            return "counted again on the edited text it does not come out as it was solved for"
        return fault

    def _with(self, together: list[_Solved]) -> dict[str, bytes]:
        edits: dict[str, list[Edit]] = {}
        for each in together:
            for path, changed in each.edits.items():
                known = edits.setdefault(path, [])
                known += [edit for edit in changed if edit not in known]
        return made(self.texts.current, self.chain, edits)

    def _changed(self, kind: Kind, each: _Solved, written: bool) -> Mend:
        return Mend(
            kind,
            each.subject,
            tuple(map(self.texts.given, each.places)),
            each.reason,
            each.result,
            each.evidence,
            tuple(changes(self.texts.current, self._with([each]))),
            written,
            each.use if isinstance(each, TimedOut) else None,
        )

    def _given(self, left: Left) -> Left:
        return replace(left, place=self.texts.given(left.place))

    # -- pads ------------------------------------------------------------------------------------------------

    def _pad(self) -> None:
        self.left += self.keep.left if self.keep else ()
        refused: set[Left] = set()
        for _ in range(_MOST_ROUNDS):
            step = pad_step(self._at_clock(), self.options.clock, self.options.written_for, self.keep)
            known = {(left.subject, left.place) for left in refused}
            pads = [pad for pad in step.made if (pad.subject, self.texts.given(pad.place)) not in known]
            pads, faults = self._acceptable(pads)
            refused |= set(faults)
            if not pads:
                self.left += [*map(self._given, step.left), *refused]
                self._note_pads(step.shown, False)
                return
            self._note_pads(pads, True)
            self.texts.current = self._padded_text(pads)
            self.chain = again(self.chain, self.texts.current)
            self._padded([pad.padding for pad in pads])

    def _acceptable(self, pads: list[Pad]) -> tuple[list[Pad], list[Left]]:
        """Those pads that do no harm together, and why the others are left."""
        if not pads or not self._harm(pads):
            return pads, []
        good: list[Pad] = []
        left: list[Left] = []
        for pad in pads:
            harm = self._harm([*good, pad])
            if harm:
                left.append(self._given(Left(pad.subject, pad.place, f"{pad.reason}; {harm}")))
            else:
                good.append(pad)
        return good, left

    def _harm(self, pads: list[Pad]) -> str:
        return self._fault(again(self.chain, self._padded_text(pads)), [pad.padding for pad in pads])

    def _padded_text(self, pads: list[Pad]) -> dict[str, bytes]:
        edits: dict[str, list[Edit]] = {}
        for pad in pads:
            edits.setdefault(pad.path, []).append(pad.edit)
        return made(self.texts.current, self.chain, self._placed(edits))

    def _at_clock(self) -> Chain:
        """The program at the clock that is mended for."""
        old = self.options.written_for
        if self.symbol is None or old is None:
            return self.chain
        return self.symbol.at(self.chain, self.texts.current, old, self.options.clock)

    def _placed(self, edits: Mapping[str, list[Edit]]) -> dict[str, list[Edit]]:
        """Edits of the text as it is at the clock that is mended for, in the text as it stands."""
        old = self.options.written_for
        if self.symbol is None or old is None:
            return dict(edits)
        return self.symbol.back(self.chain, edits, old, self.options.clock)

    def _note_pads(self, pads: Iterable[Pad], written: bool) -> None:
        before = self.texts.current
        for pad in pads:
            places = tuple(map(self.texts.given, pad.places))
            alone = made(before, self.chain, self._placed({pad.path: [pad.edit]}))
            self.mends.append(
                Mend(
                    "pad",
                    pad.subject,
                    places,
                    pad.reason,
                    pad.result,
                    pad.evidence,
                    tuple(changes(before, alone)),
                    written,
                    instead=pad.instead,
                )
            )
