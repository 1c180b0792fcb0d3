"""The report of `durations`: every routine, loop and call of some builds, and the gaps that were asked for."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..assemble import Instruction
from ..chain import Chain
from ..cpu import Register
from ..errors import Place
from ..quantity import Clock
from ..timing import Access, CallTiming, Gap, LoopTiming, Query, RoutineTiming, Site, Total
from ..timing.wording import name_of
from .measured import MeasuredRow, measured


@dataclass(frozen=True, slots=True)
class CallRow:
    """A routine's time at one call site that hands over known values, the call itself not counted.

    `values` are those values: ("B", 11), of registers made of others as well. `pairs` has what such a one is made of,
    high bits first; `meant` has the label a value is the address of, where it is one.
    """

    name: str
    place: Place
    total: Total
    values: Mapping[str, int]
    pairs: Mapping[str, tuple[str, ...]]
    meant: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class LoopRow:
    """A loop, named for the label at its head; `routine` is the routine it was counted in."""

    name: str
    place: Place
    routine: str
    trips: Total
    total: Total


@dataclass(frozen=True, slots=True)
class RoutineRow:
    """A routine from its entry to its return; `with_call` is None where nothing in the source calls it.

    `kind` says how it is known to be one: reset, vector, start, stated, called, unreached.
    """

    name: str
    place: Place
    kind: str
    total: Total
    with_call: Total | None
    loops: tuple[LoopRow, ...]
    calls: tuple[CallRow, ...]


@dataclass(frozen=True, slots=True)
class GapEnd:
    """One access: where it stands, whether it reads or writes, and at which address."""

    place: Place
    access: str
    address: int


@dataclass(frozen=True, slots=True)
class GapRow:
    """Cycles between consecutive accesses of an address that was asked for, or of a part; `of` is its name.

    `most` is None where nothing bounds it.
    """

    of: str
    first: GapEnd
    then: GapEnd
    fewest: int
    most: int | None


@dataclass(frozen=True, slots=True)
class BuildDurations:
    """What one build takes. `problems` counts what is wrong in its text, notes included; `check` names each."""

    name: str
    source: str
    processor: str
    clocks: tuple[Clock, ...]
    statements: int
    understood: int
    problems: int
    routines: tuple[RoutineRow, ...]
    gaps: tuple[GapRow, ...]
    measured: tuple[MeasuredRow, ...]


@dataclass(frozen=True, slots=True)
class Durations:
    """The report: one part for each build."""

    builds: tuple[BuildDurations, ...]


def durations(chain: Chain, times: tuple[str, ...] = ()) -> BuildDurations:
    """What the build of `chain` takes, in the order of its source; `times` are those measured, as LABEL=TIME."""
    timings = chain.timings
    loops: dict[str, list[LoopRow]] = {}
    for loop in timings.loops:
        loops.setdefault(loop.routine, []).append(_loop(chain, loop))
    calls: dict[int, list[CallRow]] = {}
    for call in timings.calls:
        calls.setdefault(call.context.entry, []).append(_call(chain, call))
    rows = [_routine(chain, routine, loops, calls) for routine in timings.routines]
    return BuildDurations(
        name=chain.name,
        source=chain.request.source,
        processor=chain.request.processor,
        clocks=chain.board.clocks,
        statements=chain.program.statements,
        understood=chain.program.understood,
        problems=len(chain.program.problems) + len(chain.program.bad_notes),
        routines=tuple(row for _, row in sorted(rows, key=lambda pair: pair[0])),
        gaps=tuple(_gaps(chain)),
        measured=tuple(measured(chain, times)),
    )


def _routine(
    chain: Chain,
    routine: RoutineTiming,
    loops: Mapping[str, list[LoopRow]],
    calls: Mapping[int, list[CallRow]],
) -> tuple[int, RoutineRow]:
    entry = routine.entry
    row = RoutineRow(
        name=entry.name,
        place=_at(chain, entry.index).origin.place,
        kind=entry.kind,
        total=routine.total,
        with_call=routine.with_call,
        loops=tuple(loops.get(entry.name, ())),
        calls=tuple(calls.get(entry.index, ())),
    )
    return entry.index, row


def _loop(chain: Chain, loop: LoopTiming) -> LoopRow:
    return LoopRow(loop.name, _at(chain, loop.head).origin.place, loop.routine, loop.trips, loop.total)


def _call(chain: Chain, call: CallTiming) -> CallRow:
    values = dict(sorted((name_of(given, chain.graph), value) for given, value in call.context.known))
    pairs = dict(_made_of(values, chain.program.cpu.views.values()))
    labels = {
        s.value: s.name for s in chain.program.symbols.values() if s.kind == "label" and s.value is not None
    }
    meant = {value: labels[value] for value in values.values() if value in labels and value > 255}
    return CallRow(call.name, _at(chain, call.call).origin.place, call.total, values, pairs, meant)


def _made_of(values: dict[str, int], views: Iterable[Register]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Registers made of others that are all in `values`, which then has their values, too."""
    for view in views:
        names = tuple(name for name, _ in view.parts)
        if all(name in values for name in names):
            whole = 0
            for name, width in view.parts:
                whole = whole << width | values[name]
            values[view.name] = whole
            yield view.name, names


def _gaps(chain: Chain) -> Iterator[GapRow]:
    for text, address in chain.gaps_at:
        yield from _between(chain, text, frozenset({address}))
    for part in chain.board.parts:
        addresses = {address for first, last, _ in part.stretches() for address in range(first, last + 1)}
        yield from _between(chain, part.name, part.driven | addresses)


def _between(chain: Chain, of: str, addresses: frozenset[int]) -> Iterator[GapRow]:
    """The gaps between accesses of these addresses, each pair of places once over all that call there."""

    def asked(site: Site) -> bool:
        return site.access.address in addresses

    found: dict[tuple[GapEnd, GapEnd], GapRow] = {}
    for gap in chain.timings.gaps(Query(asked, asked, lambda _: False)):
        row = _gap(chain, of, gap)
        before = found.get((row.first, row.then))
        found[row.first, row.then] = _widest(before, row) if before else row
    yield from found.values()


def _gap(chain: Chain, of: str, gap: Gap) -> GapRow:
    return GapRow(of, _end(chain, gap.first.access), _end(chain, gap.then.access), gap.fewest, gap.most)


def _widest(one: GapRow, other: GapRow) -> GapRow:
    most = None if one.most is None or other.most is None else max(one.most, other.most)
    return GapRow(one.of, one.first, one.then, min(one.fewest, other.fewest), most)


def _end(chain: Chain, access: Access) -> GapEnd:
    return GapEnd(_at(chain, access.instruction).origin.place, access.way, access.address)


def _at(chain: Chain, index: int) -> Instruction:
    return chain.program.instructions[index]
