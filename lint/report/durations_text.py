"""`durations` for people: a table for each build, as text or as lines of a build log."""

from collections.abc import Collection, Iterator, Sequence

from ..quantity import Clock
from ..rules import Strobes
from ..timing import Exact, Formula, Total
from .amount import bounds, cycles_text, detail, time_text
from .durations import BuildDurations, CallRow, Durations, GapRow, LoopRow, RoutineRow
from .measured import MeasuredRow
from .table import Paint, Row, table


def text(report: Durations, paint: Paint) -> Iterator[str]:
    """Every routine with the loops and call sites that belong to it, then the gaps."""
    for number, build in enumerate(report.builds):
        if number:
            yield ""
        yield from _build(build, paint)


def lines(report: Durations) -> Iterator[str]:
    """One line that stands alone for each routine, loop, call site and gap."""
    for build in report.builds:
        for routine in build.routines:
            yield _line(routine.place, routine.name, routine.total, build.clocks)
            for loop in routine.loops:
                yield _line(loop.place, f"loop {loop.name}", loop.total, build.clocks)
            for call in told_by_caller(routine):
                yield _line(call.place, f"{call.name} called here", call.total, build.clocks)
        for gap in build.gaps:
            yield (
                f"{gap.then.place}: note: gap: {gap.of} {_done(gap.then.access)} {_gap_cycles(gap)} cycles after "
                f"line {gap.first.place.line}{_on_a_scope(gap, build.clocks)}"
            )
        yield from (f"{row.place}: note: measured: {_measured(row)}" for row in build.measured)


def _measured(row: MeasuredRow) -> str:
    cycles = str(row.fewest) if row.fewest == row.most else f"{row.fewest}..{row.most}"
    slowest, fastest = row.slowest.text(7), row.fastest.text(7)
    clock = slowest if slowest == fastest else f"{slowest}..{fastest}"
    return f"{row.name}: {cycles} cycles in {row.time.text()} are a bus clock of {clock}"


def told_by_caller(row: RoutineRow) -> tuple[CallRow, ...]:
    """The call sites worth a line of their own: those where more is known than in the routine itself."""
    if isinstance(row.total, Exact):
        return ()
    return tuple(call for call in row.calls if call.total != row.total)


def _build(build: BuildDurations, paint: Paint) -> Iterator[str]:
    title = build.source if build.name == build.source else f"{build.source}, build {build.name}"
    yield paint(f"{title}, {build.processor}: {_understood(build)}", "head")
    yield ""
    head = ("name", "where", "cycles", "with call", "turns", *(clock.text() for clock in build.clocks))
    yield from table(head, list(_rows(build)), paint)
    stretch = next((clock.stretch for clock in build.clocks if clock.stretch), None)
    if stretch is not None:
        yield (
            f"one cycle in {stretch.every} is longer by {stretch.by} of a cycle: times are the mean; at worst none of "
            "a short way is, or one more than the mean"
        )
    if build.gaps:
        yield ""
        gap_head = ("between accesses", "from", "to", "cycles", *(clock.text() for clock in build.clocks))
        yield from table(gap_head, [_gap_row(gap, build.clocks) for gap in build.gaps], paint)
        yield paint("times from strobe to strobe, to expect on a scope", "dim")
    if build.measured:
        yield ""
        yield from (_measured(row) for row in build.measured)


def _understood(build: BuildDurations) -> str:
    some = "all" if build.understood == build.statements else f"{build.understood} of"
    problems = {0: "", 1: "; 1 problem, see clockhop check"}
    return f"{some} {build.statements} statements understood" + problems.get(
        build.problems, f"; {build.problems} problems, see clockhop check"
    )


def _rows(build: BuildDurations) -> Iterator[Row]:
    for routine in build.routines:
        yield _routine(routine, build.clocks)
        for loop in routine.loops:
            yield _loop(loop, routine, build.clocks)
        for call in told_by_caller(routine):
            yield _call(call, routine, build.clocks)


