"""Sets the numbers of timers, dividers and tone generators for another clock: what a part counts lasts as before."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import log2
from typing import Final

from ..assemble import Instruction, OperandNumber, Origin, Symbol
from ..chain import Chain, judge
from ..cpu.notation import COUNTER
from ..errors import Place
from ..flow import fragment, liveness
from ..quantity import Clock, Duration
from ..rules import Case, Constant, Finding, NumberGoal
from ..rules.follow import Followed, followed
from ..rules.rate_off import rate_text
from ..rules.tone_changes import pitch
from ..source import Edit
from ..timing import Wait
from .edited import again, made
from .ground import not_understood, rests
from .maker import CannotEdit, Maker
from .model import Evidence, Left
from .number import respell
from .padding import Padding
from .proof import within
from .text import replaced

_RULES: Final = ("rate-off", "timer-changes", "tone-changes")
_NAME: Final = re.compile(r"[A-Za-z_.@?][A-Za-z0-9_.@?$]*")
_HIGH: Final = re.compile(r">|/|\bHIGH\b|\bSHR\b", re.IGNORECASE)
_WORDS: Final = frozenset({"high", "low", "and", "shr", "mod", "not"})


@dataclass(frozen=True, slots=True)
class Reset:
    """A setting of a part with another number, and the edits by file; it then `lasts` so long at `clock`."""

    index: int
    subject: str
    place: Place
    places: tuple[Place, ...]
    reason: str
    result: str
    evidence: Evidence
    clock: Clock
    lasts: Duration
    edits: Mapping[str, list[Edit]]

    @property
    def inserted(self) -> tuple[Padding, ...]:
        """No instruction comes to the program."""
        return ()

    def lasts_in(self, edited: Chain, _: Sequence[Padding]) -> bool:
        """Whether the part, in the edited program, makes what it was solved for."""
        return any(
            each.at(self.clock) == self.lasts for each in _named(edited, self.clock, self.subject, self.index)
        )


def resets(chain: Chain, clock: Clock, written_for: Clock | None) -> Iterator[Reset | Left]:
    """Every number that has to be another at the clock: how, or why it is left."""
    board = replace(chain.board, clocks=(clock,), written_for=written_for)
    maker = _Maker(chain, clock)
    for verdict in judge(replace(chain, board=board)).verdicts:
        if isinstance(verdict, Finding) and verdict.name in _RULES:
            yield maker.reset(verdict)


def _named(chain: Chain, clock: Clock, name: str, index: int) -> Iterator[Followed]:
    case = Case(chain.timings, chain.board, (clock,), None)
    for each in followed(case):
        if isinstance(each, Followed) and each.name == name and index in {s.index for s in each.chain}:
            yield each


def _writers(now: Followed, index: int) -> frozenset[int]:
    """The instructions that write the number of one divider of its chain."""
    return frozenset(next(each for each in now.chain if each.index == index).writers.values())


class _Maker:
    def __init__(self, chain: Chain, clock: Clock) -> None:
        self.chain = chain
        self.program = chain.program
        self.clock = clock
        self.maker = Maker(chain, clock, None)

    def reset(self, finding: Finding) -> Reset | Left:
        try:
            return self._made(finding)
        except CannotEdit as fault:
            return Left(finding.subject, finding.place, f"{finding.message}; {fault}")

    def _made(self, finding: Finding) -> Reset:
        goal, index = finding.goal, finding.index
        now = next(_named(self.chain, self.clock, finding.subject, index or 0), None)
        if not isinstance(goal, NumberGoal) or index is None or now is None:
            raise CannotEdit("left as it is")
        if not goal.complete or not goal.constants:
            raise CannotEdit("not every byte of its number stands in the text as a constant")
        numbers = _Numbers(self.chain, self.maker)
        for constant in goal.constants:
            numbers.put(constant)
        edits = numbers.edits()
        # What it is to last stands in the project file where the part's rate is stated, else in a note.
        if not (now.output.kind == "rate" and now.part.baud is not None):
            numbers.touched.append(self._noted(now, _writers(now, index), goal.constants[0].index, edits))
        files = {source.name: source.data for source in self.program.files}
        edited = again(self.chain, made(files, self.chain, edits))
        after = next(_named(edited, self.clock, finding.subject, index), None)
        if after is None or finding.limit is None:
            raise CannotEdit("counted again on the edited text it makes nothing that is known")
        lasts = after.at(self.clock)
        return Reset(
            index=index,
            subject=finding.subject,
            place=finding.place,
            places=tuple(dict.fromkeys(origin.text_place for origin in numbers.touched)),
            reason=finding.message,
            result=self._result(now, lasts, finding.limit),
            evidence=self._evidence(now, finding, goal, numbers, _writers(now, index)),
            clock=self.clock,
            lasts=lasts,
            edits=edits,
        )

    def _noted(self, now: Followed, writers: frozenset[int], at: int, edits: dict[str, list[Edit]]) -> Origin:
        entries = {entry.index for entry in self.chain.graph.entries}
        places = [i for i in (at, *sorted(writers)) if i not in entries]
        if not places:
            raise CannotEdit("no line near it has room for a note")
        part = fragment(self.chain.graph, places[0], frozenset({places[0]}))
        wait = Wait("loop", places[0], now.name, part, 0, frozenset())
        path, edit = self.maker.noted(wait, f"written for {self.clock.text()}", self.clock)
        edits.setdefault(path, []).append(edit)
        return self.program.instructions[places[0]].origin

    def _result(self, now: Followed, lasts: Duration, want: Duration) -> str:
        told = {"tone": pitch, "rate": rate_text}.get(now.output.kind, Duration.text)(lasts)
        share = lasts.seconds / want.seconds
        if share == 1:
            return f"{told} at {self.clock.text()}: exactly as before"
        off = f"{float(abs(share - 1) * 100):.2g} %"
        if now.output.kind == "tone":
            off = f"{abs(1200 * log2(share)):.2g} cents"
        return f"{told} at {self.clock.text()}: {off} off, the nearest there is"

    def _evidence(
        self, now: Followed, finding: Finding, goal: NumberGoal, numbers: _Numbers, writers: frozenset[int]
    ) -> Evidence:
        if finding.hurts or any(setting.part.hurts for setting in now.chain):
            return Evidence("shown", (f"{now.part.name} drives an output that can hurt people or equipment",))
        used = {*writers, *(constant.index for constant in goal.constants)}
        unread = not_understood(self.chain, used)
        if unread:
            return Evidence("shown", (unread,))
        if numbers.elsewhere:
            return Evidence("shown", (numbers.elsewhere,))
        read = self._read(goal, writers)
        if read:
            return Evidence("shown", (f"its number is read behind it as well, in {', '.join(sorted(read))}",))
        return Evidence(
            "proved",
            (
                "nothing but the part is given its number, in all states",
                f"counted again on the edited text by the part's formula: {finding.notes[0]}"
                if finding.notes
                else "counted again on the edited text by the part's formula",
                rests(self.chain, f"the data of {now.part.family.name}"),
            ),
        )

    @cached_property
    def _live(self) -> tuple[Mapping[int, frozenset[str]], Mapping[int, frozenset[str]]]:
        """What is read behind each instruction: by anybody, and by the text itself."""
        indexes = range(len(self.program.instructions))
        every, text = liveness(self.chain.graph), within(self.chain.graph)
        return {i: every.after[i] for i in indexes}, {i: text.after[i] for i in indexes}

    def _read(self, goal: NumberGoal, writers: frozenset[int]) -> frozenset[str]:
        """Registers and flags through which its number goes elsewhere than to the part."""
        every, text = self._live
        flags = frozenset(self.program.cpu.flags)
        found: set[str] = set()
        for constant in goal.constants:
            hangs = self.program.instructions[constant.index].action.used.writes - {COUNTER}
            last = max((w for w in writers if w >= constant.index), default=constant.index)
            for index in range(constant.index + 1, last + 1):
                used = self.program.instructions[index].action.used
                if used.reads & hangs and index not in writers:
                    return used.reads & hangs
                hangs = hangs | used.writes - {COUNTER} if used.reads & hangs else hangs - used.surely
            found |= hangs & every[last] - flags | hangs & text[last]
        return frozenset(found)


class _Numbers:
    """The constants of the source that become others."""

    def __init__(self, chain: Chain, maker: Maker) -> None:
        self.program = chain.program
        self.maker = maker
        self.touched: list[Origin] = []
        self.elsewhere = ""
        self._plain: dict[tuple[int, str], int] = {}
        self._symbols: dict[str, tuple[Symbol, int]] = {}
        self._lines: set[tuple[str, int]] = set()

    def put(self, constant: Constant) -> None:
        """One byte of a number as it has to be. Raises CannotEdit where it can't be written."""
        instruction = self.program.instructions[constant.index]
        self.maker.once(instruction)
        self._lines.add((instruction.origin.path, instruction.origin.line))
        number = _operand(instruction, constant.hole)
        plain = number.value is not None and respell(number.text, number.value, number.value) is not None
        name = None if plain else number.symbol or _only_name(number.text)
        if name is None:
            key = constant.index, constant.hole
            self._plain[key] = _with(self._plain.get(key, number.value or 0), constant.shift, constant.byte)
            self.touched.append(instruction.origin)
            return
        symbol = self.program.label(name)
        if symbol is None or symbol.kind != "constant" or symbol.value is None or symbol.span is None:
            raise CannotEdit(f"its number is {number.text}, which is no constant of the source")
        shift = constant.shift
        if number.symbol is None:
            shift = 8 if _HIGH.search(self._written(instruction, number)) else 0
            if symbol.value >> shift & 0xFF != (number.value or 0) & 0xFF:
                raise CannotEdit(f"its number is written as {number.text}")
        _, value = self._symbols.get(symbol.name, (symbol, symbol.value))
        self._symbols[symbol.name] = symbol, _with(value, shift, constant.byte)
        assert symbol.origin is not None
        self.touched.append(symbol.origin)

    def _written(self, instruction: Instruction, number: OperandNumber) -> str:
        """The number with what stands before it, such as the mark for a high byte."""
        operand = instruction.origin.statement.operand
        if number.span is None or operand is None:
            return number.text
        source = instruction.origin.source
        return source.data[operand.start : number.span.end].decode(source.encoding)

    def edits(self) -> dict[str, list[Edit]]:
        found: dict[str, list[Edit]] = {}
        for (index, hole), value in self._plain.items():
            instruction = self.program.instructions[index]
            number = _operand(instruction, hole)
            text = None if number.value is None else respell(number.text, number.value, value)
            if number.span is None or text is None:
                raise CannotEdit(f"its number is written as {number.text}, which is not a plain number")
            source = instruction.origin.source
            found.setdefault(source.name, []).extend(replaced(source, number.span, text))
        for symbol, value in self._symbols.values():
            assert symbol.origin is not None
            assert symbol.span is not None
            source = symbol.origin.source
            given = source.of(symbol.span).strip()
            text = None if symbol.value is None else respell(given, symbol.value, value)
            if text is None:
                raise CannotEdit(f"{symbol.name} is written as {given}, which is not a plain number")
            found.setdefault(source.name, []).extend(replaced(source, symbol.span, text))
            others = [use for use in symbol.uses if (use.path, use.line) not in self._lines]
            if others:
                self.elsewhere = f"{symbol.name} is used in line {others[0].line} as well"
        return found


def _operand(instruction: Instruction, hole: str) -> OperandNumber:
    return next(number for number in instruction.operands if number.hole == hole)


def _only_name(text: str) -> str | None:
    """The only name in an expression such as >COUNT or COUNT/256."""
    names = [name for name in _NAME.findall(text) if name.lower() not in _WORDS]
    return names[0] if len(names) == 1 else None


def _with(value: int, shift: int, byte: int) -> int:
    return value & ~(0xFF << shift) | byte << shift
