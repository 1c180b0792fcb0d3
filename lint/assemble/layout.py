"""One pass over the lines: what address each has, what its names stand for, what it puts into memory."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from ..cpu import Action, Cpu, Hole, OperandError, having
from ..errors import Place
from ..source import PlacedNote, Shape, Span, Syntax, operands
from . import match
from .counter import Counter
from .expression import (
    Binary,
    Expression,
    Group,
    Here,
    Name,
    Number,
    Scope,
    Unary,
    evaluate,
    from_left_to_right,
)
from .line import Line
from .match import Candidate, Choice
from .operand import Immediate, Value, parse_operand
from .program import (
    BoundNote,
    Instruction,
    Laid,
    Opaque,
    OperandNumber,
    Origin,
    Problem,
    Reserved,
    SymbolKind,
)
from .symbol import Definition, Table
from .values import Part, Repeated, Text, values

_MIXED = re.compile(r"""\"[^\"]*\"|'[^']*'|[^\s]+""")
_LEAST, _MOST = -0x8000, 0xFFFF
# Ways of writing that stand for others may do so some levels deep.
_MOST_PARTS = 8**4
# Assemblers want a digit first; people forget it.
_HEXADECIMAL = re.compile(r"[A-F][0-9A-F]*H", re.IGNORECASE)
_SIZES = {"bytes": 1, "words": 2, "triples": 3, "longs": 4}


