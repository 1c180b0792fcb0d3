"""Ways out of a region or a loop: where they lead, the state there, and the cycles up to there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from ..cpu import term
from ..cpu.symbolic import State, applied, unsure
from ..cpu.term import Input, Term, Unsure
from .polynomial import NONE, Cost, Polynomial, constant, summed
from .turns import EXACT_WIDTH, At

# Stores that move on from turn to turn: the address in the first turn, and the step.
Moving = tuple[tuple[Term, int], ...]
# No loop that ends runs more turns.
ENDLESS: Final = 1 << 32


@dataclass(slots=True)
class Arrival:
    """Control at a point: the state, the cycles since the start of the region, the tests passed on the way."""

    state: State
    cost: Cost
    guards: frozenset[Term]


@dataclass(frozen=True, slots=True)
class Out:
    """A way out of a region: to an instruction outside, by a return, or to where the text does not tell."""

    source: int
    target: int | None
    kind: Literal["edge", "return", "lost"]
    arrival: Arrival
    reason: str = ""


def at_turn(turns: int) -> At:
    return At(constant(turns), term.number(turns), EXACT_WIDTH)


def turned(each: Cost, turn: Input, full: Polynomial) -> Cost:
    """The cycles of `full` whole turns."""
    most = None if each.most is None else _sum(each.most, turn, full, each.most.bounds[1])
    if most is None and full.value == 0:
        most = constant(0)
    return Cost(_sum(each.fewest, turn, full, each.fewest.bounds[0]), most, each.reason)


def _sum(each: Polynomial, turn: Input, full: Polynomial, bound: int) -> Polynomial:
    total = summed(each, turn, full)
    return full.scaled(bound) if total is None else total


def started_from(out: Out, scope: int, at: State) -> Out:
    """A way out read over a scope, from the state that scope started in."""
    arrival = Arrival(applied(out.arrival.state, scope, at), out.arrival.cost, out.arrival.guards)
    return Out(out.source, out.target, out.kind, arrival, out.reason)


def one_turn_later(out: Out, back: Arrival) -> Out:
    return Out(
        out.source,
        out.target,
        out.kind,
        Arrival(out.arrival.state, back.cost + out.arrival.cost, out.arrival.guards | back.guards),
        out.reason,
    )


def once_spent(out: Out, spent: Cost) -> Out:
    arrival = Arrival(out.arrival.state, spent + out.arrival.cost, frozenset())
    return Out(out.source, out.target, out.kind, arrival, out.reason)


def leaving(out: Out, spent: Cost, when: At, turn: Input, moving: Moving) -> Out:
    """The way out taken after a solved number of whole turns."""
    state = _placed(out.arrival.state, when, turn)
    for where, step in moving:
        _overwrite(state, where, step, when.full.bounds[1])
    cost = spent + out.arrival.cost.substituted(term.putting(turn, when.turn))
    return Out(out.source, out.target, out.kind, Arrival(state, cost, frozenset()), out.reason)


def _placed(state: State, when: At, turn: Input) -> State:
    """The state with the turn number put in; a register wider than the number is known becomes unsure."""
    made = state.copy()
    vague = unsure("it depends on the number of turns", 0, ENDLESS)
    for name, value in state.registers.items():
        fits = when.turn.value is not None or state.width(name) <= when.width
        made.registers[name] = term.put(value, turn, when.turn if fits else vague)
    made.memory = {
        address: term.put(value, turn, when.turn)
        for address, value in state.memory.items()
        if when.turn.value is not None or turn not in address.inputs
    }
    if when.turn.value is not None:
        made.memory = {term.put(a, turn, when.turn): value for a, value in made.memory.items()}
    return made


def _overwrite(state: State, where: Term, step: int, turns: int) -> None:
    """Forgets the named cells that stores moving on from `where` have run over."""
    if where.value is None:
        return
    ends = sorted((where.value, where.value + step * turns))
    for address in [a for a in state.memory if a.value is not None and ends[0] <= a.value <= ends[1]]:
        state.memory[address] = unsure("a loop stores over it", 0, 255)


def left_open(out: Out) -> frozenset[Input]:
    """The values a way out leaves open."""
    terms = [*out.arrival.state.registers.values(), *out.arrival.state.memory.values(), *out.arrival.guards]
    return frozenset(i for i in term.inputs(terms) if isinstance(i.origin, Unsure))


def some_time(
    out: Out,
    each: Cost,
    limit: Polynomial | None,
    reason: str,
    turn: Input,
    alone: bool = False,
) -> Out:
    """A way out that may be taken in any turn from the first to the one after `limit` whole turns.

    `alone` says that there is no other: then control does leave there, sooner or later.
    """
    cost = out.arrival.cost
    most = None
    if limit is not None:
        spent = turned(each, turn, limit).most
        if spent is not None and cost.most is not None:
            most = constant(spent.bounds[1] + cost.most.bounds[1])
    spread = Cost(constant(cost.least), most, reason)
    found = turn_unknown(out, NONE, turn, reason, spread)
    if alone:
        found.arrival.guards = frozenset()
    return found


def turn_unknown(out: Out, spent: Cost, turn: Input, reason: str, cost: Cost | None = None) -> Out:
    """The way out with nothing known of the turn it is taken in."""
    vague = unsure(reason, 0, ENDLESS)
    state = out.arrival.state.copy()
    state.registers = {name: term.put(value, turn, vague) for name, value in state.registers.items()}
    state.memory = {
        address: term.put(value, turn, vague)
        for address, value in state.memory.items()
        if turn not in address.inputs
    }
    total = cost if cost is not None else spent + out.arrival.cost.substituted(term.putting(turn, vague))
    chance = unsure(reason, 0, 1)
    return Out(out.source, out.target, out.kind, Arrival(state, total, frozenset({chance})), out.reason)
