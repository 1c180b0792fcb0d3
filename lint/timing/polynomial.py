"""Integer-valued polynomials over counts, so that a routine's cycles can depend on what its caller hands over.

A `Count` is a trip count: the value from 1 to 2^n that is congruent to a term. A register that holds 0 and is counted
down by a branch on zero makes 2^n turns; with counts as variables that is true of every formula without a special case.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from math import comb, prod
from typing import Final

from ..cpu.stepper import stepper
from ..cpu.term import Input, Replace, Term, inputs, putting, substitute


@dataclass(frozen=True, slots=True)
class Count:
    """The value from 1 to 2^width that is congruent to `term`."""

    term: Term
    width: int

    @property
    def bounds(self) -> tuple[int, int]:
        low, high = self.term.bounds
        if low >= 1 and high <= 1 << self.width:
            return low, high
        return 1, 1 << self.width


Monomial = frozenset[tuple[Count, int]]
NOTHING: Final[Monomial] = frozenset()


@dataclass(frozen=True, slots=True)
class Polynomial:
    """A sum of rational multiples of products of counts."""

    parts: frozenset[tuple[Monomial, Fraction]]

    @property
    def value(self) -> int | None:
        """The integer, where it is a constant."""
        if not self.parts:
            return 0
        if len(self.parts) == 1:
            ((monomial, factor),) = self.parts
            if not monomial:
                return int(factor)
        return None

    @property
    def counts(self) -> frozenset[Count]:
        return frozenset(count for monomial, _ in self.parts for count, _ in monomial)

    @property
    def inputs(self) -> frozenset[Input]:
        return inputs(count.term for count in self.counts)

    @property
    def bounds(self) -> tuple[int, int]:
        """Least and greatest value, monomial by monomial."""
        low = high = Fraction(0)
        for monomial, factor in self.parts:
            least = most = 1
            for count, power in monomial:
                a, b = count.bounds
                least, most = least * a**power, most * b**power
            low += factor * (least if factor > 0 else most)
            high += factor * (most if factor > 0 else least)
        return -int(-low // 1), int(high // 1)

    def __add__(self, other: Polynomial) -> Polynomial:
        return _sum(self, other) if other.parts else self

    def __mul__(self, other: Polynomial) -> Polynomial:
        parts: dict[Monomial, Fraction] = {}
        for a, x in self.parts:
            for b, y in other.parts:
                product = _product(a, b)
                parts[product] = parts.get(product, Fraction(0)) + x * y
        return _made(parts)

    def scaled(self, factor: Fraction | int) -> Polynomial:
        return _made({monomial: k * factor for monomial, k in self.parts})

    def substituted(self, replace: Replace) -> Polynomial:
        """With the inputs of its counts replaced; a count whose term becomes constant becomes a number."""
        if not self.counts:
            return self
        return self.composed(lambda count: variable(substitute(count.term, replace), count.width))

    def composed(self, of: Callable[[Count], Polynomial]) -> Polynomial:
        """With each count replaced by a polynomial."""
        total = constant(0)
        for monomial, factor in self.parts:
            product = constant(1)
            for count, power in monomial:
                value = of(count)
                for _ in range(power):
                    product = product * value
            total = total + product.scaled(factor)
        return total


# The same few numbers of cycles are added again and again.
@lru_cache(maxsize=4096)
def _sum(a: Polynomial, b: Polynomial) -> Polynomial:
    if len(a.parts) == len(b.parts) == 1:
        ((own, factor),), ((beside, more),) = a.parts, b.parts
        if not own and not beside:
            return constant(factor + more)
    parts = dict(a.parts)
    for monomial, factor in b.parts:
        parts[monomial] = parts.get(monomial, Fraction(0)) + factor
    return _made(parts)


def _made(parts: dict[Monomial, Fraction]) -> Polynomial:
    return Polynomial(frozenset((monomial, factor) for monomial, factor in parts.items() if factor))


def _product(a: Monomial, b: Monomial) -> Monomial:
    if not a or not b:
        return a or b
    powers = dict(a)
    for count, power in b:
        powers[count] = powers.get(count, 0) + power
    return frozenset(powers.items())


@lru_cache(maxsize=4096)
def constant(value: int | Fraction) -> Polynomial:
    return Polynomial(frozenset({(NOTHING, Fraction(value))}) if value else frozenset())


def variable(term: Term, width: int) -> Polynomial:
    """The count of that term: a number where the term is one."""
    if term.value is not None:
        return constant(residue(term.value, width))
    return Polynomial(frozenset({(frozenset({(Count(term, width), 1)}), Fraction(1))}))


def residue(value: int, width: int) -> int:
    """The value from 1 to 2^width that is congruent to it: 0 counts as 2^width."""
    return value % (1 << width) or 1 << width


def power_sum(power: int, n: Polynomial) -> Polynomial:
    """0^power + 1^power + ... + (n-1)^power as a polynomial in n (Faulhaber, by Bernoulli numbers)."""
    total = constant(0)
    raised = n
    powers = [raised]
    for _ in range(power):
        raised = raised * n
        powers.append(raised)
    for j in range(power + 1):
        factor = Fraction(comb(power + 1, j)) * _bernoulli(j) / (power + 1)
        total = total + powers[power - j].scaled(factor)
    return total


@cache
def _bernoulli(n: int) -> Fraction:
    if n == 0:
        return Fraction(1)
    return -sum((comb(n + 1, k) * _bernoulli(k) for k in range(n)), Fraction(0)) / (n + 1)


@dataclass(frozen=True, slots=True)
class Cost:
    """Fewest and most cycles between two points; `most` is None where nothing bounds it, and `reason` says why."""

    fewest: Polynomial
    most: Polynomial | None
    reason: str = ""

    def __add__(self, other: Cost) -> Cost:
        if self is NONE:
            return other
        if other is NONE:
            return self
        most = None if self.most is None or other.most is None else self.most + other.most
        return Cost(self.fewest + other.fewest, most, self.reason or other.reason)

    @property
    def exact(self) -> bool:
        return self.most is not None and self.fewest == self.most

    @property
    def least(self) -> int:
        """Fewest cycles as a number, whatever the inputs hold."""
        return max(0, self.fewest.bounds[0])

    @property
    def greatest(self) -> int | None:
        return None if self.most is None else self.most.bounds[1]

    def substituted(self, replace: Replace) -> Cost:
        if self.fewest.value is not None and (self.most is None or self.most.value is not None):
            return self
        most = None if self.most is None else self.most.substituted(replace)
        return Cost(self.fewest.substituted(replace), most, self.reason)


NONE: Final = Cost(constant(0), constant(0))


def cycles(fewest: int, most: int | None, reason: str = "") -> Cost:
    return Cost(constant(fewest), None if most is None else constant(most), reason)


def either(a: Cost, b: Cost) -> Cost:
    """The cost of one way or the other."""
    if a == b:
        return a
    fewest = a.fewest if a.fewest == b.fewest else constant(min(a.least, b.least))
    reason = a.reason or b.reason
    if a.most is None or b.most is None:
        return Cost(fewest, None, reason)
    if a.most == b.most:
        return Cost(fewest, a.most, reason)
    return Cost(fewest, constant(max(a.most.bounds[1], b.most.bounds[1])), reason)


def unbounded(cost: Cost, reason: str) -> Cost:
    """At least that cost, with nothing that bounds it."""
    return Cost(constant(cost.least), None, reason)


def summed(each: Polynomial, turn: Input, n: Polynomial) -> Polynomial | None:
    """The sum of `each` over turn = 0 .. n-1, or None where its counts wrap round on the way or `n` can't tell."""
    if turn not in each.inputs:
        return each * n
    # A count that is linear in the turn and stays in 1..2^width is start + step * turn; `index` stands for the turn.
    index = Count(Term(0, frozenset({(turn, 1)})), 0)

    def unrolled(count: Count) -> Polynomial:
        if turn not in inputs([count.term]):
            return Polynomial(frozenset({(frozenset({(count, 1)}), Fraction(1))}))
        line = _line(count, turn, n)
        if line is None:
            raise _Wraps
        start, step = line
        return start + Polynomial(frozenset({(frozenset({(index, 1)}), Fraction(step))}))

    try:
        opened = each.composed(unrolled)
    except _Wraps:
        return _counted(each, turn, n)
    return _power_sums(opened, index, n)