@dataclass(slots=True, eq=False)
class Layout:
    """Working state and yield of one pass. `emit` is off in the first, when names further down have no value yet."""

    cpu: Cpu
    syntax: Syntax
    table: Table
    emit: bool
    choices: dict[tuple[int, int], Choice]
    counter: Counter
    from_left: bool = False  # 2+3*4 is 20
    order: int = 0
    certain: bool = True
    direct_page: int | None = 0
    start: int | None = None
    instructions: list[Instruction] = field(default_factory=list)
    data: dict[int, int] = field(default_factory=dict)
    code: dict[int, int] = field(default_factory=dict)
    reserved: list[Reserved] = field(default_factory=list)
    laid: list[Laid] = field(default_factory=list)
    moved: dict[int, int] = field(default_factory=dict)
    opaque: list[Opaque] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[BoundNote] = field(default_factory=list)
    uses: dict[str, list[Origin]] = field(default_factory=dict)
    unknown: dict[str, Origin] = field(default_factory=dict)
    external: set[str] = field(default_factory=set)  # names that other files define
    readings: list[Problem] = field(default_factory=list)  # where the order of operators matters
    fits_left: int = 0  # how many numbers fit their width only when read from left to right
    fits_precedence: int = 0  # and how many only with * and / first
    conditions: list[Problem] = field(default_factory=list)  # what is wrong with conditions
    deciding: dict[str, Origin] = field(default_factory=dict)  # names without a value in a condition
    absent: dict[str, None] = field(default_factory=dict)  # names that a condition found to be undefined
    choices_of: dict[str, dict[str, None]] = field(
        default_factory=dict
    )  # what conditions compare such a name with
    _said: set[tuple[int, str]] = field(default_factory=set)
    _labels: list[str] = field(default_factory=list)
    _prefix: str = ""  # of the fields of the structure that is open
    _open_structure: str = ""
    _pending: list[tuple[PlacedNote, Origin]] = field(default_factory=list)
    _here: int = 0  # where the line begins
    _laid: int = 0  # how many data bytes the line has laid down
    _lies_from: int = 0

    # ---- what conditions and expressions ask

    def number(self, line: Line, text: str) -> int | None:
        """The value of an expression in a condition; the names that leave it open are remembered."""
        expression = self._parsed(text)
        if expression is None:
            message = f'"{text}" is no expression; the condition counts as not met'
            self.conditions.append(Problem(line.origin.place, message))
            return None
        scope = _Scope(self, line, zero=self.syntax.undefined_zero)
        value = self.evaluate(expression, scope)
        for name in scope.missing:
            self.deciding.setdefault(name, line.origin)
            found = _compared(expression, name)
            self.choices_of.setdefault(name, {})["0 or not 0" if found is None else str(found)] = None
        return value

    def evaluate(self, expression: Expression, scope: Scope) -> int | None:
        """The value, with operators in the order the program is written for."""
        return evaluate(from_left_to_right(expression) if self.from_left else expression, scope)

    def is_defined(self, line: Line, name: str) -> bool:
        """Whether a symbol has been defined above."""
        found = self.table.find(line, name, self.order)
        if found is None:
            self.absent.setdefault(name)
            self.choices_of.setdefault(name, {})["defined or not"] = None
        return found is not None

    def value(self, line: Line, expression: Expression, least: int = _LEAST, most: int = _MOST) -> int | None:
        """The value of an expression in a line; its names are remembered as used here.

        `least` and `most` are what fits where it goes.
        """
        scope = _Scope(self, line)
        found = self.evaluate(expression, scope)
        for name in scope.missing:
            self.unknown.setdefault(name, line.origin)
        other = from_left_to_right(expression)
        if not self.from_left and other != expression and found is not None:
            self._two_readings(line, found, evaluate(other, scope), least, most)
        return found

    def _two_readings(self, line: Line, value: int, other: int | None, least: int, most: int) -> None:
        """Assemblers disagree about A-B/2; where it matters, the value taken is said, and what the width shows."""
        if value == other:
            return
        readings = f"{value} with * and / first, {other} from left to right"
        message = f"{readings}; {value} is taken, write parentheses or state the habit left-to-right or multiply-first"
        self.readings.append(Problem(line.origin.place, message))
        fits, other_fits = least <= value <= most, other is not None and least <= other <= most
        self.fits_left += other_fits and not fits
        self.fits_precedence += fits and not other_fits

    # ---- one line

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

    def _label(self, line: Line) -> None:
        if line.label:
            if self.counter.structure is not None:
                self._field(line)
                return
            self._define(line, "label", self.counter.address)
            self._labels.append(line.label)

    def _define(self, line: Line, kind: SymbolKind, value: int | None, span: Span | None = None) -> None:
        assert line.label
        former = self.table.define(line, line.label, kind, value, self.order, span)
        # A define given from outside has no origin: it silently goes before the source's own value.
        if former and former.origin:
            where = former.origin.text_place
            self._problem(line, f"{line.label} is defined already in {where}; the first definition counts")

    # ---- instructions

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
        ways = [way for each in syntax.several if (way := each.of(line.word, operand))]
        known = (way for way in ways if all(self._is_mnemonic(word) for word, _ in way))
        found = next(known, None) if part < _MOST_PARTS else None
        if found is None:
            words = (word for way in ways for word, _ in way if not self._is_mnemonic(word))
            others = dict.fromkeys(name for word in words for name in having(word.upper(), syntax.name))
            whose = f", which is one of the {' or '.join(others).upper()}" if others else ""
            self._opaque(line, f'{line.word} has no operand "{text}"{whose}')
            return
        row = replace(line.row, pieces=())
        for number, (word, operand) in enumerate(found, 1):
            self._instruction(replace(line, row=row, word=word, operand=operand), part=part * 8 + number)

    def _is_mnemonic(self, word: str) -> bool:
        return any(word.upper() in words for words in self.cpu.words.values())

    def _chosen(self, line: Line) -> Choice | None:
        # Where a comment was taken for the rest of an operand, the text up to the first blank is one.
        scope = _Scope(self, line)
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
        own = line.row.source.vocabulary.syntax.name
        yield self.cpu if own == self.cpu.syntax else self.cpu.written(own)
        for syntax in self.cpu.words:
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
        scope = _Scope(self, line)
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

    # ---- directives

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
                self._opaque(line, f"how much is reserved is not known: {name}")
                return
            self._label(line)
            self.reserved.append(Reserved(counter.reserve(found.value), found.value, line.label))

    def _field(self, line: Line) -> None:
        self._define(replace(line, label=f"{self._prefix}{line.label}"), "constant", self.counter.structure)

    def _values(self, line: Line, size: int) -> None:
        if not line.operand and self.counter.structure is not None:
            self._advance(size)
            return
        self._parts(line, self._listed(line, "values"), size)

    def _listed(self, line: Line, shape: Shape) -> tuple[Part, ...]:
        return values(self.syntax.grammar, line.operand, shape, line.row.source.vocabulary.syntax.escapes)

    def _parts(self, line: Line, parts: Sequence[Part], size: int) -> None:
        for part in parts:
            match part:
                case Text(characters):
                    for byte in characters:
                        self._byte(byte, size)
                case Repeated(times, inner):
                    count = self.value(line, times)
                    if count is None or not self._is_sane(count):
                        self._opaque(line, f"how often it repeats is not known: {line.operand}")
                        continue
                    for _ in range(count):
                        self._parts(line, inner, size)
                case None:
                    self._opaque(line, f'"{line.operand}" is no list of values', is_sized=True)
                    self._advance(size)
                case _:
                    self._number(line, part, size)

    def _number(self, line: Line, expression: Expression, size: int) -> None:
        value = self.value(line, expression, -(1 << 8 * size - 1), (1 << 8 * size) - 1)
        if value is not None and not -(1 << 8 * size) <= value < 1 << 8 * size:
            cut = value % (1 << 8 * size)
            self._problem(line, f"{value} does not fit in {8 * size} bits; assembled as {cut}")
        self._byte(value, size)

    def _byte(self, value: int | None, size: int) -> None:
        """A number of `size` bytes in the processor's order; an unknown one takes its place without a value."""
        if value is not None and self.emit and self.counter.structure is None:
            order: Literal["big", "little"] = "big" if self.cpu.endian == "big" else "little"
            digits = (value % (1 << 8 * size)).to_bytes(size, order)
            for offset, byte in enumerate(digits):
                self.data[self.counter.address + offset & self.counter.mask] = byte
        self._laid += size * (self.counter.structure is None)
        self._advance(size)

    def _text(self, line: Line) -> None:
        parts = self._listed(line, "text")
        if any(part is None for part in parts):
            self._opaque(line, f'"{line.operand}" is no text between two equal marks')
            return
        if line.word == "text-counted":
            self._byte(sum(len(part.characters) if isinstance(part, Text) else 1 for part in parts), 1)
        for index, part in enumerate(parts):
            last = index == len(parts) - 1
            if not isinstance(part, Text):
                self._parts(line, (part,), 1)
                continue
            characters = part.characters
            if last and line.word == "text-sign" and characters:
                characters = characters[:-1] + bytes([characters[-1] | 0x80])
            for byte in characters:
                self._byte(byte, 1)
        if line.word == "text-zero":
            self._byte(0, 1)

    def _split(self, line: Line, parts: Sequence[str]) -> None:
        """Some bytes of each number of a list, whatever the order of the processor."""
        for part in values(self.syntax.grammar, line.operand, "values"):
            if part is None or isinstance(part, Text | Repeated):
                self._opaque(line, f'"{line.operand}" is no list of numbers', is_sized=False)
                return
            for name in parts:
                self._number(line, Unary(name, Group(part)), 1)

    def _digits(self, line: Line, base: int) -> None:
        """Digits without a mark, as many bytes as they fill: HEX 0A0D1B."""
        for part in re.split(r"[\s,]+", line.operand.strip()):
            try:
                value = int(part, base)
            except ValueError:
                self._opaque(line, f'"{line.operand}" is no row of digits', is_sized=False)
                return
            self._byte(value, -(-len(part) * (base.bit_length() - 1) // 8))

    def _mixed(self, line: Line) -> None:
        """Strings, bytes and words with blanks between them: a number is as wide as written, a name is a word."""
        for part in _MIXED.findall(line.operand):
            digits = 8 if part[0] == "%" else 2
            is_byte = part[0] in "\"'" or (not part[0].isalpha() and len(part.lstrip("$%")) <= digits)
            self._values(replace(line, operand=part), 1 if is_byte else 2)

    def _registers(self, line: Line) -> None:
        """ALL REG D,X,Y: a name for a list of registers."""
        if line.label is None:
            self._opaque(line, "a list of registers without a name", is_sized=True)
            return
        self.table.lists[line.label] = line.operand
        self._define(line, "constant", None)

    def _reserve(self, line: Line, size: int) -> None:
        count = self._count(line)
        start = self.counter.next
        if line.label and self.counter.structure is not None:
            self._field(line)
        start = self.counter.reserve((count or 0) * size)
        if line.label and self.counter.structure is None:
            self._define(line, "label", start)
        if count is None:
            self._opaque(line, f"how much is reserved is not known: {line.operand}")
            return
        self._labels.clear()
        if self.counter.structure is None:
            self.reserved.append(Reserved(start, count * size, line.label))

    def _zeros(self, line: Line, size: int) -> None:
        count = self._count(line)
        if count is None:
            self._opaque(line, f"how much is filled is not known: {line.operand}")
            return
        self._same(0, count * size)

    def _fill(self, line: Line) -> None:
        """A value and how often, or how often and a value, which may be left out: 0 then."""
        parts = self._listed(line, "values")
        numbers = [self.value(line, part) for part in parts if part and not isinstance(part, Text | Repeated)]
        if line.word != "fill":
            numbers = [*numbers[1:], 0][:1] + numbers[:1]
        if len(parts) > 2 or len(numbers) != 2 or numbers[1] is None or not self._is_sane(numbers[1]):
            self._opaque(line, f"how much is filled is not known: {line.operand}")
            return
        self._same(numbers[0], numbers[1], 2 if line.word == "fill-count-2" else 1)

    def _same(self, value: int | None, count: int, size: int = 1) -> None:
        for _ in range(count):
            self._byte(value, size)

    def _align(self, line: Line) -> None:
        step = self._count(line)
        if not step:
            self._opaque(line, f"what it is aligned to is not known: {line.operand}")
            return
        self._advance(-self.counter.next % step)
        self._label(line)

    def _system_call(self, line: Line) -> None:
        value = self._single(line)
        instruction = replace(line, kind="instruction", word=self.syntax.system_call, operand="")
        self._instruction(instruction, inline=bytes([(value or 0) & 0xFF]))

    def _phase(self, line: Line) -> None:
        value = self._single(line)
        if value is None:
            self._opaque(line, f"what it is assembled for is not known: {line.operand}")
            return
        self.counter.begin_phase(value)
        self._label(line)

    def _declare(self, line: Line) -> None:
        """The names that other files define stand behind the word, or one before it."""
        names = {part.strip() for part in line.operand.split(",")}
        self.external |= names | {line.label} if line.label else names

    # ---- small change

    def _parsed(self, text: str) -> Expression | None:
        """The expression a text is; where a comment follows it unmarked, the one before the first blank."""
        for attempt in (text, text.split(None, 1)[0] if text else ""):
            items = parse_operand(self.syntax.grammar, attempt)
            # PORT EQU #$8000: the mark of an immediate says nothing here.
            if isinstance(items, tuple) and len(items) == 1 and isinstance(items[0], Value | Immediate):
                return items[0].expression
        return None

    def _single(self, line: Line) -> int | None:
        """The value of the first expression of a directive."""
        first = operands(line.operand, "values")[0]
        expression = self._parsed(line.operand[first.start : first.end])
        return None if expression is None else self.value(line, expression)

    def _count(self, line: Line) -> int | None:
        value = self._single(line)
        if value is None or self._is_sane(value):
            return value
        self._problem(line, f"{value} is no number of bytes; write 0 to {self.counter.mask + 1}")
        return None

    def _is_sane(self, count: int) -> bool:
        return 0 <= count <= self.counter.mask + 1

    def _advance(self, size: int) -> None:
        self.counter.advance(size)
        self._labels.clear()

    def _opaque(self, line: Line, cause: str, is_sized: bool = False) -> None:
        if not self.opaque or self.opaque[-1].origin is not line.origin:
            self.opaque.append(Opaque(line.origin, cause))
        self.certain = self.certain and is_sized
        self._labels.clear()

    def _once(self, line: Line, message: str) -> None:
        """A problem that is met whenever a line is evaluated."""
        if (self.order, message) not in self._said:
            self._said.add((self.order, message))
            self._problem(line, message)

    def _problem(self, line: Line, message: str) -> None:
        self.problems.append(Problem(line.origin.place, message))


@dataclass(slots=True)
class _Scope:
    """Names as one line sees them; `missing` collects those without a value."""

    layout: Layout
    line: Line
    zero: bool = False  # what nobody defines is 0
    missing: dict[str, None] = field(default_factory=dict)

    def name(self, text: str) -> int | None:
        layout = self.layout
        found = layout.table.find(self.line, text, layout.order)
        if found is None and text not in layout.table.written:
            if _is_octal(text):
                return int(text[1:], 8)
            if layout.syntax.bare_hexadecimal and _HEXADECIMAL.fullmatch(text):
                layout._once(self.line, f"{text} is defined nowhere; taken as the number 0{text}")
                return int(text[:-1], 16)
        return self._used(text, found)

    def near(self, number: str, forward: bool, count: int) -> int | None:
        found = self.layout.table.near(number, forward, self.layout.order, count)
        return None if found is None else found.value

    def here(self, mark: str) -> int | None:
        layout = self.layout
        # Inside an OS-9 module the point is the counter of the data area.
        if mark == "." and layout.counter.data is not None:
            return layout.counter.data
        return layout._here

    def _used(self, text: str, found: Definition | None) -> int | None:
        name = found.name if found else text
        uses = self.layout.uses.setdefault(name, [])
        if not uses or uses[-1] is not self.line.origin:
            uses.append(self.line.origin)
        if found is None:
            self.missing[text] = None
            return 0 if self.zero else None
        return found.value


def _compared(expression: Expression, name: str) -> int | None:
    """The number that a condition compares a name with: 2 in CPU=2 and CPU-2."""
    match expression:
        case Group(inner):
            return _compared(inner, name)
        case Binary(_, Name(text), Number(value)) | Binary(_, Number(value), Name(text)) if text == name:
            return value
        case Binary(_, left, right):
            found = _compared(left, name)
            return _compared(right, name) if found is None else found
    return None


def _width(hole: Hole) -> tuple[int, int]:
    """The least and the most that a number in its place can be."""
    return (hole.low, hole.high) if hole.kind in ("number", "signed", "bit") else (_LEAST, _MOST)


def _is_octal(text: str) -> bool:
    return len(text) > 1 and text[0] == "@" and set(text[1:]) <= set("01234567")


def lines_in_order(lines: Sequence[Line], layout: Layout) -> None:
    """A later pass over lines that an earlier one has collected."""
    for line in lines:
        layout.place(line)
    layout.finish()
