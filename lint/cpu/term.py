"""Symbolic integers: a constant plus multiples of atoms, in one canonical form so that equal terms compare equal.

A term stands for an unbounded integer. Registers hold terms already reduced to their width by `modulo`, so a counter
that has gone round a loop once reads as `modulo(start - 1, 8)`: a start value plus a constant modulo 2^n. What is not
linear becomes an `Op` atom, compared by structure; every atom knows its least and greatest value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import count
from typing import Final, Generic, TypeVar
from weakref import ReferenceType, ref


@dataclass(frozen=True, slots=True)
class Held:
    """What a register or flag held at the start of a scope: a routine (scope 0) or a turn of a loop."""

    name: str
    scope: int


@dataclass(frozen=True, slots=True)
class Cell:
    """What the memory byte at a constant address held at the start of a scope."""

    address: int
    scope: int


@dataclass(frozen=True, slots=True)
class Slot:
    """What the byte at a computed address (a stack slot, a table entry) held at the start of a scope."""

    address: Term
    scope: int


@dataclass(frozen=True, slots=True)
class Seen:
    """What one bus read of a part's port gave: never the same twice."""

    instruction: int
    address: int
    serial: int


@dataclass(frozen=True, slots=True)
class Turn:
    """The number of whole turns a loop has made, from 0."""

    loop: int
    serial: int


@dataclass(frozen=True, slots=True)
class Unsure:
    """A value the text does not give; the reason is for a person."""

    serial: int
    reason: str


Origin = Held | Cell | Slot | Seen | Turn | Unsure


class Input:
    """An atom that nothing in the text determines; `low` and `high` bound its value.

    Inputs, operations and terms are made once each: equal ones are the same object, so that comparing and looking
    up cost nothing. `rank` puts them in an order that does not change from run to run.
    """

    __slots__ = ("__weakref__", "_term", "high", "low", "origin", "rank")

    origin: Origin
    low: int
    high: int
    rank: int
    _term: ReferenceType[Term] | None

    def __new__(cls, origin: Origin, low: int, high: int) -> Input:
        key = (origin, low, high)
        made = _INPUTS.find(key)
        if made is None:
            made = cls.fresh(origin, low, high)
            _INPUTS.keep(key, made)
        return made

    @classmethod
    def fresh(cls, origin: Origin, low: int, high: int) -> Input:
        """The atom for an origin with a serial number just given, which nobody can have made before."""
        made = super().__new__(cls)
        made.origin, made.low, made.high, made.rank = origin, low, high, next(_ranks)
        made._term = None
        return made

    def __repr__(self) -> str:
        return f"{self.origin}"


class Op:
    """An atom made from other terms by an operation that is not linear."""

    __slots__ = ("__weakref__", "_term", "args", "high", "low", "name", "numbers", "rank")

    name: str
    args: tuple[Term, ...]
    numbers: tuple[int, ...]
    low: int
    high: int
    rank: int
    _term: ReferenceType[Term] | None

    def __new__(
        cls, name: str, args: tuple[Term, ...], low: int, high: int, numbers: tuple[int, ...] = ()
    ) -> Op:
        key = (name, args, numbers)
        made = _OPS.find(key)
        if made is None:
            made = super().__new__(cls)
            made.name, made.args, made.numbers = name, args, numbers
            made.low, made.high, made.rank = low, high, next(_ranks)
            made._term = None
            _OPS.keep(key, made)
        return made

    def __repr__(self) -> str:
        inside = ", ".join([*map(repr, self.args), *map(str, self.numbers)])
        return f"{self.name}({inside})"


Atom = Input | Op


class Term:
    """`constant` + the sum of coefficient * atom; atoms appear once, none with coefficient 0.

    `value` is the integer where it is a constant, `atom` the atom where it is exactly one.
    """

    __slots__ = ("__weakref__", "_inputs", "atom", "bounds", "constant", "parts", "rank", "value")

    constant: int
    parts: frozenset[tuple[Atom, int]]
    bounds: tuple[int, int]  # least and greatest value, atom by atom: their relations are not used
    value: int | None
    atom: Atom | None
    rank: int
    _inputs: frozenset[Input] | None

    def __new__(cls, constant: int, parts: frozenset[tuple[Atom, int]] = frozenset()) -> Term:
        key = (constant, parts)
        made = _TERMS.find(key)
        if made is None:
            made = super().__new__(cls)
            made.constant, made.parts, made.rank = constant, parts, next(_ranks)
            made.bounds = _bounds(constant, parts)
            made.value = None if parts else constant
            made.atom = None if constant else _single(parts)
            made._inputs = None
            _TERMS.keep(key, made)
        return made

    def __repr__(self) -> str:
        parts = sorted(self.parts, key=lambda part: part[0].rank)
        return " + ".join([f"{factor}*{part}" for part, factor in parts] + [str(self.constant)])

    @property
    def inputs(self) -> frozenset[Input]:
        """Every input in the term, those inside operations too: read once, as terms are shared by many others."""
        if self._inputs is None:
            self._inputs = frozenset[Input]().union(*(_inputs(part) for part, _ in self.parts))
        return self._inputs