class _Wraps(Exception):
    """A count passes 2^width on the way."""


def _power_sums(opened: Polynomial, index: Count, n: Polynomial) -> Polynomial:
    total = constant(0)
    for monomial, factor in opened.parts:
        powers = dict(monomial)
        power = powers.pop(index, 0)
        rest = Polynomial(frozenset({(frozenset(powers.items()), factor)}))
        total = total + rest * power_sum(power, n)
    return total


def _line(count: Count, turn: Input, n: Polynomial) -> tuple[Polynomial, int] | None:
    """(value at turn 0, step) of a count that is linear in the turn and does not wrap for turns 0 .. n-1."""
    size = 1 << count.width
    step = _slope(count.term, turn)
    if step is None:
        return None
    step = step % size
    step = step - size if step > size // 2 else step
    zero = substitute(count.term, putting(turn, Term(0)))
    start = variable(zero, count.width)
    last = start + (n + constant(-1)).scaled(step)
    low, high = last.bounds
    if start.value is not None and low >= 1 and high <= size:
        return start, step
    if last.value is not None and 1 <= last.value <= size:
        return start, step
    return None


def _slope(term: Term, turn: Input) -> int | None:
    """The coefficient of the turn in a term that is linear in it modulo its width, else None."""
    slope = 0
    for part, factor in term.parts:
        if part == turn:
            slope += factor
        elif turn in inputs([Term(0, frozenset({(part, 1)}))]):
            if isinstance(part, Input) or part.name != "wrap" or len(term.parts) > 1 or factor != 1:
                return None
            return _slope(part.args[0], turn)
    return slope


LONGEST_SUM: Final = 1 << 16


def _counted(each: Polynomial, turn: Input, n: Polynomial) -> Polynomial | None:
    turns = n.value
    counts = tuple(each.counts)
    step = stepper(tuple(count.term for count in counts), turn)
    if turns is None or turns > LONGEST_SUM or step is None:
        return None
    total = Fraction(0)
    for values, times in Counter(map(step, range(turns))).items():
        held = {c: residue(value, c.width) for c, value in zip(counts, values, strict=True)}
        for monomial, factor in each.parts:
            total += factor * times * prod(held[count] ** power for count, power in monomial)
    return constant(total)


_MOST_TRIED: Final = 1 << 10


def over_turns(cost: Cost, turn: Input, last: int | None) -> Cost:
    """A cost that depends on a turn, as the range over all turns from 0 to `last`."""
    depends = turn in cost.fewest.inputs or (cost.most is not None and turn in cost.most.inputs)
    if not depends:
        return cost
    if last is None or last > _MOST_TRIED:
        return Cost(
            constant(cost.least), None if cost.most is None else constant(cost.most.bounds[1]), cost.reason
        )
    each = [cost.substituted(putting(turn, Term(k))) for k in range(last + 1)]
    found = each[0]
    for other in each[1:]:
        found = either(found, other)
    return found
