"""What cycles that come between those of a program, for a refresh of its memory, add to a stretch of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import assert_never

from ..cpu import Concrete, Cpu, evaluate
from ..cpu.meaning import registers
from .result import Exact, Formula, Range, Total, Unknown


@dataclass(frozen=True, slots=True)
class Pace:
    """One is due `every` so many cycles, `takes` so many itself and comes at most so many too `late`.

    What is due counts all cycles, those of the refresh too: of `every` cycles the program has all but `takes`.
    """

    every: int
    takes: int
    late: int

    def fewest(self, cycles: int) -> int:
        """So many cycles of the program with the fewest that can come between them."""
        times = (cycles - self.late - self.every) // (self.every - self.takes) + 1
        return cycles + max(times, 0) * self.takes

    def most(self, cycles: int) -> int:
        """So many cycles of the program with the most that can come between them."""
        times = (cycles + self.late) // (self.every - self.takes) + 1
        return cycles + times * self.takes if cycles else 0


@dataclass(frozen=True, slots=True)
class Between:
    """The paces at which a refresh may come; `off` where there may be none at all."""

    paces: tuple[Pace, ...]
    off: bool

    def fewest(self, cycles: int) -> int:
        found = [pace.fewest(cycles) for pace in self.paces]
        return min((*found, cycles) if self.off else found)

    def most(self, cycles: int) -> int:
        return max((cycles, *(pace.most(cycles) for pace in self.paces)))

    def total(self, own: Total) -> Total:
        """All cycles of a stretch whose own ones are given; a formula becomes a range."""
        if not self.paces:
            return own
        match own:
            case Exact(cycles):
                return Range(self.fewest(cycles), self.most(cycles))
            case Range(fewest, most) | Formula(_, fewest, most):
                return Range(self.fewest(fewest), self.most(most))
            case Unknown(reason, fewest):
                return Unknown(reason, self.fewest(fewest))
            case _:
                assert_never(own)


NONE = Between((), True)


def between(cpu: Cpu, known: Mapping[str, int]) -> Between:
    """What may come between the cycles of a program while registers hold that; the others may hold anything."""
    refresh = cpu.refresh
    if refresh is None:
        return NONE
    asked = (refresh.when, refresh.every, refresh.takes, refresh.late)
    names = sorted({name for expr in asked for name in registers(expr)})
    values = [(known[name],) if name in known else range(1 << cpu.register(name).width) for name in names]
    paces: dict[Pace, None] = {}
    off = False
    for each in product(*values):
        state = Concrete(cpu, {}, dict(zip(names, each, strict=True)))
        when, *pace = (evaluate(expr, state) for expr in asked)
        if when:
            paces[Pace(*pace)] = None
        else:
            off = True
    return Between(tuple(paces), off)