def _single(parts: frozenset[tuple[Atom, int]]) -> Atom | None:
    if len(parts) != 1:
        return None
    ((part, factor),) = parts
    return part if factor == 1 else None


def _bounds(constant: int, parts: frozenset[tuple[Atom, int]]) -> tuple[int, int]:
    low = high = constant
    for part, factor in parts:
        if factor > 0:
            low += factor * part.low
            high += factor * part.high
        else:
            low += factor * part.high
            high += factor * part.low
    return low, high


_ranks: Final = count()

K = TypeVar("K")
V = TypeVar("V")

_ROOM: Final = 1 << 14


class _Kept(Generic[K, V]):
    """What was made, by what it was made of, as long as somebody holds it."""

    def __init__(self) -> None:
        self._made: dict[K, ReferenceType[V]] = {}
        self._room = _ROOM

    def find(self, key: K) -> V | None:
        held = self._made.get(key)
        return None if held is None else held()

    def keep(self, key: K, made: V) -> None:
        self._made[key] = ref(made)
        if len(self._made) > self._room:
            self._sweep()

    def _sweep(self) -> None:
        """Takes out what nobody holds: all at once is quicker than one by one as they go."""
        for key, held in list(self._made.items()):
            if held() is None:
                del self._made[key]
        self._room = max(_ROOM, 2 * len(self._made))


_INPUTS: Final[_Kept[tuple[Origin, int, int], Input]] = _Kept()
_OPS: Final[_Kept[tuple[str, tuple[Term, ...], tuple[int, ...]], Op]] = _Kept()
_TERMS: Final[_Kept[tuple[int, frozenset[tuple[Atom, int]]], Term]] = _Kept()


ZERO = Term(0)
ONE = Term(1)


# Numbers are asked for more often than all else: those of two bytes have room here.
@lru_cache(maxsize=1 << 16)
def number(value: int) -> Term:
    return Term(value)


def atom(of: Atom) -> Term:
    made = None if of._term is None else of._term()
    if made is None:
        made = Term(0, frozenset({(of, 1)}))
        of._term = ref(made)
    return made


def _linear(constant: int, parts: dict[Atom, int]) -> Term:
    return Term(constant, frozenset((a, k) for a, k in parts.items() if k))


def add(a: Term, b: Term, factor: int = 1) -> Term:
    """a + factor * b."""
    if not b.parts:
        more = factor * b.constant
        if not more:
            return a
        return Term(a.constant + more, a.parts) if a.parts else number(a.constant + more)
    if not a.parts and factor == 1:
        return Term(a.constant + b.constant, b.parts) if a.constant else b
    parts = dict(a.parts)
    for part, k in b.parts:
        parts[part] = parts.get(part, 0) + factor * k
    return _linear(a.constant + factor * b.constant, parts)


def scale(a: Term, factor: int) -> Term:
    return add(ZERO, a, factor)


def modulo(a: Term, width: int) -> Term:
    """a mod 2^width: the value a register of that width holds."""
    size = 1 << width
    if not a.parts:
        return number(a.constant % size)
    low, high = a.bounds
    if low >= 0 and high < size:
        return a
    return _wrapped(_flat(a, width), width)


def _wrapped(a: Term, width: int) -> Term:
    low, high = a.bounds
    if low >= 0 and high < 1 << width:
        return a
    carried = _carried(a, width) if len(a.parts) == 2 and not a.constant else None
    if carried is not None:
        return carried
    single = a.atom
    if isinstance(single, Op) and single.name in _BITWISE:
        return bits(a, width - 1, 0)
    return atom(Op("wrap", (a,), 0, (1 << width) - 1, (width,)))


