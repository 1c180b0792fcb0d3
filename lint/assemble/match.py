"""Which rows and variants of the processor table an operand can be, and which of them it is."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from ..cpu import Cpu, Hole, OperandError, Row, Variant
from ..source import Span, Syntax
from .expression import Binary, Expression, Group, Name, Number, Unary
from .operand import Empty, Force, Immediate, Indirect, Item, NotOperand, Step, Value, parse_operand
from .program import FieldValue


@dataclass(frozen=True, slots=True)
class Numeric:
    """A number hole and the expression that fills it; `span` is its place in the operand text."""

    hole: Hole
    expression: Expression
    span: Span
    force: Force | None


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A row and variant whose pattern the operand has; `named` are the register holes, filled."""

    row: Row
    variant: Variant
    numbers: tuple[Numeric, ...]
    named: Mapping[str, FieldValue]


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """All that fit an operand, narrowest first; `without_offset` those with the index offset left out."""

    fitting: tuple[Candidate, ...]
    without_offset: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """The candidate taken; `by_value` when another value would have taken another size."""

    candidate: Candidate
    by_value: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where an instruction lies and what decides between direct and extended; None where not known."""

    address: int
    direct_page: int | None


@lru_cache(maxsize=65536)
def candidates(cpu: Cpu, syntax: Syntax, mnemonic: str, text: str) -> Candidates | None:
    """What `mnemonic` with this operand text can be; None when the text has no form of it."""
    if mnemonic in cpu.whole:
        if text:
            return None
        mnemonic, text = cpu.whole[mnemonic]
    if mnemonic in syntax.blank_separated:
        text = _BETWEEN_PARTS.sub(_comma, text)
    items = parse_operand(syntax.grammar, text)
    if isinstance(items, NotOperand):
        return None
    fitting = _fitting(cpu, syntax, mnemonic, _with_offset(items, syntax)) or _fitting(
        cpu, syntax, mnemonic, items
    )
    shorter = _without_offset(items)
    without = _fitting(cpu, syntax, mnemonic, shorter) if shorter else ()
    # LDA 0,X+ has no form of its own; people write it for LDA ,X+.
    fitting = fitting or (without if syntax.zero_offset_omitted and _offset(items) == Number(0) else ())
    return Candidates(fitting, without) if fitting else None


def choose(
    cpu: Cpu,
    syntax: Syntax,
    found: Candidates,
    value: Callable[[Expression], int | None],
    place: Place,
) -> Choice:
    """The candidate that an assembler takes.

    A size mark decides where there is one. A known value takes the narrowest that holds it, direct addressing only
    within the direct page; a value not known yet takes the widest where the syntax says so.
    """
    first = found.fitting[0]
    if len(found.fitting) == 1 and not found.without_offset:
        return Choice(first, False)
    values = {id(number): value(number.expression) for each in found.fitting for number in each.numbers}
    if syntax.zero_offset_omitted and found.without_offset and _is_zero_offset(first, values):
        return Choice(found.without_offset[0], True)
    marked = [each for each in found.fitting if _obeys_marks(cpu, each)] or list(found.fitting)
    for each in marked[:-1]:
        if _fits(cpu, syntax, each, values, place):
            return Choice(each, True)
    return Choice(marked[-1], len(marked) > 1)


def fields(
    cpu: Cpu, candidate: Candidate, value: Callable[[Expression], int | None], address: int
) -> tuple[dict[str, FieldValue], list[str]]:
    """What the holes hold, and what is wrong with it.

    A number that does not fit is cut to its width as assemblers do; one that is not known becomes 0, or the
    instruction's own address as a branch target.
    """
    filled: dict[str, FieldValue] = dict(candidate.named)
    faults: list[str] = []
    for number in candidate.numbers:
        hole = number.hole
        known = value(number.expression)
        if known is None:
            filled[hole.name] = address % (1 << cpu.address_bits) if hole.kind == "relative" else 0
            continue
        # RST 7 for RST 38H: below 8 it is the number of the place, not its address.
        if hole.kind == "multiple" and 0 < known < 8:
            known *= 8
        wrapped = _wrapped(hole, known, cpu.address_bits)
        if (
            hole.kind == "direct"
            and wrapped >> hole.width
            and number.force is None
            and not _paged(candidate, hole)
        ):
            filled[hole.name] = cut = wrapped % (1 << hole.width)
            faults.append(f"{known} does not fit in {hole.width} bits; assembled as {cut}")
            continue
        if hole.low <= wrapped <= hole.high and (hole.kind != "multiple" or wrapped % 8 == 0):
            filled[hole.name] = wrapped
            continue
        cut = _cut(hole, wrapped)
        # ~$80 is -129: a turned mask is as wide as it was written.
        if hole.kind in ("number", "bit") and -(1 << hole.width) <= wrapped < 0:
            filled[hole.name] = cut
            continue
        # The address past the last one, as in CMPX #$FFFF+1: 0 on every machine with such addresses.
        if wrapped == 1 << hole.width == 1 << cpu.address_bits:
            filled[hole.name] = 0
            continue
        bits = cpu.address_bits if hole.kind in ("address", "direct", "relative") else hole.width
        faults.append(f"{known} does not fit in {bits} bits; assembled as {cut}")
        filled[hole.name] = cut
    return filled, faults


def _paged(candidate: Candidate, hole: Hole) -> bool:
    """Whether a register of the processor holds the upper half of a short address: else it lies in page zero."""
    return f"<< 8 | {hole.name}" in (candidate.variant.ea or "")


def _fitting(cpu: Cpu, syntax: Syntax, mnemonic: str, items: Sequence[Item]) -> tuple[Candidate, ...]:
    registers = _registers(cpu)
    found: list[tuple[int, Candidate]] = []
    for row in cpu.mnemonics.get(mnemonic, ()):
        for variant in row.form.variants:
            match = _Match({hole.name: hole for hole in variant.holes}, syntax, registers, [], {}, set())
            if match.items(_pattern(syntax.grammar, variant.pattern), items):
                candidate = Candidate(row, variant, tuple(match.numbers), match.named)
                found.append((len(match.literal), candidate))
    # The A of ASL A is no symbol, and the brackets of JMP (NEXT) are not those of an expression.
    most = max((literal for literal, _ in found), default=0)
    return _shortest([candidate for literal, candidate in found if literal == most])


def _shortest(found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Without the opcodes that do the same as one before them: an assembler takes the first."""
    first = {(each.variant.pattern, tuple(each.named.items())): each for each in reversed(found)}
    return tuple(each for each in found if each in first.values())


