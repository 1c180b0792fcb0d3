"""Writes the solution of a wait into its text, and says on what evidence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..assemble import Instruction, OperandNumber, Origin, Program, Symbol
from ..chain import Chain
from ..cpu import Action
from ..errors import Place
from ..flow import fragment
from ..quantity import Clock, Duration
from ..rules.words import counted as many
from ..source import Edit, Source, Span, WrittenFor
from ..timing import Wait, waits
from .asdata import read_as_data
from .edited import again, made
from .goal import Wanted, key, written
from .ground import not_understood, rests
from .knob import measure
from .model import Evidence, Left
from .number import respell
from .outer import Outer
from .padding import Padding, moved, several
from .proof import Comparison, Way, compared, compared_with, within
from .reach import reach
from .retime import Solution
from .text import around, exchanged, inserted, noted, replaced
from .trial import STATES, agree
from .use import Frame, Use
from .wider import OWN, Wider


@dataclass(frozen=True, slots=True)
class Retimed:
    """A wait, its solution, and the edits by file. `wait` speaks of the program before the edits.

    `note` is the edit among them that writes the wait's time beside it, where that is not there yet.
    """

    wait: Wait
    solution: Solution
    subject: str
    place: Place
    places: tuple[Place, ...]
    reason: str
    result: str
    evidence: Evidence
    use: Use
    edits: Mapping[str, list[Edit]]
    note: tuple[str, Edit] | None

    def lasts_in(self, edited: Chain, together: Sequence[Retimed], cycles: int | None = None) -> bool:
        """Whether the wait, counted in the edited program, lasts what it was solved for, or so many cycles."""
        paddings = pads_of(together)
        kind, index = key(self.wait)
        sought = (kind, moved(index, paddings))
        if self.solution.outer is not None and kind == "loop":
            sought = (kind, moved(self.solution.outer.first, paddings) + 1)
        found = next((wait for wait in waits(edited.timings) if key(wait) == sought), None)
        return found is not None and measure(edited.timings.analysis, found) == (
            self.solution.cycles if cycles is None else cycles
        )


def pads_of(together: Iterable[Retimed]) -> list[Padding]:
    """The pads of several waits, each once."""
    return list(dict.fromkeys(padding for each in together for padding in each.solution.inserted))


def edits_of(chosen: Iterable[Retimed]) -> dict[str, list[Edit]]:
    """The edits of several waits by file, each once."""
    found: dict[str, list[Edit]] = {}
    for retimed in chosen:
        for path, edits in retimed.edits.items():
            found.setdefault(path, []).extend(e for e in edits if e not in found.get(path, []))
    return found


class Maker:
    def __init__(self, chain: Chain, clock: Clock, written_for: Clock | None) -> None:
        self.chain = chain
        self.program: Program = chain.program
        self.clock = clock
        self.written_for = written_for
        self.within = within(chain.graph)

    def short(self, wait: Wait, goal: Wanted) -> str:
        """What the wait lasts now, and what it has to last."""
        now = self.clock.duration(wait.cycles)
        whose = "its note states" if goal.stated else f"it lasts at {self._old()}"
        return f"{wait.cycles} cycles are {now.text()} at {self.clock.text()}; {whose} {goal.lasts.text(6, 'down')}"

    def _old(self) -> str:
        return self.written_for.text() if self.written_for is not None else "the old clock"

    def retimed(self, wait: Wait, goal: Wanted, solution: Solution, use: Use) -> Retimed | Left:
        place = self.program.instructions[wait.index].origin.place
        edits: dict[str, list[Edit]] = {}
        try:
            if solution.outer is not None:
                remark = self._inside(wait, goal, solution)
                touched = [*self.outer(solution, solution.outer, remark, edits)]
            elif solution.wider is not None:
                touched = [*self.wider(solution, solution.wider, edits)]
            else:
                touched = [*self.count(solution, edits), *self.pads(solution, edits)]
            inside = solution.outer is not None and wait.kind == "loop"
            note = None if goal.stated or inside else self.noted(wait, _meant(goal, solution), None)
        except CannotEdit as fault:
            return Left(wait.name, place, f"{self.short(wait, goal)}; {fault}")
        if note is not None:
            edits.setdefault(note[0], []).append(note[1])
            touched.append(self.program.instructions[wait.index].origin)
        return Retimed(
            wait=wait,
            solution=solution,
            subject=wait.name,
            place=place,
            places=tuple(dict.fromkeys(origin.text_place for origin in touched)),
            reason=f"{wait.name}: {self.short(wait, goal)}",
            result=self._result(goal, solution),
            evidence=self._evidence(wait, solution, use, edits),
            use=use,
            edits=edits,
            note=note,
        )

    def _result(self, goal: Wanted, solution: Solution) -> str:
        lasts = self.clock.duration(solution.cycles)
        over = Duration(lasts.seconds - goal.lasts.seconds)
        error = "exactly as long" if not over.seconds else f"{over.text(3, 'up')} longer"
        if over.seconds < 0:
            error = f"{Duration(-over.seconds).text(3, 'up')} shorter"
        return f"{solution.cycles} cycles, {lasts.text()} at {self.clock.text()}: {error}"

    # -- edits -----------------------------------------------------------------------------------------------

    def count(self, solution: Solution, edits: dict[str, list[Edit]]) -> Iterator[Origin]:
        """Puts the new counts of a solution among the edits; where they stand."""
        for count in solution.counts:
            instruction = self.program.instructions[count.index]
            if count.number.symbol is not None:
                yield self._constant(count.number, count.value, edits)
                continue
            self.once(instruction)
            span, text = self._respelled(count.number, count.value)
            source = instruction.origin.source
            edits.setdefault(source.name, []).extend(replaced(source, span, text))
            yield instruction.origin

    def constant(self, number: OperandNumber) -> Symbol:
        """The constant of the source that is this count alone. Raises CannotEdit where it is more, or none."""
        symbol = self.program.label(number.symbol or "")
        if symbol is None or symbol.kind != "constant" or symbol.origin is None or symbol.span is None:
            raise CannotEdit(f"its count is {number.symbol}, which is no constant of the source")
        if len(symbol.uses) > 1:
            raise CannotEdit(
                f"{symbol.name} is used in {len(symbol.uses)} places, and only one is this count"
            )
        return symbol

    def _constant(self, number: OperandNumber, value: int, edits: dict[str, list[Edit]]) -> Origin:
        symbol = self.constant(number)
        assert symbol.origin is not None
        assert symbol.span is not None
        source = symbol.origin.source
        text = source.of(symbol.span)
        new = None if symbol.value is None else respell(text.strip(), symbol.value, value)
        if new is None:
            raise CannotEdit(f"{symbol.name} is written as {text.strip()}, which is not a plain number")
        edits.setdefault(source.name, []).extend(replaced(source, symbol.span, new))
        return symbol.origin

    def outer(
        self, solution: Solution, outer: Outer, note: str, edits: dict[str, list[Edit]]
    ) -> Iterator[Origin]:
        """Puts an outer level among the edits, with a note at its head; where it stands."""
        number = solution.number
        first, last = (self.program.instructions[index] for index in (outer.first, outer.last))
        for each in (first, last):
            self.once(each)
            if several(each):
                raise CannotEdit("its line holds several statements")
        source = first.origin.source
        if source is not last.origin.source:
            raise CannotEdit("its count is loaded in another file")
        inner = None
        if number is not None and number.symbol is not None:
            yield self._constant(number, solution.value, edits)
        elif number is not None:
            inner = self._respelled(number, solution.value)
        changes = edits.setdefault(source.name, [])
        changes += around(first, outer.load, outer.label, inner, note)
        turn = [(filler.mnemonic, filler.operand) for filler in outer.turn]
        changes.append(inserted(last, turn, ""))
        yield first.origin
        yield last.origin

    def wider(self, solution: Solution, wider: Wider, edits: dict[str, list[Edit]]) -> Iterator[Origin]:
        """Puts another counter among the edits; where it stands."""
        if solution.number is not None and solution.number.symbol is not None:
            yield self._constant(solution.number, solution.value, edits)
        for index, fillers, own in wider.written():
            instruction = self.program.instructions[index]
            self.once(instruction)
            if several(instruction):
                raise CannotEdit("its line holds several statements")
            lines = [(filler.mnemonic, filler.operand) for filler in fillers]
            source = instruction.origin.source
            edits.setdefault(source.name, []).extend(exchanged(instruction, lines, (OWN, own)))
            yield instruction.origin

    def _inside(self, wait: Wait, goal: Wanted, solution: Solution) -> str:
        """The note of a loop, which goes to the head of the one around it."""
        if wait.kind != "loop":
            return ""
        if goal.stated:
            raise CannotEdit(
                "its counter is too narrow, and its note would stand inside an outer level; "
                "write that level by hand, with the note at its head"
            )
        return f"timing: {_meant(goal, solution)}"

    def _respelled(self, number: OperandNumber, value: int) -> tuple[Span, str]:
        text = None if number.value is None else respell(number.text, number.value, value)
        if number.span is None or text is None:
            raise CannotEdit(f"its count is written as {number.text}, which is not a plain number")
        return number.span, text

    def pads(self, solution: Solution, edits: dict[str, list[Edit]]) -> Iterator[Origin]:
        """Puts the pads of a solution among the edits; where they stand."""
        for padding in solution.paddings:
            if not padding.fillers:
                continue
            instruction = self.program.instructions[padding.behind]
            self.once(instruction)
            if several(instruction):
                raise CannotEdit("its line holds several statements")
            edits.setdefault(instruction.origin.source.name, []).append(padding.edit(instruction))
            yield instruction.origin

    def note(self, wait: Wait, lasts: Duration) -> tuple[str, Edit]:
        """The edit that writes the wait's time beside it, with its file."""
        return self.noted(wait, f"takes {written(lasts)}", None)

    def noted(self, wait: Wait, text: str, instead: Clock | None) -> tuple[str, Edit]:
        """The edit that writes a note beside the wait, instead of one about that clock where there is one."""
        instruction = self.program.instructions[wait.index]
        self.once(instruction)
        source: Source = instruction.origin.source
        for bound in self.program.notes if instead is not None else ():
            if bound.index == wait.index and isinstance(bound.note.note, WrittenFor):
                note = bound.note
                return bound.origin.source.name, Edit(note.start, note.end, f"timing: {text}".encode())
        return source.name, noted(source, instruction.origin.statement, text)

    def once(self, instruction: Instruction) -> None:
        """Refuses a line that stands for several instructions, as in a macro."""
        origin = instruction.origin
        alike = [i for i in self.program.instructions if i.origin.statement is origin.statement]
        if len(alike) > 1:
            raise CannotEdit("its line is in a macro that is used more than once")

    # -- evidence --------------------------------------------------------------------------------------------

    def evidence(self, wait: Wait, solution: Solution, use: Use, counted: str) -> Evidence:
        """How far the wait with its new count and pads is shown to do what it did, apart from its time."""
        if use.hurts:
            return Evidence("shown", (use.judged,))
        if use.frame is not None:
            return Evidence("shown", (use.judged, *self._frame(wait, solution, use.frame)))
        changed = {solution.index, *(count.index for count in solution.counts)}
        readers = (read_as_data(self.chain.timings.analysis, index) for index in sorted(changed))
        reader = next((line for line in readers if line is not None), None)
        if reader is not None:
            return Evidence("shown", (f"line {reader} reads it as data",))
        unread = not_understood(self.chain, reach(self.chain.graph, wait) | changed)
        if unread:
            return Evidence("shown", (unread,))
        ground = rests(self.chain)
        same = ["registers, flags and memory that are read behind it hold the same, for all states"]
        new: dict[int, Action] = {}
        for count in solution.counts:
            action = self.program.instructions[count.index].action
            fields = {**action.fields, count.number.hole: count.value}
            new[count.index] = self.program.cpu.bind(action.row, action.variant, fields, action.address)
        if new:
            analysis = self.chain.timings.analysis
            comparison = compared(analysis, wait, new, self.within)
            if comparison.different:
                if not comparison.decided and agree(analysis, wait, new):
                    return Evidence("checked", (f"executed {STATES}: the same behind it", counted, ground))
                return Evidence("shown", (f"{comparison.different} holds something else behind it",))
            same += _but_for(comparison)
        return Evidence("proved", (*same, counted, ground))

    def _evidence(
        self, wait: Wait, solution: Solution, use: Use, edits: Mapping[str, list[Edit]]
    ) -> Evidence:
        counted = f"counted again on the edited text: {solution.cycles} cycles"
        if solution.outer is None and solution.wider is None:
            return self.evidence(wait, solution, use, counted)
        found = self.evidence(wait, replace(solution, number=None), use, counted)
        if found.grade != "proved":
            return found
        comparison = self._edited(wait, solution.inserted, edits)
        if comparison.different:
            return Evidence("shown", (f"{comparison.different} holds something else behind it",))
        same, *others = found.lines
        return Evidence("proved", (same, *_but_for(comparison), *others))

    def _edited(
        self, wait: Wait, inserted: tuple[Padding, ...], edits: Mapping[str, list[Edit]]
    ) -> Comparison:
        """The wait compared with what it is in the edited text, new instructions and all."""
        files = {source.name: source.data for source in self.program.files}
        edited = again(self.chain, made(files, self.chain, edits))

        def new(index: int) -> int:
            return moved(index, inserted)

        def there(way: Way) -> Way:
            source, target = way
            tail = sum(len(padding.fillers) for padding in inserted if padding.behind == source)
            return new(source) + tail, None if target is None else new(target)

        nodes = {new(node) for node in wait.part.nodes}
        nodes |= {new(each.behind) + n for each in inserted for n in range(1, len(each.fillers) + 1)}
        more = sum(len(padding.fillers) for padding in inserted)
        if len(edited.program.instructions) != len(self.program.instructions) + more:
            return Comparison("the program", True, frozenset())
        part = fragment(edited.graph, new(wait.part.entry), frozenset(nodes))
        return compared_with(
            self.chain.timings.analysis, wait, edited.timings.analysis, part, self.within, there
        )

    def _frame(self, wait: Wait, solution: Solution, frame: Frame) -> Iterator[str]:
        """How long the frame then is, and was."""
        if self.written_for is not None and frame.cycles:
            cycles = frame.cycles + frame.turns * frame.times * (solution.cycles - wait.cycles)
            now, was = self.clock.duration(cycles), self.written_for.duration(frame.cycles)
            turns = many(frame.turns, "turn")
            yield f"its {turns} then take {now.text(5)}, and took {was.text(5)} at {self.written_for.text()}"


def _meant(goal: Wanted, solution: Solution) -> str:
    """What the note of a wait says; that it must last at least so long where no count came near."""
    near = goal.most is None or solution.cycles <= goal.most
    return f"takes {'' if near else 'at least '}{written(goal.lasts)}"


def _but_for(comparison: Comparison) -> Iterator[str]:
    if comparison.no_result:
        names = ", ".join(sorted(comparison.no_result))
        yield f"but for {names}, the same after every run and read by nothing in the text"


class CannotEdit(Exception):
    """Why an edit can't be made in the text."""
