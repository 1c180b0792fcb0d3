"""Which mode a part is in where it is accessed, told from what a program wrote to its registers before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..board import Board, Family, Held, Mode, Part, at_start, holds, written
from ..timing import Context, Site, Timings
from .carried import Start, carry


@dataclass(frozen=True, slots=True)
class Modes:
    """The modes a part may be in behind an access, the strictest first.

    `told` is false where that rests on nothing but the project file, or on nothing at all. `writers` are the
    instructions that put there what tells it.
    """

    possible: tuple[Mode, ...]
    told: bool
    writers: tuple[int, ...] = ()


def may_be_in(part: Part) -> frozenset[str]:
    """The names of all modes that a part may be in somewhere in a program."""
    return frozenset(mode.name for mode in part.family.set_by_writes) or frozenset({part.mode.name})


def modes(timings: Timings, board: Board, part: Part, own: Sequence[Site]) -> Mapping[Site, Modes]:
    """The modes behind each of the accesses of a part.

    What the text fixes counts. Where it leaves several, that which the project file states is taken if it is one of
    them. What was not written since the program began is known only from the reset vector on, and in a handler of an
    interrupt only what it writes itself.
    """
    if not part.family.set_by_writes or part.driven:
        return dict.fromkeys(own, Modes((part.mode,), told=False))
    reading = _Reading(board, part)
    unknown = frozenset({Held()})
    handlers = frozenset(handler.entry for handler in timings.handlers)
    powered = frozenset({reading.kept(at_start(part.family.registers))})
    resets = {r.entry.index: powered for r in timings.routines if r.entry.kind == "reset"}
    start = Start(frozenset({reading.begin()}), unknown, handlers, at=resets)
    before = carry(timings, own, start, reading.step).before
    after = {site: _each(reading, site, before.get(site, unknown)) for site in own}
    left = _left_by_handlers(timings, after)
    return {site: _modes(part, held | left) for site, held in after.items()}


def _each(reading: _Reading, site: Site, before: frozenset[Held]) -> frozenset[Held]:
    return frozenset(held for each in before for held in reading.step(site, each))


def _left_by_handlers(timings: Timings, after: Mapping[Site, frozenset[Held]]) -> frozenset[Held]:
    """What handlers leave that choose a mode themselves: they can come anywhere."""
    inside = set(timings.live(Context(handler.entry) for handler in timings.handlers))
    return frozenset(
        held
        for site, states in after.items()
        if site.context in inside
        for held in states
        if any(writer == site.access.instruction for _, _, writer in held.values)
    )


class _Reading:
    """How the accesses of one part set its registers; only what tells the mode is kept of them."""

    def __init__(self, board: Board, part: Part) -> None:
        self.board = board
        self.part = part
        self.telling = _telling(part.family)
        self.needed = _needed(part.family, self.telling)
        registers = [each for each in part.family.registers if each.name in self.needed]
        self.ports = {port for each in registers for port in each.ports}

    def begin(self) -> Held:
        """What is held where a program begins that something else has started: a pair is not begun."""
        pair = self.part.family.pair
        return Held((), ((pair.port, ""),) if pair and pair.port in self.ports else ())

    def step(self, site: Site, before: Held) -> Iterator[Held]:
        """What may be held behind an access."""
        found = self.board.part_at(site.access.address)
        if found is None:
            yield before
            return
        port, access = found[1].name, site.access
        values = (None,) if access.values is None else tuple(sorted(access.values))
        before = self._restarted(port, site, before)
        if access.way != "write" or port not in self.ports:
            yield before
            return
        at = access.address - self.part.ports[port]
        for value in values:
            for _, held in written(self.part.family.registers, port, at, value, access.instruction, before):
                yield self.kept(held)

    def _restarted(self, port: str, site: Site, before: Held) -> Held:
        """An access that makes the next one of a pair a first one again."""
        pair = self.part.family.pair
        if pair is None:
            return before
        told = self.board.operation(self.part, port, site.access.way, None)
        if not any(operation.name in pair.restarts for operation in told):
            return before
        return replace(before, last=tuple(sorted({**dict(before.last), pair.port: ""}.items())))

    def kept(self, held: Held) -> Held:
        """The registers that matter; who wrote is kept of those alone that tell the mode."""
        return Held(
            tuple(
                (name, value, writer if name in self.telling else None)
                for name, value, writer in held.values
                if name in self.needed
            ),
            tuple((port, name) for port, name in held.last if port in self.ports),
        )


def _telling(family: Family) -> frozenset[str]:
    return frozenset(given.register for mode in family.modes for way in mode.when for given in way)


def _needed(family: Family, telling: frozenset[str]) -> frozenset[str]:
    """Registers that tell the mode, with those on which it hangs whether a write goes to one of them."""
    found = telling
    while True:
        rows = [each for each in family.registers if each.name in found]
        more = {given.register for each in rows for given in (*each.given, *(each.behind or ()))}
        more |= {each.takes for each in rows if each.takes}
        if more <= found:
            return found
        found |= more


def _modes(part: Part, held: frozenset[Held]) -> Modes:
    several = part.family.set_by_writes
    told = [_possible(several, each) for each in held]
    names = {mode.name for each in told for mode in each}
    possible = tuple(mode for mode in several if mode.name in names)
    if len(possible) > 1 and part.mode_stated and part.mode in possible:
        return Modes((part.mode,), told=False)
    registers = _telling(part.family)
    writers = {writer for each in held for name, _, writer in each.values if name in registers}
    known = tuple(sorted(writer for writer in writers if writer is not None))
    return Modes(possible, bool(known), known)


def _possible(several: Sequence[Mode], held: Held) -> Sequence[Mode]:
    """The modes that may be meant by what is held; all where it fits none that is described."""
    return [mode for mode in several if _may_be(mode, held)] or several


def _may_be(mode: Mode, held: Held) -> bool:
    return any(all(holds(g.pattern, held.value(g.register)) is not False for g in way) for way in mode.when)