@cache
def _registers(cpu: Cpu) -> frozenset[str]:
    """The registers that operands may name: PC and flags are words like others where none does."""
    variants = [variant for row in cpu.rows for variant in row.form.variants]
    named = {
        code for each in variants for hole in each.holes if hole.registers for code in hole.registers.codes
    }
    words = named.union(*(_WORD.findall(each.pattern) for each in variants))
    return (frozenset(cpu.registers) | frozenset(cpu.views)) & words


@cache
def _pattern(grammar: str, text: str) -> tuple[Item, ...]:
    items = parse_operand(grammar, text)
    assert not isinstance(items, NotOperand), text
    return items


_WORD = re.compile(r"[A-Z]+\w*")
_BETWEEN_PARTS = re.compile(r"(?<=[^\s,])\s+(?=[^\s,])")


def _comma(blanks: re.Match[str]) -> str:
    """A comma in place of the first blank: all else stays where it is."""
    return "," + blanks.group()[1:]


def _with_offset(items: Sequence[Item], syntax: Syntax) -> tuple[Item, ...]:
    """The items with the offset 0 put in where an index register stands without one."""
    found: list[Item] = []
    for item in items:
        match item:
            case Value(Name(text), span, None) if text.upper() in syntax.index_registers:
                if not found:
                    found.append(Value(Number(0), span))
                elif isinstance(found[-1], Empty):
                    found[-1] = Value(Number(0), span)
        found.append(item)
    return tuple(found)


def _without_offset(items: Sequence[Item]) -> tuple[Item, ...]:
    """The items with the number before the last one left out, inside brackets too; () when there is none."""
    match items:
        case (*before, Indirect(inner, force)):
            shorter = _without_offset(inner)
            return (*before, Indirect(shorter, force)) if shorter else ()
        case (*before, Value(_, _, None), last):
            return (*before, Empty(), last)
    return ()


