"""The state where ways meet, and where nobody knows what ran in between."""

from __future__ import annotations

from typing import Final

from ..cpu import term
from ..cpu.symbolic import State, merge, told, unsure
from ..cpu.term import Held, Input, Term, Turn
from ..flow import is_free, stack_pointers
from .polynomial import Cost, constant, either, variable
from .ways import Arrival, Out

# What is said of a value that joins several.
DIFFERS: Final = "differs by the way taken"


def joined(a: Arrival | None, b: Arrival) -> Arrival:
    """Two ways to one point as one: what differs is known by its bounds, and only tests that both passed count.

    Where a test led the two apart, what one of them counts up or down depends on that test alone; so does their time if
    the test is one of turns.
    """
    if a is None:
        return b
    test = next(
        (guard for guard in sorted(a.guards, key=_rank) if term.negate_truth(guard) in b.guards), None
    )
    if test is None:
        return Arrival(merge(a.state, b.state, _differs), either(a.cost, b.cost), a.guards & b.guards)

    here, there = told(test), told(term.negate_truth(test))

    def differs(x: Term, y: Term, name: str) -> Term:
        if there(x) == y or here(y) == x:
            return x if there(x) == y else y
        width = 8 if name == "memory" else a.state.width(name)
        step = term.modulo(term.add(x, y, -1), width).value
        return (
            _differs(x, y, name)
            if step is None
            else term.modulo(term.add(y, test, _near(step, width)), width)
        )

    return Arrival(merge(a.state, b.state, differs), _by_test(a.cost, b.cost, test), a.guards & b.guards)


def _rank(guard: Term) -> int:
    return guard.rank


def _near(step: int, width: int) -> int:
    return step - (1 << width) if step >> (width - 1) else step


def _by_test(a: Cost, b: Cost, test: Term) -> Cost:
    """The cost that is `a` where the test holds, else `b`."""
    if not (a.exact and b.exact) or not all(isinstance(i.origin, Turn) for i in test.inputs):
        return either(a, b)
    holds = variable(term.add(test, term.ONE), 2) + constant(-1)
    cost = b.fewest + holds * (a.fewest + b.fewest.scaled(-1))
    return Cost(cost, cost)


def _differs(a: Term, b: Term, name: str) -> Term:
    (la, ha), (lb, hb) = a.bounds, b.bounds
    return unsure(f"{name} {DIFFERS}", min(la, lb), max(ha, hb))


def over_unread_line(out: Out, reason: str) -> Out:
    """Straight on over a line that was not understood: it may do anything and take any time."""
    if out.kind != "edge":
        return out
    arrival = out.arrival
    state = forgotten(arrival.state, frozenset(), reason)
    end = Arrival(state, Cost(arrival.cost.fewest, None, reason), arrival.guards)
    return Out(out.source, out.target, out.kind, end)


def unknown_call(before: State, state: State, reason: str) -> State:
    """After a call of something not known: what the call itself moved is back, all else is open."""
    moved = frozenset(n for n in state.registers if state.get(n) != before.get(n))
    return forgotten(before, moved, reason)


def forgotten(state: State, but: frozenset[str], reason: str) -> State:
    """The state with nothing known but modes, and the registers named."""
    after = state.copy()
    for name in (*state.cpu.registers, *state.cpu.flags):
        if name not in but and name not in state.cpu.initial:
            after.registers[name] = unsure(reason, 0, (1 << state.width(name)) - 1)
    after.forget_memory()
    return after


def without_dead_stack(end: State) -> State:
    """The state at a return without what lies below the stack pointer of the entry: nobody can count on it."""
    made = end.copy()
    for name in stack_pointers(end.cpu):
        base = end.held(name)
        for address in list(made.memory):
            if is_free(address, base, name, end.cpu):
                del made.memory[address]
    return made


def narrowed(held: Term, stated: Term) -> Term:
    """What a note says a register holds: bounds of what the caller hands over, as long as it still holds that."""
    given, note = held.atom, stated.atom
    if (
        isinstance(given, Input)
        and isinstance(note, Input)
        and isinstance(given.origin, Held)
        and given.origin.scope == 0
    ):
        return term.atom(Input(given.origin, note.low, note.high))
    return stated
