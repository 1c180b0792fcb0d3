"""`durations` for machines: shared/schemas/report-durations.json says what is in it."""

from ..address import is_port, port_number
from ..errors import Place
from .amount import Json, exact, seconds, span_json, times_json, total_json
from .durations import BuildDurations, CallRow, Durations, GapEnd, GapRow, LoopRow, RoutineRow
from .measured import MeasuredRow

SCHEMA_VERSION = 1


def value(report: Durations) -> Json:
    """The report as JSON values; what belongs to a build carries its name."""
    return {
        "schema_version": SCHEMA_VERSION,
        "builds": [_build(build) for build in report.builds],
        "routines": [_routine(build, row) for build in report.builds for row in build.routines],
        "loops": [
            _loop(build, row)
            for build in report.builds
            for routine in build.routines
            for row in routine.loops
        ],
        "calls": [
            _call(build, row)
            for build in report.builds
            for routine in build.routines
            for row in routine.calls
        ],
        "gaps": [_gap(build, row) for build in report.builds for row in build.gaps],
        "measured": [_measured(build, row) for build in report.builds for row in build.measured],
    }


def _build(build: BuildDurations) -> Json:
    return {
        "name": build.name,
        "source": build.source,
        "processor": build.processor,
        "clocks_hz": [exact(clock.hz) for clock in build.clocks],
        "statements": build.statements,
        "understood": build.understood,
        "problems": build.problems,
    }


def _routine(build: BuildDurations, row: RoutineRow) -> Json:
    return {
        "name": row.name,
        **_place(row.place),
        "build": build.name,
        "entry": row.kind,
        "cycles": total_json(row.total),
        "with_call": None if row.with_call is None else total_json(row.with_call),
        "times": times_json(row.total, build.clocks),
    }


def _loop(build: BuildDurations, row: LoopRow) -> Json:
    return {
        "name": row.name,
        **_place(row.place),
        "build": build.name,
        "routine": row.routine,
        "trips": total_json(row.trips),
        "cycles": total_json(row.total),
        "times": times_json(row.total, build.clocks),
    }


def _call(build: BuildDurations, row: CallRow) -> Json:
    return {
        "name": row.name,
        **_place(row.place),
        "build": build.name,
        "values": dict(row.values),
        "cycles": total_json(row.total),
        "times": times_json(row.total, build.clocks),
    }


def _gap(build: BuildDurations, row: GapRow) -> Json:
    return {
        "of": row.of,
        "build": build.name,
        **_address(row.then.address),
        "first": _end(row.first),
        "then": _end(row.then),
        "fewest": row.fewest,
        "most": row.most,
        "times": span_json(row.fewest, row.most, build.clocks),
    }


def _measured(build: BuildDurations, row: MeasuredRow) -> Json:
    return {
        "name": row.name,
        **_place(row.place),
        "build": build.name,
        "fewest": row.fewest,
        "most": row.most,
        **seconds("time", row.time),
        "slowest_hz": exact(row.slowest.hz),
        "fastest_hz": exact(row.fastest.hz),
    }


def _end(end: GapEnd) -> Json:
    return {
        "file": end.place.path,
        "line": end.place.line,
        "access": end.access,
        **_address(end.address),
    }


def _address(address: int) -> Json:
    """A port is its number in the space io."""
    return {"address": port_number(address), "space": "io"} if is_port(address) else {"address": address}


def _place(place: Place) -> Json:
    return {"file": place.path, "line": place.line}