def _offset(items: Sequence[Item]) -> Expression | None:
    """The number before the last item, inside brackets too."""
    match items:
        case (*_, Indirect(inner)):
            return _offset(inner)
        case (*_, Value(expression), _):
            return expression
    return None


@dataclass(frozen=True, slots=True)
class _Match:
    """One attempt to lay an operand over a pattern; `numbers` and `named` collect what fills the holes.

    `literal` collects what the pattern asks for by itself: a register's name, brackets around an address.
    """

    holes: Mapping[str, Hole]
    syntax: Syntax
    registers: frozenset[str]
    numbers: list[Numeric]
    named: dict[str, FieldValue]
    literal: set[str]

    def items(self, pattern: Sequence[Item], items: Sequence[Item], mark: Force | None = None) -> bool:
        match pattern:
            case (Value(Name(text)),) if text in self.holes and self.holes[text].kind == "list":
                return self.list_of(self.holes[text], items)
        if self.syntax.brackets_point and self.points(pattern, items):
            return False
        return len(pattern) == len(items) and all(
            self.item(wanted, given, mark, len(items) == 1)
            for wanted, given in zip(pattern, items, strict=True)
        )

    def item(self, pattern: Item, item: Item, mark: Force | None, alone: bool) -> bool:
        match pattern, item:
            case Empty(), Empty():
                return True
            case Immediate(Name(hole), _), Immediate(expression, span):
                return self.number(hole, expression, span, None)
            case Value(Name(hole)), Immediate(expression, span) if self.is_mask(hole):
                return self.number(hole, expression, span, None)
            case Value(Name(hole)), Value(expression, span, force) if self.is_number(hole):
                if isinstance(expression, Group) and self.speaks_of_registers(expression.inner):
                    return False
                if isinstance(expression, Unary) and expression.op == "[]":
                    return False  # LDA [PTR],Y is another form than LDA PTR,Y
                if not alone and self.speaks_of_registers(expression):
                    return False
                return self.number(hole, expression, span, force or mark)
            case Value(Group(Name(hole))), Value(Group(expression), span, force) if self.is_number(hole):
                if self.speaks_of_registers(expression):
                    return False
                self.literal.add("()")
                inner = Span(span.start + 1, span.end - 1)
                return self.number(hole, expression, inner, force or mark)
            case Value(Group(Binary("+", Name(wanted), Name(hole)))), Value(Group(expression), span, force):
                base, offset = _split_base(expression)
                return self.register(Name(wanted), base) and self.number(hole, offset, span, force or mark)
            case Value(wanted), Value(given, _, None):
                return self.register(wanted, given)
            case Step(wanted, by), Step(given, given_by):
                return by == given_by and self.register(Name(wanted), Name(given))
            case Indirect(inner), Indirect(given, force):
                return self.items(inner, given, force)
        return False

    def points(self, pattern: Sequence[Item], items: Sequence[Item]) -> bool:
        """Whether brackets around all of an address before a register are to be laid over a plain address."""
        match pattern, items:
            case (Value(Name()), *_), (Value(Group()), Value(Name(text))):
                return text.upper() in self.registers
        return False

    def speaks_of_registers(self, expression: Expression) -> bool:
        base, _ = _split_base(expression)
        return isinstance(base, Name) and base.text.upper() in self.registers

    def is_number(self, hole: str) -> bool:
        return hole in self.holes and self.holes[hole].kind not in ("register", "list")

    def is_mask(self, hole: str) -> bool:
        """Whether it holds bits: they are written with and without the mark of a number."""
        return hole in self.holes and self.holes[hole].kind == "bit"

    def number(self, hole: str, expression: Expression, span: Span, force: Force | None) -> bool:
        self.numbers.append(Numeric(self.holes[hole], expression, span, force))
        return True

    def register(self, pattern: Expression, given: Expression) -> bool:
        match pattern, given:
            case Unary(op, inner), Unary(given_op, given_inner):
                return op == given_op and self.register(inner, given_inner)
            case Group(inner), Group(given_inner):
                return self.register(inner, given_inner)
            case Number(value), Number(given_value):
                return value == given_value
            case Name(wanted), Name(text):
                spelling = text.upper()
                hole = self.holes.get(wanted)
                if hole is None:
                    self.literal.add(wanted)
                    return wanted in (spelling, self.syntax.register_spellings.get(spelling))
                register = self.named_by(hole, spelling)
                if register is None:
                    return False
                self.named[wanted] = register
                self.literal.add(register)
                return True
        return False

    def named_by(self, hole: Hole, spelling: str) -> str | None:
        """The register of a hole that a word in upper case names, itself or as other people call it."""
        codes = hole.registers.codes if hole.registers else {}
        other = self.syntax.register_spellings.get(spelling)
        return spelling if spelling in codes else other if other in codes else None

    def list_of(self, hole: Hole, items: Sequence[Item]) -> bool:
        assert hole.registers is not None
        found: list[str] = []
        for item in items:
            match item:
                case Value(Name(text), _, None) if register := self.named_by(hole, text.upper()):
                    found.append(register)
                case Immediate(Number(mask), _) if len(items) == 1 and 0 < mask < 1 << 8:
                    found += _registers_of(hole.registers.codes, mask)
                case _:
                    return False
        self.named[hole.name] = tuple(found)
        return bool(found)


