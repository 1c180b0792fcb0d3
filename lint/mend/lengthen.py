"""Gives short branches their long form: those that a mend would put out of reach of their targets."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from ..assemble import Instruction, OperandNumber
from ..chain import Chain
from ..cpu import TAKEN, Action, Cost, OperandError, cost
from ..flow import Graph, liveness
from ..source import Edit
from .edited import again, changes, made
from .fault import Places, new_problem, out_of_reach
from .filler import Filler, truth
from .ground import not_understood, rests
from .longform import TARGET, LongForm, ahead, long_form, near
from .model import Evidence, Mend
from .padding import Padding, moved, several
from .text import instead

# A line of the text as it was given: file and number.
Line = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Lengthened:
    """A program whose branches at some lines are long ones. `stuck` are those that can't be, by line, and why."""

    chain: Chain
    paddings: tuple[Padding, ...]
    branches: tuple[Longer, ...]
    mends: tuple[Mend, ...]
    stuck: Mapping[Line, str]


@dataclass(frozen=True, slots=True)
class Longer:
    """A branch that was made long: its line in the given text, where it and its target stand now, and the short one."""

    line: Line
    index: int
    target: int
    short: Action

    def moved(self, paddings: Sequence[Padding]) -> Longer:
        return replace(self, index=moved(self.index, paddings), target=moved(self.target, paddings))

    def needed(self, chain: Chain) -> bool:
        """Whether the short one would not do."""
        here, there = (chain.program.instructions[index].address for index in (self.index, self.target))
        hole = near(self.short)
        assert hole is not None
        try:
            chain.program.cpu.bind(
                self.short.row, self.short.variant, {**self.short.fields, hole.name: there}, here
            )
        except OperandError:
            return True
        return False


def line_of(instruction: Instruction) -> Line:
    return instruction.origin.path, instruction.origin.line


def lengthened(chain: Chain, lines: frozenset[Line]) -> Lengthened:
    """The program with long branches at those lines, and at all that they put out of reach in turn."""
    longer = _Maker(chain)
    wanted = {i.index for i in chain.program.instructions if line_of(i) in lines and near(i.action)}
    while True:
        after = longer.made(wanted)
        further = set(out_of_reach(chain, after, longer.paddings(wanted))) - wanted
        if not further:
            break
        wanted |= further
    paddings = longer.paddings(wanted)
    fault = new_problem(chain, after, paddings)
    if fault:
        stuck = {line_of(chain.program.instructions[index]): fault for index in wanted}
        return Lengthened(chain, (), (), (), {**stuck, **longer.stuck})
    done = sorted(wanted - longer.failed)
    mends = longer.mends(done, after, paddings)
    return Lengthened(
        after, tuple(paddings), tuple(longer.branches(done, paddings)), tuple(mends), longer.stuck
    )