def _routine(row: RoutineRow, clocks: Sequence[Clock]) -> Row:
    with_call = "" if row.with_call is None else cycles_text(row.with_call)
    cells = (row.name, _where(row.place.path, row.place.line), cycles_text(row.total), with_call, "")
    return Row((*cells, *_times(row.total, clocks)), "", _below(row.total))


def _loop(row: LoopRow, routine: RoutineRow, clocks: Sequence[Clock]) -> Row:
    where = _where(row.place.path, row.place.line)
    cells = (f"  loop {row.name}", where, cycles_text(row.total), "", _turns(row.trips))
    # What keeps a loop from being counted keeps its routine from it: said once.
    below = () if detail(row.total) == detail(routine.total) else _below(row.total)
    return Row((*cells, *_times(row.total, clocks)), "", below)


def _turns(trips: Total) -> str:
    # That a loop is passed once at least goes without saying.
    return "unknown" if bounds(trips)[1] is None else cycles_text(trips)


def _call(row: CallRow, routine: RoutineRow, clocks: Sequence[Clock]) -> Row:
    named = _named(row, routine.total)
    values = [f"{n} = {row.meant.get(v, v)}" for n, v in sorted(row.values.items()) if n in named]
    name = f"  with {', '.join(values)}" if values else "  called"
    cells = (name, _where(row.place.path, row.place.line), cycles_text(row.total), "", "")
    return Row((*cells, *_times(row.total, clocks)), "", _below(row.total))


def _named(row: CallRow, total: Total) -> Collection[str]:
    """The registers whose values say something: those of the formula, else all, or the pair that is an address."""
    if isinstance(total, Formula):
        return total.inputs
    pointers = {pair: parts for pair, parts in row.pairs.items() if row.values[pair] in row.meant}
    told = {part for parts in pointers.values() for part in parts}
    return [name for name in row.values if name in pointers or not (name in told or name in row.pairs)]


def _times(total: Total, clocks: Sequence[Clock]) -> tuple[str, ...]:
    return tuple(time_text(total, clock) for clock in clocks)


def _below(total: Total) -> tuple[str, ...]:
    more = detail(total)
    return (f"      {more}",) if more else ()


def _where(path: str, line: int) -> str:
    return f"{path}:{line}"


def _line(place: object, subject: str, total: Total, clocks: Sequence[Clock]) -> str:
    times = "".join(f", {text} at {clock.text()}" for clock in clocks if (text := time_text(total, clock)))
    more = detail(total)
    return f"{place}: note: duration: {subject} takes {_taken(total)}{times}{'; ' if more else ''}{more}"


def _taken(total: Total) -> str:
    fewest, most = bounds(total)
    if most is not None:
        return f"{cycles_text(total)} cycles"
    return f"at least {fewest} cycles" if fewest else "an unknown time"


def _gap_row(gap: GapRow, clocks: Sequence[Clock]) -> Row:
    first, then = gap.first, gap.then
    times = (_gap_time(gap, clock) for clock in clocks)
    return Row(
        (
            gap.of,
            _end(first.place.path, first.place.line, first.access),
            _end(then.place.path, then.place.line, then.access),
            _gap_cycles(gap),
            *times,
        )
    )


def _end(path: str, line: int, access: str) -> str:
    return f"{access} {path}:{line}"


def _gap_cycles(gap: GapRow) -> str:
    if gap.most is None:
        return f"at least {gap.fewest}"
    return str(gap.fewest) if gap.fewest == gap.most else f"{gap.fewest}..{gap.most}"


def _gap_time(gap: GapRow, clock: Clock) -> str:
    return Strobes(gap.fewest, gap.most, (clock,)).at(clock)


def _on_a_scope(gap: GapRow, clocks: tuple[Clock, ...]) -> str:
    return f"; {Strobes(gap.fewest, gap.most, clocks).note()}" if clocks else ""


def _done(access: str) -> str:
    return "read" if access == "read" else "written"