def _registers_of(codes: Mapping[str, int], mask: int) -> list[str]:
    """The registers whose bits a mask holds, those of one bit each."""
    return [name for name, code in codes.items() if code & mask and code & (code - 1) == 0]


def _split_base(expression: Expression) -> tuple[Expression, Expression]:
    """The register and the rest of IX+5, IX-TOP+1 or IX alone."""
    match expression:
        case Binary("+" | "-" as op, left, right):
            base, rest = _split_base(left)
            if rest == Number(0):
                return base, right if op == "+" else Unary("-", right)
            return base, Binary(op, rest, right)
    return expression, Number(0)


def _is_zero_offset(candidate: Candidate, values: Mapping[int, int | None]) -> bool:
    offsets = [number for number in candidate.numbers if number.hole.kind == "signed"]
    return any(number.force is None and values[id(number)] == 0 for number in offsets)


def _obeys_marks(cpu: Cpu, candidate: Candidate) -> bool:
    return all(_obeys(cpu, number) for number in candidate.numbers)


def _obeys(cpu: Cpu, number: Numeric) -> bool:
    width = number.hole.width
    match number.force:
        case None:
            return True
        case "short":
            return width == 8
        case "shortest":
            return width < 8
        case "long":
            return width == cpu.address_bits


def _fits(
    cpu: Cpu, syntax: Syntax, candidate: Candidate, values: Mapping[int, int | None], place: Place
) -> bool:
    filled = dict(candidate.named)
    for number in candidate.numbers:
        known = values[id(number)]
        hole = number.hole
        if known is None:
            if syntax.forward_wide and hole.kind in ("direct", "signed", "relative"):
                return False
            filled[hole.name] = place.address if hole.kind == "relative" else 0
            continue
        wrapped = _wrapped(hole, known, cpu.address_bits)
        if hole.kind == "direct" and number.force is None and wrapped >> 8 != place.direct_page:
            return False
        filled[hole.name] = wrapped
    try:
        cpu.encode(candidate.row, candidate.variant, filled, place.address)
    except OperandError:
        # Immediates that are too large are cut wherever they stand: they don't make a form unfit.
        return all(number.hole.kind in ("number", "bit") for number in candidate.numbers)
    return True


def _wrapped(hole: Hole, value: int, address_bits: int) -> int:
    """The value as the hole counts it: addresses and offsets go round the end of the address space."""
    full = 1 << address_bits
    if not -full // 2 <= value < full:
        return value
    match hole.kind:
        case "signed":
            return (value + full // 2) % full - full // 2
        case "address" | "direct" | "relative":
            return value % full
    return value


def _cut(hole: Hole, value: int) -> int:
    match hole.kind:
        case "multiple":
            return value & hole.high
        case "signed":
            half = 1 << (hole.width - 1)
            return (value + half) % (2 * half) - half
        case "address" | "direct" | "relative":
            return value % (hole.high + 1)
    return value % (1 << hole.width)
