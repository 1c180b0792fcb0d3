"""The numbers that a program writes to parts that count, and which instructions put them there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Final

from ..board import Board, Held, Output, Part, Register, at_start, holds, number, written
from ..timing import Access, Site, Timings
from .carried import Carried, Start, carry

# Bytes of one number that are written within so many cycles belong together: what stands there between them
# counts for nothing. Common practice.
_TOGETHER: Final = 200


@dataclass(frozen=True, slots=True)
class Setting:
    """An output of a part with the numbers that stand in it behind the instruction `index`.

    `numbers` are as they are written, `writers` the instructions that wrote each register. `periods` are those of the
    clock it counts.
    """

    part: Part
    output: Output
    index: int
    numbers: tuple[tuple[str, int], ...]
    periods: Fraction
    held: Held

    @property
    def writers(self) -> Mapping[str, int]:
        """The instruction that wrote each register of the numbers, where one did."""
        names = [register for made in self.output.numbers for register in made.bits]
        found = {register: self.held.writer(register) for register in names}
        return {register: index for register, index in found.items() if index is not None}


@dataclass(frozen=True, slots=True)
class Unset:
    """An output into which something is written at instruction `index` that is not known, and why it is not."""

    part: Part
    output: Output
    index: int
    reason: str


def settings(timings: Timings, board: Board) -> Mapping[str, tuple[Setting | Unset, ...]]:
    """What every part's counters are set to, by the name of the part, in the order of the source, each once."""
    return {part.name: tuple(_of_part(timings, board, part)) for part in board.parts if _outputs(part)}


def _outputs(part: Part) -> tuple[Output, ...]:
    return tuple(output for output in part.family.outputs if part.grade.name in output.grades)


def _of_part(timings: Timings, board: Board, part: Part) -> Iterator[Setting | Unset]:
    own = [
        site
        for site in timings.sites()
        if site.access.way == "write" and _port(board, part, site.access) is not None
    ]
    handlers = frozenset(handler.entry for handler in timings.handlers)
    begin, registers = at_start(part.family.registers), part.family.registers
    unknown = Held(tuple((name, None, None) for name, _, _ in begin.values))
    start = Start(frozenset({begin}), frozenset({unknown}), handlers, passed_on=True)

    @cache  # an access is the same in every context
    def told(access: Access, before: Held) -> tuple[tuple[Register | None, Held], ...]:
        return tuple(dict.fromkeys(written_by(access, before)))

    def written_by(access: Access, before: Held) -> Iterator[tuple[Register | None, Held]]:
        found = _port(board, part, access)
        assert found is not None
        port, at = found
        values = (access.beyond,) if access.values is None else tuple(sorted(access.values))
        for value in values:
            for register, held in written(registers, port, at, value, access.instruction, before):
                # A number that stands for itself says nothing of one on top of a counter, and the other way round.
                if register is not None and register.beyond != (access.values is None and value is not None):
                    yield register, held.with_value(register.name, port, None, access.instruction)
                else:
                    yield register, held

    carried = carry(timings, own, start, lambda site, before: (held for _, held in told(site.access, before)))
    writes = {
        site: tuple(
            dict.fromkeys(
                each for before in carried.before.get(site, ()) for each in told(site.access, before)
            )
        )
        for site in own
    }
    found = [each for site in own for each in _set_at(part, site, writes, carried)]
    seen: dict[tuple[object, ...], Setting | Unset] = {}
    for each in found:
        seen.setdefault(_key(each), each)
    yield from seen.values()


def _key(each: Setting | Unset) -> tuple[object, ...]:
    if isinstance(each, Unset):
        return each.output.name, each.index, each.reason
    return each.output.name, each.numbers, tuple(each.writers.items())


def _port(board: Board, part: Part, access: Access) -> tuple[str, int] | None:
    """The port of the part that is written, and the place in it."""
    found = board.part_at(access.address)
    if found is None or found[0] is not part:
        return None
    return found[1].name, access.address - part.ports[found[1].name]


_Writes = Mapping[Site, Sequence[tuple[Register | None, Held]]]


def _set_at(part: Part, site: Site, writes: _Writes, carried: Carried[Held]) -> Iterator[Setting | Unset]:
    for output in _outputs(part):
        names = {register for made in output.numbers for register in made.bits}
        names |= {given.register for given in output.given}
        for register, held in writes[site]:
            if register is None or register.name not in names:
                continue
            told = [holds(given.pattern, held.value(given.register)) for given in output.given]
            if False in told or _unfinished(site, register.name, names, writes, carried):
                continue
            yield from _made(part, output, site.access.instruction, held, None not in told)


def _made(part: Part, output: Output, index: int, held: Held, certain: bool) -> Iterator[Setting | Unset]:
    raw = {made.name: number(made, held) for made in output.numbers}
    open_ = [made for made in output.numbers if raw[made.name] is None]
    if open_:
        # A number of which nothing was ever written is not set at all.
        if all(any(held.writer(name) is not None for name in made.bits) for made in open_):
            yield Unset(part, output, index, "the number written is not known")
        return
    if not certain:
        names = ", ".join(given.register for given in output.given)
        yield Unset(part, output, index, f"what {names} holds there is not known")
        return
    numbers = {name: value for name, value in raw.items() if value is not None}
    periods = counted(output, numbers)
    if periods is not None:
        yield Setting(part, output, index, tuple(sorted(numbers.items())), periods, held)


def counted(output: Output, numbers: Mapping[str, int]) -> Fraction | None:
    """The periods that an output counts for numbers as they are written; None where it counts none."""
    meant = {made.name: made.meaning(numbers[made.name]) for made in output.numbers}
    known = {name: value for name, value in meant.items() if value is not None}
    if len(known) < len(meant):
        return None
    periods = output.periods.of(known)
    return periods if periods is not None and periods > 0 else None


def _unfinished(site: Site, register: str, names: set[str], writes: _Writes, carried: Carried[Held]) -> bool:
    """Whether on every way another byte of the same number follows soon."""
    ways = carried.following.get(site, ())
    work = [(gap.then, gap.fewest) for gap in ways]
    seen = {site}
    ends = not ways
    while work and not ends:
        then, cycles = work.pop()
        written_there = {each.name for each, _ in writes[then] if each is not None}
        if cycles > _TOGETHER:
            ends = True
        elif not (written_there & names) - {register}:
            further = carried.following.get(then, ())
            ends = then in seen or not further
            seen.add(then)
            work += [(gap.then, cycles + gap.fewest) for gap in further]
    return not ends
