"""What one pass over the lines knows and has yielded: values of names and expressions, labels, what went wrong."""

import re
from dataclasses import dataclass, field, replace

from ..cpu import Cpu
from ..source import PlacedNote, Span, Syntax, operands
from .counter import Counter
from .expression import (
    Binary,
    Expression,
    Group,
    Name,
    Number,
    Scope,
    evaluate,
    from_left_to_right,
)
from .line import Line
from .match import Choice
from .operand import Immediate, Value, parse_operand
from .program import (
    BoundNote,
    Instruction,
    Laid,
    Opaque,
    Origin,
    Problem,
    Reserved,
    SymbolKind,
    brief,
)
from .symbol import Definition, Table

LEAST, MOST = -0x8000, 0xFFFF
# Assemblers want a digit first; people forget it.
_HEXADECIMAL = re.compile(r"[A-F][0-9A-F]*H", re.IGNORECASE)


@dataclass(slots=True, eq=False)
class State:
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
    resting: dict[str, tuple[str, ...]] = field(default_factory=dict)  # constants without a value: on what
    external: set[str] = field(default_factory=set)  # names that other files define or use
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

    def number(self, line: Line, text: str) -> int | None:
        """The value of an expression in a condition; the names that leave it open are remembered."""
        expression = self._parsed(text)
        if expression is None:
            message = f'"{text}" is no expression; the condition counts as not met'
            self.conditions.append(Problem(line.origin.place, brief(message)))
            return None
        scope = LineScope(self, line, zero=self.syntax.undefined_zero)
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

    def value(self, line: Line, expression: Expression, least: int = LEAST, most: int = MOST) -> int | None:
        """The value of an expression in a line; its names are remembered as used here.

        `least` and `most` are what fits where it goes.
        """
        scope = LineScope(self, line)
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
        self.readings.append(Problem(line.origin.place, brief(message)))
        fits, other_fits = least <= value <= most, other is not None and least <= other <= most
        self.fits_left += other_fits and not fits
        self.fits_precedence += fits and not other_fits

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

    def _field(self, line: Line) -> None:
        self._define(replace(line, label=f"{self._prefix}{line.label}"), "constant", self.counter.structure)

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

    def _opaque(self, line: Line, cause: str, is_sized: bool = False, lacks: bool = False) -> None:
        if not self.opaque or self.opaque[-1].origin is not line.origin:
            self.opaque.append(Opaque(line.origin, brief(cause), lacks))
        self.certain = self.certain and is_sized
        self._labels.clear()

    def _once(self, line: Line, message: str) -> None:
        """A problem that is met whenever a line is evaluated."""
        if (self.order, message) not in self._said:
            self._said.add((self.order, message))
            self._problem(line, message)

    def _problem(self, line: Line, message: str) -> None:
        self.problems.append(Problem(line.origin.place, brief(message)))


@dataclass(slots=True)
class LineScope:
    """Names as one line sees them; `missing` collects those without a value."""

    state: State
    line: Line
    zero: bool = False  # what nobody defines is 0
    missing: dict[str, None] = field(default_factory=dict)

    def name(self, text: str) -> int | None:
        state = self.state
        found = state.table.find(self.line, text, state.order)
        if found is None and text not in state.table.written:
            if _is_octal(text):
                return int(text[1:], 8)
            if state.syntax.bare_hexadecimal and _HEXADECIMAL.fullmatch(text):
                state._once(self.line, f"{text} is defined nowhere; taken as the number 0{text}")
                return int(text[:-1], 16)
        return self._used(text, found)

    def near(self, number: str, forward: bool, count: int) -> int | None:
        found = self.state.table.near(number, forward, self.state.order, count)
        return None if found is None else found.value

    def here(self, mark: str) -> int | None:
        state = self.state
        # Inside an OS-9 module the point is the counter of the data area.
        if mark == "." and state.counter.data is not None:
            return state.counter.data
        return state._here

    def _used(self, text: str, found: Definition | None) -> int | None:
        name = found.name if found else text
        uses = self.state.uses.setdefault(name, [])
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


def _is_octal(text: str) -> bool:
    return len(text) > 1 and text[0] == "@" and set(text[1:]) <= set("01234567")