class _Maker:
    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.program = chain.program
        self.files = {source.name: source.data for source in chain.program.files}
        self.forms: dict[int, LongForm] = {}
        self.stuck: dict[Line, str] = {}
        self.failed: set[int] = set()

    @cached_property
    def _live(self) -> tuple[frozenset[str], ...]:
        return tuple(liveness(self.chain.graph).after)

    def made(self, wanted: Iterable[int]) -> Chain:
        """The program with those branches long, but for the ones that can't be."""
        return again(self.chain, made(self.files, self.chain, self._edits(wanted)))

    def _edits(self, wanted: Iterable[int]) -> dict[str, list[Edit]]:
        edits: dict[str, list[Edit]] = {}
        for index in sorted(wanted):
            form = self._form(index)
            if form is not None:
                instruction = self.program.instructions[index]
                edits.setdefault(instruction.origin.source.name, []).extend(self._written(instruction, form))
        return edits

    def paddings(self, wanted: Iterable[int]) -> list[Padding]:
        """What the program then has more, as if it were pads."""
        found = []
        for index in sorted(wanted):
            form = self._form(index)
            if form is not None:
                more = len(form.lines) - (form.hop is None)
                found.append(Padding(index, (Filler("", "", 0, 0, form.spoils),) * more))
        return found

    def _form(self, index: int) -> LongForm | None:
        if index not in self.forms and index not in self.failed:
            form = self._found(index)
            if isinstance(form, str):
                self.failed.add(index)
                self.stuck[line_of(self.program.instructions[index])] = form
            else:
                self.forms[index] = form
        return self.forms.get(index)

    def _found(self, index: int) -> LongForm | str:
        instruction = self.program.instructions[index]
        origin = instruction.origin
        alike = [each for each in self.program.instructions if each.origin.statement is origin.statement]
        if len(alike) > 1:
            return "its line is in a macro that is used more than once"
        target = _target(instruction)
        if several(instruction) or target is None or target.span is None:
            return "its line holds more than it"
        unread = not_understood(self.chain, {index, *(edge.target for edge in self.chain.graph.edges[index])})
        if unread:
            return unread
        cpu = self.program.cpu
        spare = frozenset(cpu.flags) - self._live[index]
        form = long_form(cpu, instruction.action, spare)
        return "the processor has no long form of it" if form is None else form

    def _written(self, instruction: Instruction, form: LongForm) -> list[Edit]:
        target = _target(instruction)
        assert target is not None
        assert target.span is not None
        lines = [(word, *text.partition(TARGET)) for word, text in form.lines]
        texts = [(word, before, target.text if mark else "", behind) for word, before, mark, behind in lines]
        hop = None if form.hop is None else (target.span, ahead(self.program.cpu, form.hop))
        return instead(instruction, texts, hop)

    def branches(self, done: Iterable[int], paddings: list[Padding]) -> Iterator[Longer]:
        for index in done:
            instruction = self.program.instructions[index]
            goals = [edge.target for edge in self.chain.graph.edges[index] if edge.way != "passed"]
            call = self.chain.graph.calls.get(index)
            if call is not None and call.target is not None:
                goals = [call.target]
            for goal in goals[:1]:
                yield Longer(line_of(instruction), index, goal, instruction.action).moved(paddings)

    def mends(self, done: Iterable[int], after: Chain, paddings: list[Padding]) -> Iterator[Mend]:
        places = Places(len(self.program.instructions), paddings)
        for index in done:
            instruction, form = self.program.instructions[index], self.forms[index]
            target = _target(instruction)
            assert target is not None
            name = f"{instruction.mnemonic} {target.text}"
            behind = dict(self._costs(after.graph, places.own[index], places.new))
            told = (
                f"{_WORDS.get(way, '')}{behind.get(places.heads[goal], '?')} for {cycles}"
                for way, goal, cycles in self._ways(index)
            )
            alone = made(self.files, self.chain, self._edits([index]))
            yield Mend(
                "reach",
                name,
                (instruction.origin.text_place,),
                f"{name} would not reach {target.text} any more",
                f"{' / '.join(_words(instruction, form, target.text))}, cycles {', '.join(told)}",
                self._evidence(form),
                tuple(changes(self.files, alone)),
                True,
            )

    def _ways(self, index: int) -> Iterator[tuple[str, int, str]]:
        """How a branch is left, for where, and the cycles that takes."""
        costs = dict(self._costs(self.chain.graph, index, frozenset()))
        for edge in self.chain.graph.edges[index]:
            yield edge.way, edge.target, costs[edge.target]

    def _costs(self, graph: Graph, index: int, new: Set[int]) -> Iterator[tuple[int, str]]:
        """Cycles from an instruction to each that comes next, past those that are new."""
        waiting = [(index, 0, 0)]
        while waiting:
            node, fewest, most = waiting.pop()
            for edge in graph.edges[node]:
                here = self._cost(graph.program.instructions[node].action, edge.way)
                low, high = fewest + here.fewest, most + (here.fewest if here.most is None else here.most)
                if edge.target in new:
                    waiting.append((edge.target, low, high))
                else:
                    yield edge.target, str(low) if low == high else f"{low} to {high}"

    def _cost(self, action: Action, way: str) -> Cost:
        cpu, modes = self.program.cpu, frozenset(self.chain.timings.analysis.modes.items())
        taken = {"taken": True, "passed": False}.get(way)
        return cost(action, lambda n: taken if n == TAKEN else truth(cpu, modes, action.conditions[n]))

    def _evidence(self, form: LongForm) -> Evidence:
        touched = f"spoils only {', '.join(sorted(form.spoils))}, which nobody reads there"
        return Evidence(
            "proved",
            (
                "it goes where the short one went under the same condition, tried for all that decides it",
                touched if form.spoils else "registers, flags and memory hold the same behind it",
                rests(self.chain),
            ),
        )


_WORDS: Final = {"taken": "taken ", "passed": "passed "}


def _words(instruction: Instruction, form: LongForm, target: str) -> Iterator[str]:
    """The instructions of the long form as they are written."""
    if form.hop is not None:
        yield f"{instruction.mnemonic} to the jump behind it"
    for word, text in form.lines:
        yield f"{word} {text.replace(TARGET, target)}"


def _target(instruction: Instruction) -> OperandNumber | None:
    hole = near(instruction.action)
    return next((each for each in instruction.operands if hole is not None and each.hole == hole.name), None)
