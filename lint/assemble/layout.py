"""One pass over the lines: what address each has, what its names stand for, what it puts into memory."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ..cpu import Action, Cpu, Hole, OperandError, having
from ..errors import Place
from ..source import Span, operands
from . import match
from .expression import (
    Here,
    Name,
    names,
)
from .line import Line
from .match import Candidate, Choice
from .program import (
    BoundNote,
    Instruction,
    Laid,
    OperandNumber,
    Problem,
    Reserved,
    SymbolKind,
)
from .state import LEAST, MOST, LineScope
from .storage import Storage

# Ways of writing that stand for others may do so some levels deep.
_MOST_PARTS = 8**4
_SIZES = {"bytes": 1, "words": 2, "triples": 3, "longs": 4}


@dataclass(slots=True, eq=False)
class Layout(Storage):
    """One pass: gives every line its address and does what it says."""

    def place(self, line: Line) -> None:
        """Gives the line its address and does what it says."""
        self._here = self.counter.next
        self._pending += [(note, line.origin) for note in line.notes]
        match line.kind:
            case "directive":
                start, self._lies_from, self._laid = self.counter.address, self.counter.moved_by, 0
                self._directive(line)
                if self._laid and self.emit:
                    lies = start + self._lies_from
                    self.laid.append(Laid(start, self._laid, line.origin, lies, self.certain))
            case "instruction":
                self._label(line)
                self._instruction(line)
            case "opaque":
                self._label(line)
                self._opaque(line, line.word)
            case "label":
                self._label(line)
            case "note":
                pass
        self.order += 1

    def finish(self) -> None:
        """Says what is left over at the end."""
        for note, origin in self._pending:
            place = Place(origin.path, note.line, 0)
            self.problems.append(Problem(place, "no instruction follows this timing note; put it before one"))

    def _instruction(self, line: Line, inline: bytes = b"", part: int = 0) -> None:
        choice = self.choices.get((self.order, part)) or self._chosen(line)
        if choice is None:
            self._several(line, part)
            return
        self.choices[self.order, part] = choice
        candidate = choice.candidate
        if self.emit:
            numbers = tuple(self._operands(line, candidate))
            self._emit(line, candidate, numbers, inline)
            if choice.by_value and any(number.value is None for number in numbers):
                self.certain = False  # its size was a guess
        self.counter.advance(self.cpu.size(candidate.row, candidate.variant) + len(inline))

    def _several(self, line: Line, part: int) -> None:
        """What is no instruction but stands for some: they are put in place, with operands that the source hasn't."""
        syntax = line.row.source.vocabulary.syntax
        text = line.operand
        operand = text if "'" in text or '"' in text else "".join(text.split())
        has = self._is_mnemonic(line.word)
        rows = (each for each in syntax.several if not (each.lacking and has))
        ways = [way for each in rows if (way := each.of(line.word, operand))]
        mask = syntax.mask(line.word, operand)
        ways += [((line.word, mask),)] if mask else []
        known = (way for way in ways if all(self._is_mnemonic(word) for word, _ in way))
        found = next(known, None) if part < _MOST_PARTS else None
        if found is None:
            words = (word for way in ways for word, _ in way if not self._is_mnemonic(word))
            others = dict.fromkeys(name for word in words for name in having(word.upper(), syntax.name))
            whose = f", which is one of the {' or '.join(others).upper()}" if others else ""
            foreign = self._foreign(line)
            self._opaque(line, foreign or f'{line.word} has no operand "{text}"{whose}')
            return
        row = replace(line.row, pieces=())
        for number, (word, operand) in enumerate(found, 1):
            self._instruction(replace(line, row=row, word=word, operand=operand), part=part * 8 + number)

    def _foreign(self, line: Line) -> str:
        """What is wrong with a word that only another maker has, in a file that is not written in his."""
        vocabulary = line.row.source.vocabulary
        if vocabulary.mixed or line.word.upper() not in vocabulary.foreign:
            return ""
        others = [syntax for syntax, words in self.cpu.words.items() if line.word.upper() in words]
        own = vocabulary.syntax.name
        whose = " and ".join(others)
        return f"{line.word} is a word of {whose} syntax, and the file is written in {own}; write it in that"

    def _is_mnemonic(self, word: str) -> bool:
        return any(word.upper() in words for words in self.cpu.words.values())

    def _chosen(self, line: Line) -> Choice | None:
        # Where a comment was taken for the rest of an operand, the text up to the first blank is one.
        scope = LineScope(self, line)
        place = match.Place(self.counter.address, self.direct_page)
        operand = self.table.registers(line.operand)
        texts = (operand, operand.split(None, 1)[0] if operand else "")
        for cpu, text in ((cpu, text) for cpu in self._readings(line) for text in texts):
            found = match.candidates(cpu, self.syntax, line.word, text)
            if found:
                return match.choose(
                    self.cpu, self.syntax, found, lambda each: self.evaluate(each, scope), place
                )
        return None

    def _readings(self, line: Line) -> Iterator[Cpu]:
        """The processor in the words of the line's file, then in those of other makers, which files may mix."""
        vocabulary = line.row.source.vocabulary
        own = vocabulary.syntax.name
        yield self.cpu if own == self.cpu.syntax else self.cpu.written(own)
        for syntax in self.cpu.words if vocabulary.mixed else ():
            if syntax != own and own in self.cpu.words:
                yield self.cpu.written(syntax)

    def _emit(
        self, line: Line, candidate: Candidate, numbers: tuple[OperandNumber, ...], inline: bytes
    ) -> None:
        address = self.counter.address
        widths = {number.expression: _width(number.hole) for number in candidate.numbers}
        filled, faults = match.fields(
            self.cpu, candidate, lambda each: self.value(line, each, *widths[each]), address
        )
        for fault in faults:
            self._problem(line, fault)
        try:
            action = self.cpu.bind(candidate.row, candidate.variant, filled, address)
        except OperandError as fault:
            # Where this lies may be unknown, and so how far the branch goes; else the source is at fault.
            if self.certain:
                self._problem(line, f"{line.word} {line.operand}: {fault.message}")
            filled, _ = match.fields(self.cpu, candidate, lambda _: None, address)
            numbers = tuple(replace(number, value=None) for number in numbers)
            action = self.cpu.bind(candidate.row, candidate.variant, filled, address)
        if inline:
            action = replace(action, code=action.code + inline)
        self._keep(line, candidate, action, numbers)

    def _keep(
        self, line: Line, candidate: Candidate, action: Action, numbers: tuple[OperandNumber, ...]
    ) -> None:
        index = len(self.instructions)
        self.instructions.append(
            Instruction(
                index=index,
                address=action.address,
                certain=self.certain,
                placed=self.counter.placed,
                action=action,
                mnemonic=line.word,
                labels=tuple(self._labels),
                origin=line.origin,
                pattern=candidate.variant.pattern,
                fields=action.fields,
                operands=numbers,
            )
        )
        self.code.update(enumerate(action.code, action.address))
        if self.counter.moved_by:
            self.moved[index] = self.counter.moved_by
        self._labels.clear()
        self.notes += [BoundNote(note, index, origin) for note, origin in self._pending]
        self._pending.clear()

    def _operands(self, line: Line, candidate: Candidate) -> Iterator[OperandNumber]:
        scope = LineScope(self, line)
        for number in candidate.numbers:
            text = line.operand[number.span.start : number.span.end]
            symbol = number.expression.text if isinstance(number.expression, Name) else None
            span = self._in_source(line, number.span)
            yield OperandNumber(number.hole.name, self.evaluate(number.expression, scope), text, span, symbol)

    def _in_source(self, line: Line, span: Span) -> Span | None:
        operand = line.row.statement.operand
        if operand is None:
            return None
        start = operand.start - line.lead
        return line.row.in_source(Span(start + span.start, start + span.end))

    def _directive(self, line: Line) -> None:
        match line.word:
            case "constant" | "variable":
                self._constant(line)
            case "define":
                self._defined(line)
            case "assign":
                self._assigned(line)
            case "origin":
                self._origin(line)
            case "counter":
                self._label(line)
                self._origin(replace(line, label=None))
            case "apart" | "end-apart":
                self._label(line)
                self._enter(line)
            case "structure" | "end-structure" | "structure-use":
                self._structure(line)
            case "direct-page":
                self._label(line)
                value = self._single(line)
                self.direct_page = None if value is None else (value >> 8 if value > 0xFF else value) & 0xFF
            case "bytes" | "words" | "triples" | "longs":
                self._label(line)
                self._values(line, _SIZES[line.word])
            case "words-big":
                self._label(line)
                self._split(line, ("high", "low"))
            case "low-bytes" | "high-bytes":
                self._label(line)
                self._split(line, (line.word.partition("-")[0],))
            case "text" | "text-zero" | "text-sign" | "text-counted":
                self._label(line)
                self._text(line)
            case "digits-4" | "digits-16":
                self._label(line)
                self._digits(line, int(line.word.partition("-")[2]))
            case "mixed":
                self._label(line)
                self._mixed(line)
            case "characters":
                self._label(line)
                self._map(line)
            case "registers":
                self._registers(line)
            case "reserve-1" | "reserve-2" | "reserve-4":
                self._reserve(line, int(line.word[-1]))
            case "zeros" | "zeros-2" | "zeros-4":
                self._label(line)
                self._zeros(line, int(line.word[-1]) if line.word[-1].isdigit() else 1)
            case "fill" | "fill-count" | "fill-count-2":
                self._label(line)
                self._fill(line)
            case "align":
                self._align(line)
            case "include-bytes":
                self._label(line)
                self._same(None, int(line.operand))
            case "system-call":
                self._label(line)
                self._system_call(line)
            case "module":
                self.certain = True
                self.counter.begin_module(with_start=len(operands(line.operand, "values")) > 4)
            case "module-end":
                self._label(line)
                self.counter.end_module()
            case "phase":
                self._phase(line)
            case "end-phase":
                self.counter.end_phase()
                self._label(line)
            case "end":
                self._label(line)
                self.start = self._single(line) if line.operand else self.start
            case "skip" | "comment" | "local" | "begin-module" | "scope" | "end-scope":
                self._label(line)
            case "declare":
                self._declare(line)
            case _:
                raise AssertionError(line.word)

    def _constant(self, line: Line) -> None:
        if line.label is None and len(parts := operands(line.operand, "values")) == 2:
            self._named_value(line, "constant" if line.word == "constant" else "variable", parts)
            return
        if line.label is None:
            self._opaque(line, "a value without a name", is_sized=True)
            return
        expression = self._parsed(line.operand)
        operand = line.row.statement.operand
        span = line.row.in_source(operand) if operand else None
        kind: SymbolKind = "constant" if line.word == "constant" else "variable"
        if expression is None:
            self._define(line, kind, None)
            self._opaque(line, f'"{line.operand}" is no expression', is_sized=True)
            return
        value = self.value(line, expression)
        if value is None:
            self.resting[line.label] = tuple(names(expression))
        if kind == "constant" and isinstance(expression, Here) and value == self.counter.address:
            self._label(line)  # LOOP EQU * is a label alone on its line
            return
        self._define(line, kind, value, span)

    def _defined(self, line: Line) -> None:
        name, _, rest = line.operand.partition(" ")
        if not name:
            self._opaque(line, "a value without a name", is_sized=True)
            return
        expression = self._parsed(rest.strip()) if rest.strip() else None
        value = self.value(line, expression) if expression else None
        self._define(replace(line, label=name), "variable", value)

    def _named_value(self, line: Line, kind: SymbolKind, parts: Sequence[Span]) -> None:
        """The name stands behind the word, the value behind the name."""
        name, text = (line.operand[part.start : part.end] for part in parts)
        expression = self._parsed(text)
        if expression is None or not name:
            self._opaque(line, f'"{line.operand}" is no name and its value', is_sized=True)
            return
        operand = line.row.statement.operand
        assert operand is not None
        span = line.row.in_source(Span(operand.start + parts[1].start, operand.start + parts[1].end))
        self._define(replace(line, label=name), kind, self.value(line, expression), span)

    def _assigned(self, line: Line) -> None:
        """Names and their values with a sign between, separated by commas."""
        for part in operands(line.operand, "values"):
            text = line.operand[part.start : part.end]
            sign = text.find("=")
            name = text[:sign].rstrip()
            value = sign + 1 + len(text[sign + 1 :]) - len(text[sign + 1 :].lstrip())
            spans = (Span(part.start, part.start + len(name)), Span(part.start + value, part.end))
            self._named_value(line, "constant", spans)

    def _origin(self, line: Line) -> None:
        value = self._single(line)
        if self.counter.data is None:
            self.certain = value is not None
        if value is not None:
            self.counter.set(value)
        if self.counter.data is None:
            self._label(line)
        elif line.label:
            self._define(line, "label", self.counter.data)
        self._labels.clear()

    def _enter(self, line: Line) -> None:
        """A section: each goes on where it was left, wherever a linker puts it."""
        if line.word == "end-apart":
            self.counter.leave()
            return
        word = line.row.of(line.row.statement.operation)
        first = operands(line.operand, "values")[0]
        name = line.operand[first.start : first.end].strip("\"'").upper() or word.upper().lstrip(".#")
        self.counter.enter(name, name.lstrip(".") in self.syntax.direct_sections)

    def _structure(self, line: Line) -> None:
        """Offsets into a structure, its size as sizeof{NAME}, and memory laid out like it."""
        counter = self.counter
        name = line.operand.split(None, 1)[0] if line.operand else ""
        if line.word == "structure":
            # With the name before the word its fields are NAME.FIELD, behind it they stand alone.
            self._prefix = f"{line.label}." if line.label else ""
            self._open_structure = line.label or name
            counter.structure = 0
        elif line.word == "end-structure" and counter.structure is not None:
            size, counter.structure = counter.structure, None
            self._define(replace(line, label=f"sizeof{{{self._open_structure}}}"), "constant", size)
        elif line.word == "structure-use":
            found = self.table.find(line, f"sizeof{{{name}}}", self.order)
            if found is None or found.value is None:
                self._opaque(line, f"how much is reserved is not known: {name}", lacks=True)
                return
            self._label(line)
            self.reserved.append(Reserved(counter.reserve(found.value), found.value, line.label))

    def _registers(self, line: Line) -> None:
        """ALL REG D,X,Y: a name for a list of registers."""
        if line.label is None:
            self._opaque(line, "a list of registers without a name", is_sized=True)
            return
        self.table.lists[line.label] = line.operand
        self._define(line, "constant", None)

    def _system_call(self, line: Line) -> None:
        value = self._single(line)
        instruction = replace(line, kind="instruction", word=self.syntax.system_call, operand="")
        self._instruction(instruction, inline=bytes([(value or 0) & 0xFF]))

    def _phase(self, line: Line) -> None:
        value = self._single(line)
        if value is None:
            self._opaque(line, f"what it is assembled for is not known: {line.operand}", lacks=True)
            return
        self.counter.begin_phase(value)
        self._label(line)

    def _declare(self, line: Line) -> None:
        """Names that other files define or use stand behind the word, or one before it: a use of those defined here."""
        names = dict.fromkeys(part.strip() for part in line.operand.split(","))
        if line.label:
            names[line.label] = None
        self.external |= names.keys()
        for name in names:
            self.uses.setdefault(name, []).append(line.origin)


def _width(hole: Hole) -> tuple[int, int]:
    """The least and the most that a number in its place can be."""
    return (hole.low, hole.high) if hole.kind in ("number", "signed", "bit") else (LEAST, MOST)


def lines_in_order(lines: Sequence[Line], layout: Layout) -> None:
    """A later pass over lines that an earlier one has collected."""
    for line in lines:
        layout.place(line)
    layout.finish()
