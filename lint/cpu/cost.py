"""Counts the bus steps of an instruction and places its accesses among them."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Protocol

from .meaning import Expr
from .step import Guard, Kind, Repeated, Step

TAKEN = "taken"  # the condition of a branch, and of a conditional call or return
Truth = Callable[[str], bool | None]  # the name of a condition -> whether it holds, None where not known
Count = Callable[[Expr], int | None]  # the number of repetitions, None where not known


class Stepped(Protocol):
    """An instruction or an interrupt: anything with bus steps."""

    @property
    def steps(self) -> tuple[Step | Repeated, ...]: ...
    @property
    def conditions(self) -> Mapping[str, Expr]: ...
    @property
    def unplaced(self) -> str | None: ...


@dataclass(frozen=True, slots=True)
class Cost:
    """Cycles, both included; `most` is None where nothing bounds it (waiting for an interrupt)."""

    fewest: int
    most: int | None


@dataclass(frozen=True, slots=True)
class BusAccess:
    """One byte read or written, by the earliest and latest cycle it can come in; cycle 1 is the opcode fetch.

    `last` is None after a wait; an access that is not `certain` comes only under a condition that is not
    known.
    """

    kind: str  # read, write or dummy
    first: int
    last: int | None
    certain: bool = True


def unknown(_: Expr) -> int | None:
    """A count nobody knows."""
    return None


def cost(action: Stepped, truth: Truth, count: Count = unknown) -> Cost:
    """Fewest and most cycles; a condition or count that is not known makes a range of it."""
    plain = _plain(action.steps)
    if plain is not None:
        return plain
    names = sorted({guard.name for step in action.steps for guard in step.guards})
    known = {name: truth(name) for name in names}
    choices = [(True, False) if known[name] is None else (known[name],) for name in names]
    costs = [_cost(action, dict(zip(names, choice, strict=True)).get, count) for choice in product(*choices)]
    most = [each.most for each in costs if each.most is not None]
    return Cost(min(each.fewest for each in costs), max(most) if len(most) == len(costs) else None)


@cache
def _plain(steps: tuple[Step | Repeated, ...]) -> Cost | None:
    """The cost of steps that hang on nothing."""
    if not all(isinstance(step, Step) and not step.guards and step.kind is not Kind.WAIT for step in steps):
        return None
    return Cost(len(steps), len(steps))


def accesses(action: Stepped, truth: Truth, count: Count = unknown) -> tuple[BusAccess, ...]:
    """Every data access in bus order (never a fetch), with the cycles it can come in.

    Steps of unknown place may all come before an access or all after it, so each makes the range one wider.
    A group repeated an unknown number of times is listed once, as not certain, for all its turns.
    """
    loose = action.unplaced is not None and truth(action.unplaced) is not False
    groups = list(_groups(action, truth, count))
    slack = sum(high for steps, _, high in groups for step in steps if _loose(step, loose))
    return tuple(_placed(groups, loose, slack))


def _cost(action: Stepped, truth: Truth, count: Count) -> Cost:
    fewest, most = 0, 0
    bounded = True
    for steps, low, high in _groups(action, truth, count):
        length = sum(step.kind is not Kind.WAIT for step in steps)
        fewest += low * length
        most += high * length
        bounded = bounded and length == len(steps)
    return Cost(fewest, most if bounded else None)


_Turns = tuple[tuple[Step, ...], int, int]


def _placed(groups: Iterable[_Turns], loose: bool, slack: int) -> Iterator[BusAccess]:
    before, latest = 0, 0
    bounded = True
    for steps, low, high in groups:
        length = sum(step.kind is not Kind.WAIT and not _loose(step, loose) for step in steps)
        turns = high if low == high else 1
        for _ in range(turns):
            for step in steps:
                if step.kind is Kind.WAIT:
                    bounded = False
                if step.kind is Kind.WAIT or _loose(step, loose):
                    continue
                before, latest = before + 1, latest + 1
                if step.kind in _NAMES:
                    last = latest + slack + (high - turns) * length
                    yield BusAccess(_NAMES[step.kind], before, last if bounded else None, low == high)
        if low != high:
            before += (low - 1) * length
            latest += (high - 1) * length


_NAMES = {Kind.READ: "read", Kind.WRITE: "write", Kind.DUMMY: "dummy"}


def _loose(step: Step, all_idle: bool) -> bool:
    return step.kind is Kind.IDLE and (all_idle or not step.placed)


def _groups(action: Stepped, truth: Truth, count: Count) -> Iterator[_Turns]:
    for step in action.steps:
        holds = _holds(step.guards, truth)
        if holds is False:
            continue
        if isinstance(step, Step):
            yield (step,), int(holds is True), 1
            continue
        turns = count(step.count)
        low, high = (0, step.high) if turns is None else (turns, turns)
        yield step.steps, low if holds else 0, high


def _holds(guards: tuple[Guard, ...], truth: Truth) -> bool | None:
    result: bool | None = True
    for guard in guards:
        known = truth(guard.name)
        if known is None:
            result = None
        elif known is not guard.wanted:
            return False
    return result