def _flat(a: Term, width: int) -> Term:
    """A term congruent to `a` modulo 2^width, with nested reductions of at least that width opened."""
    size = 1 << width
    parts: dict[Atom, int] = {}
    constant = a.constant
    for part, factor in a.parts:
        if isinstance(part, Op) and part.name == "wrap" and part.numbers[0] >= width:
            constant += factor * part.args[0].constant
            for inner, k in part.args[0].parts:
                parts[inner] = (parts.get(inner, 0) + factor * k) % size
        else:
            parts[part] = (parts.get(part, 0) + factor) % size
    return _linear(constant % size, parts)


_BITWISE: Final = frozenset({"and", "or", "xor"})


def bits(a: Term, high: int, low: int) -> Term:
    """The bits high..low of a, as a number from 0."""
    width = high - low + 1
    if not a.parts:
        return number((a.constant >> low) % (1 << width))
    single = a.atom
    if isinstance(single, Op) and single.name in _BITWISE:
        left, right = (bits(x, high, low) for x in single.args)
        return bitwise(single.name, left, right)
    if low == 0:
        return modulo(a, width)
    if width == 1 and a.bounds[0] < 0 and -(1 << low) <= a.bounds[0] and a.bounds[1] < 1 << low:
        return less(a, ZERO)  # the borrow of a difference
    if isinstance(single, Op) and single.name == "wrap" and single.numbers[0] > high:
        inner = _split(single.args[0], high, low)
        if inner is not None:
            return inner
    split = _split(a, high, low)
    if split is not None:
        return split
    if isinstance(single, Op) and single.name == "bits":
        _, base = single.numbers
        return bits(single.args[0], min(high + base, single.numbers[0]), low + base)
    least, most = a.bounds
    top = (1 << width) - 1
    return atom(Op("bits", (a,), 0, top if least < 0 else min(top, most >> low), (high, low)))


def _split(a: Term, high: int, low: int) -> Term | None:
    """bits(a, high, low) where the part below bit `low` can't carry into it, else None."""
    size = 1 << low
    upper: dict[Atom, int] = {}
    lower: dict[Atom, int] = {}
    for part, factor in a.parts:
        (upper if factor % size == 0 else lower)[part] = factor
    rest = _linear(a.constant % size, lower)
    least, most = rest.bounds
    if least < 0 or most >= size:
        return None
    shifted = _linear(a.constant >> low, {part: k >> low for part, k in upper.items()})
    return modulo(shifted, high - low + 1)


def _carried(a: Term, width: int) -> Term | None:
    """The high bits of a sum or difference where `a` is those of a number and the carry or borrow of the low ones."""
    (upper, factor), (bit, sign) = sorted(a.parts, key=lambda part: part[0].high - part[0].low, reverse=True)
    if not (isinstance(upper, Op) and upper.name == "bits" and isinstance(bit, Op) and factor == 1):
        return None
    top, base = upper.numbers
    if top - base + 1 != width or base > _CARRIED or (bit.low, bit.high) != (0, 1):
        return None
    up = 1 if sign == 1 else -1
    if sign % (1 << width) != up % (1 << width):
        return None
    step = _carry_of(upper.args[0], base, bit, up)
    return None if step is None else bits(add(upper.args[0], Term(step)), top, base)


_CARRIED: Final = 8  # bits whose every value is tried


def _carry_of(whole: Term, width: int, bit: Op, up: int) -> int | None:
    """What added to `whole` makes `bit` the carry (up) or borrow out of its low bits; None where nothing does."""
    low = next((x for arg in bit.args for x, _ in arg.parts if len(arg.parts) == 1), None)
    if not isinstance(low, Op) or low.name != "wrap" or low.numbers != (width,):
        return None
    apart = modulo(add(whole, low.args[0], -1), width).value
    if apart is None or atoms_of(bit) != {low}:
        return None
    size = 1 << width
    set_for = {v for v in range(size) if rebuild(bit, tuple(_at(arg, low, v) for arg in bit.args)) == ONE}
    step = len(set_for)
    own = ((v, (v + apart) % size) for v in range(size))
    if all((v in set_for) is (x + step >= size if up > 0 else x < step) for v, x in own):
        return up * step
    return None


def atoms_of(bit: Op) -> set[Atom]:
    """The atoms its arguments are made of."""
    return {part for arg in bit.args for part, _ in arg.parts}


def _at(a: Term, low: Op, value: int) -> Term:
    """The term where its atom `low` has that value."""
    factor = dict(a.parts).get(low, 0)
    return add(add(a, atom(low), -factor), Term(factor * value))


