"""What counting cycles gives: totals, trip counts, and what each instruction did on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..cpu.symbolic import State
from ..cpu.term import Input, Term
from ..flow import LoopKey
from .polynomial import Cost


@dataclass(frozen=True, slots=True)
class Exact:
    """That many cycles (or turns), whatever happens."""

    cycles: int


@dataclass(frozen=True, slots=True)
class Range:
    """At least `fewest`, at most `most`; both can happen as far as the text tells."""

    fewest: int
    most: int


@dataclass(frozen=True, slots=True)
class Formula:
    """A polynomial in what the caller hands over; `fewest` and `most` over all its values."""

    text: str
    fewest: int
    most: int
    inputs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nothing bounds it; `reason` is in words a person can act on. At least `fewest` in any case."""

    reason: str
    fewest: int


Total = Exact | Range | Formula | Unknown


@dataclass(frozen=True, slots=True)
class Access:
    """A data access of an instruction to a watched address.

    `first` and `last` are the earliest and latest bus cycle (from 1) of the instruction it can be in; `values` are
    the bytes it can write where they are known, None where they are not. `beyond` is a byte of the number that is
    written on top of what a port gave (a counter and so many more), None where it is nothing of the kind.
    """

    instruction: int
    way: Literal["read", "write"]
    address: int
    first: int
    last: int
    values: frozenset[int] | None
    beyond: int | None = None


@dataclass(frozen=True, slots=True)
class Poll:
    """An exit from a loop that is taken on what was read: (value & mask) == result, where that form is known."""

    address: int
    mask: int
    result: int


Known = frozenset[tuple[Input, int]]


@dataclass(frozen=True, slots=True)
class Context:
    """A routine and the inputs whose value its caller is known to hand over."""

    entry: int
    known: Known = frozenset()
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_hash", hash((self.entry, self.known)))

    def __hash__(self) -> int:
        # Looked up all the time, and made once.
        return self._hash


@dataclass(frozen=True, slots=True, eq=False)
class Fact:
    """What one instruction does in a context: cycles by way out, accesses, the callee, flags that mask interrupts.

    `reads` and `writes` are the addresses of all its data accesses, watched or not, as terms over the entry.
    """

    ways: Mapping[str, tuple[int, int | None]]
    accesses: tuple[Access, ...]
    callee: Context | None
    masked: Mapping[str, bool | None]
    reads: frozenset[Term]
    writes: frozenset[Term]


@dataclass(frozen=True, slots=True, eq=False)
class LoopCount:
    """Turns of a loop and its cycles from its head to its exit, each time it is entered.

    `never` says why control does not leave it: "no exit" for a plain endless loop, "test" where a test is there
    that can't become true.
    """

    trips: Cost
    total: Cost
    never: Literal["", "no exit", "test"] = ""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Outcome:
    """A routine in a context: cycles from its entry to its return, both included; None where it never returns.

    `end` is the state at the return over what was held at the entry. `wanted` are the inputs on which counts,
    tests or accesses depend. `polls` are branches (by edge) taken on what a port gave; `passed` are the edges
    control can take. `waited` are addresses and the loops that end when what stands there changes.
    """

    context: Context
    cost: Cost | None
    reason: str
    end: State | None
    wanted: frozenset[Input]
    loops: Mapping[LoopKey, LoopCount]
    facts: Mapping[int, Fact]
    polls: Mapping[tuple[int, int], Poll]
    passed: frozenset[tuple[int, int]]
    waited: frozenset[tuple[int, LoopKey]]


@dataclass(slots=True)
class Record:
    """What a walk has found so far in one context."""

    loops: dict[LoopKey, LoopCount] = field(default_factory=dict)
    facts: dict[int, Fact] = field(default_factory=dict)
    polls: dict[tuple[int, int], Poll] = field(default_factory=dict)
    passed: set[tuple[int, int]] = field(default_factory=set)
    wanted: set[Input] = field(default_factory=set)
    waited: set[tuple[int, LoopKey]] = field(default_factory=set)

    def copy(self) -> Record:
        return Record(
            dict(self.loops),
            dict(self.facts),
            dict(self.polls),
            set(self.passed),
            set(self.wanted),
            set(self.waited),
        )
