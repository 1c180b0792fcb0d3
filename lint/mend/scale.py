"""Plans counts by a clock symbol: wait by wait from the inside out, each confirmed with every clock in the symbol."""

from __future__ import annotations

from collections.abc import Mapping

from ..chain import Chain
from ..errors import ClockhopError
from ..quantity import Clock
from ..source import Edit
from ..timing import Wait
from .bysymbol import At, Scaled, Scaler, same_bytes
from .clocksymbol import clock_symbol
from .edited import Texts, again, changes, made
from .fault import new_problem
from .goal import Key, key
from .maker import Retimed, edits_of, pads_of
from .model import Left, Mend
from .options import Options
from .padding import moved
from .reach import reach


class Scale:
    """`run` leaves the edited program in `chain` and `texts`, and says what it did in `mends` and `left`."""

    def __init__(
        self, chain: Chain, texts: Texts, clocks: tuple[Clock, ...], old: Clock, name: str, options: Options
    ) -> None:
        self.chain = chain
        self.texts = texts
        self.mends: list[Mend] = []
        self.left: list[Left] = []
        self.symbol = clock_symbol(chain, name, old)
        self._options = options
        self._old = old
        self._clocks = (old, *(clock.fastest for clock in dict.fromkeys(clocks) if clock != old))
        if len(self._clocks) == 1:
            raise ClockhopError(
                "--by-symbol needs another clock than the old one; add --clock, such as --clock 2MHz"
            )

    def run(self) -> None:
        closed: set[Key] = set()
        scaler = Scaler(self.symbol, self._old, self._options.within)
        while True:
            places = [At.of(self._at(self.chain, self.texts.current, clock), clock) for clock in self._clocks]
            found = [each for each in scaler.scalings(places) if key(each[0]) not in closed]
            ready = [each for each in found if not self._waits_for(each[0], [wait for wait, _ in found])]
            if not ready:
                return
            closed |= {key(wait) for wait, _ in ready}
            self.left += [each for _, each in ready if isinstance(each, Left)]
            made_now = self._made([each for _, each in ready if isinstance(each, Scaled)])
            closed = {(kind, moved(at, pads_of(made_now))) for kind, at in closed}

    def _waits_for(self, wait: Wait, others: list[Wait]) -> bool:
        inside = reach(self.chain.graph, wait)
        return any(other.index in inside for other in others if other is not wait)

    def _at(self, chain: Chain, texts: Mapping[str, bytes], clock: Clock) -> Chain:
        return clock_symbol(chain, self.symbol.name, self._old).at(chain, texts, self._old, clock)

    def _made(self, solved: list[Scaled]) -> list[Retimed]:
        wanted = [each for each in solved if self._options.wanted(each.retimed.evidence.grade)]
        chosen = self._confirmed(wanted)
        for each in solved:
            if each in chosen or each not in wanted:
                self.mends.append(self._mend(each, each in chosen))
        if chosen:
            self.texts.current = self._edited(chosen)
            self.chain = again(self.chain, self.texts.current)
            self.symbol = clock_symbol(self.chain, self.symbol.name, self._old)
        return [each.retimed for each in chosen]

    def _edited(self, scaled: list[Scaled]) -> dict[str, bytes]:
        return made(self.texts.current, self.chain, self._edits(scaled))

    def _edits(self, scaled: list[Scaled]) -> dict[str, list[Edit]]:
        edits = edits_of(each.retimed for each in scaled)
        definition = self.symbol.definition(self.chain, self._old)
        if definition is not None and scaled:
            path, edit = definition
            edits.setdefault(path, []).insert(0, edit)
        return edits

    def _confirmed(self, chosen: list[Scaled]) -> list[Scaled]:
        """Those that, all made together, last what they were solved for at every clock."""
        while chosen:
            wrong = self._wrong(chosen)
            if not wrong:
                return chosen
            if len(chosen) > 1 and len(wrong) == len(chosen):
                wrong = [(each, self._wrong([each])[0][1]) for each in chosen if self._wrong([each])] or wrong
            self.left += [Left(each.retimed.subject, each.retimed.place, reason) for each, reason in wrong]
            bad = [each for each, _ in wrong]
            chosen = [each for each in chosen if each not in bad]
        return []

    def _wrong(self, chosen: list[Scaled]) -> list[tuple[Scaled, str]]:
        texts = self._edited(chosen)
        base = again(self.chain, texts)
        together = [each.retimed for each in chosen]
        if not pads_of(together) and not same_bytes(self.chain.program, base.program):
            return [(each, f"at {self._old.text()} its bytes would be others") for each in chosen]
        for clock in self._clocks:
            there = self._at(base, texts, clock)
            fault = new_problem(self.chain, there, pads_of(together))
            if fault:
                return [(each, fault) for each in chosen]
            wrong = [e for e in chosen if not e.retimed.lasts_in(there, together, e.cycles[clock])]
            if wrong:
                reason = f"counted again on the edited text at {clock.text()} it does not last what it was solved for"
                return [(each, reason) for each in wrong]
        return []

    def _mend(self, scaled: Scaled, chosen: bool) -> Mend:
        each, before = scaled.retimed, self.texts.current
        return Mend(
            "retime",
            each.subject,
            tuple(map(self.texts.given, each.places)),
            each.reason,
            each.result,
            each.evidence,
            tuple(changes(before, self._edited([scaled]))),
            chosen,
            each.use,
        )