def join(high: Term, low: Term, width: int) -> Term:
    """The number whose low `width` bits are `low` and whose higher bits are `high`."""
    single = high.atom
    if isinstance(single, Op) and single.name == "bits" and single.numbers[1] == width:
        whole = single.args[0]
        top = single.numbers[0]
        if modulo(whole, width) == low:
            return modulo(whole, top + 1)
    return add(low, high, 1 << width)


def bitwise(name: str, a: Term, b: Term) -> Term:
    """a and/or/xor b, on two's complement integers of any length."""
    if not a.parts and not b.parts:
        x, y = a.constant, b.constant
        return Term(x & y if name == "and" else x | y if name == "or" else x ^ y)
    if not a.parts:
        a, b = b, a
    if b.value == 0:
        return ZERO if name == "and" else a
    if a == b:
        return ZERO if name == "xor" else a
    mask = b.value
    if name == "and" and mask is not None and mask > 0 and mask & (mask + 1) == 0:
        return modulo(a, mask.bit_length())
    if b.parts and b.rank < a.rank:
        a, b = b, a
    return _bitwise_atom(name, a, b)


def _bitwise_atom(name: str, a: Term, b: Term) -> Term:
    (la, ha), (lb, hb) = a.bounds, b.bounds
    if la < 0 or lb < 0:
        top = 1 << max(abs(v).bit_length() for v in (la, ha, lb, hb))
        return atom(Op(name, (a, b), -top, top))
    if name == "and":
        return atom(Op(name, (a, b), 0, min(ha, hb)))
    return atom(Op(name, (a, b), 0, (1 << max(ha.bit_length(), hb.bit_length())) - 1))


def multiply(a: Term, b: Term) -> Term:
    if not a.parts:
        return scale(b, a.constant)
    if not b.parts:
        return scale(a, b.constant)
    corners = [x * y for x in a.bounds for y in b.bounds]
    first, second = sorted((a, b), key=lambda x: x.rank)
    return atom(Op("times", (first, second), min(corners), max(corners)))


def divide(a: Term, b: Term) -> tuple[Term, Term]:
    """Quotient rounded downwards, and remainder; a divisor of 0 gives 0 and the dividend."""
    if not a.parts and not b.parts:
        if b.constant == 0:
            return ZERO, a
        return Term(a.constant // b.constant), Term(a.constant % b.constant)
    reach = max(abs(v) for v in a.bounds)
    return atom(Op("quotient", (a, b), -reach, reach)), atom(Op("remainder", (a, b), -reach, reach))


def equal(a: Term, b: Term) -> Term:
    """1 where a == b, else 0."""
    difference = add(a, b, -1)
    if not difference.parts:
        return ONE if difference.constant == 0 else ZERO
    low, high = difference.bounds
    if low > 0 or high < 0:
        return ZERO
    if (low, high) == (0, 1):
        return add(ONE, difference, -1)
    if (low, high) == (-1, 0):
        return add(ONE, difference)
    whole = _both_halves(difference)
    if whole is not None:
        return equal(whole, ZERO)
    return atom(Op("zero", (_signed_form(difference),), 0, 1))


def _both_halves(a: Term) -> Term | None:
    """The number whose halves are or'ed in `a`: it is zero where both halves are."""
    single = a.atom
    if not isinstance(single, Op) or single.name != "or":
        return None
    for high, low in (single.args, single.args[::-1]):
        upper = high.atom
        if isinstance(upper, Op) and upper.name == "bits":
            top, width = upper.numbers
            if modulo(upper.args[0], width) == low:
                return modulo(upper.args[0], top + 1)
    return None


def _signed_form(a: Term) -> Term:
    """a or -a, the same one for both: a == 0 means the same for either."""
    other = scale(a, -1)
    return a if a.rank < other.rank else other


def less(a: Term, b: Term) -> Term:
    """1 where a < b, else 0."""
    difference = add(a, b, -1)
    low, high = difference.bounds
    if high < 0:
        return ONE
    if low >= 0:
        return ZERO
    return atom(Op("negative", (difference,), 0, 1))


def negate_truth(a: Term) -> Term:
    """1 for 0, and 0 for 1, where a is 0 or 1; else 1 where a == 0."""
    low, high = a.bounds
    if low >= 0 and high <= 1:
        return add(ONE, a, -1)
    return equal(a, ZERO)


def truth(a: Term) -> Term:
    """1 where a is not 0, else 0."""
    low, high = a.bounds
    if low >= 0 and high <= 1:
        return a
    return negate_truth(equal(a, ZERO))


def signed(a: Term, width: int) -> Term:
    """A register value read as two's complement."""
    sign = bits(a, width - 1, width - 1)
    return add(modulo(a, width), sign, -(1 << width))


def shift_left(a: Term, b: Term) -> Term:
    if b.value is not None:
        return scale(a, 1 << b.value)
    _, most = b.bounds
    reach = max(abs(v) for v in a.bounds) << min(max(most, 0), 64)
    return atom(Op("left", (a, b), -reach, reach))


def shift_right(a: Term, b: Term) -> Term:
    low, high = a.bounds
    if b.value is not None and low >= 0:
        return bits(a, max(high.bit_length() - 1, b.value), b.value)
    return atom(Op("right", (a, b), min(low, 0), max(high, 0)))


def choose(condition: Term, a: Term, b: Term) -> Term:
    """a where the condition is not 0, else b."""
    known = decided(condition)
    if known is not None:
        return a if known else b
    if a == b:
        return a
    test = truth(condition)
    if a == ONE and b == ZERO:
        return test
    if a == ZERO and b == ONE:
        return negate_truth(test)
    (la, ha), (lb, hb) = a.bounds, b.bounds
    return atom(Op("choose", (test, a, b), min(la, lb), max(ha, hb)))


def parity(a: Term) -> Term:
    """1 where the low eight bits of a hold an even number of ones, else 0."""
    low = modulo(a, 8)
    return Term(1 - low.constant.bit_count() % 2) if not low.parts else atom(Op("parity", (low,), 0, 1))


def decided(condition: Term) -> bool | None:
    """True or False where the condition can only be that, else None."""
    low, high = condition.bounds
    if low > 0 or high < 0:
        return True
    return False if low == high == 0 else None


def atoms(a: Term) -> Iterator[Atom]:
    """Every atom in the term, those inside operations too (each occurrence once per place)."""
    for part, _ in a.parts:
        yield part
        if isinstance(part, Op):
            for inner in part.args:
                yield from atoms(inner)
        elif isinstance(part.origin, Slot):
            yield from atoms(part.origin.address)


def inputs(terms: Iterable[Term]) -> frozenset[Input]:
    """Every input in the terms, those inside operations too."""
    return frozenset[Input]().union(*(term.inputs for term in terms))


def _inputs(part: Atom) -> frozenset[Input]:
    if isinstance(part, Op):
        return inputs(part.args)
    inside = part.origin.address.inputs if isinstance(part.origin, Slot) else frozenset[Input]()
    return inside | {part}


Replace = Callable[[Input], "Term | None"]


def putting(given: Input, value: Term) -> Replace:
    """A `replace` that puts a value in the place of one input."""
    return lambda other: value if other == given else None


def put(a: Term, given: Input, value: Term) -> Term:
    """The term with a value in the place of one input."""
    return substitute(a, putting(given, value)) if given in a.inputs else a


def substitute(a: Term, replace: Replace, memo: dict[Term, Term] | None = None) -> Term:
    """The term with inputs replaced; `replace` gives None for an input that stays."""
    if not a.parts:
        return a
    memo = {} if memo is None else memo
    done = memo.get(a)
    if done is None:
        done = number(a.constant)
        for part, factor in a.parts:
            done = add(done, _substituted(part, replace, memo), factor)
        memo[a] = done
    return done


def _substituted(part: Atom, replace: Replace, memo: dict[Term, Term]) -> Term:
    if isinstance(part, Input):
        given = replace(part)
        return atom(part) if given is None else given
    args = tuple(substitute(x, replace, memo) for x in part.args)
    if args == part.args:
        return atom(part)
    return rebuild(part, args)


def rebuild(part: Op, args: tuple[Term, ...]) -> Term:
    """The same operation on other arguments."""
    match part.name:
        case "wrap":
            return modulo(args[0], part.numbers[0])
        case "bits":
            return bits(args[0], *part.numbers)
        case "and" | "or" | "xor":
            return bitwise(part.name, *args)
        case "times":
            return multiply(*args)
        case "quotient":
            return divide(*args)[0]
        case "remainder":
            return divide(*args)[1]
        case "zero":
            return equal(args[0], ZERO)
        case "negative":
            return less(args[0], ZERO)
        case "left":
            return shift_left(*args)
        case "right":
            return shift_right(*args)
        case "choose":
            return choose(*args)
        case "parity":
            return parity(args[0])
    raise AssertionError(f"no operation {part.name}")
