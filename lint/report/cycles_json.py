"""`cycles` for machines: shared/schemas/report-cycles.json says what is in it."""

from .amount import Json, exact, times_json, total_json
from .cycles import BuildCycles, Cycles, FileCycles, LoopLines, RoutineLines

SCHEMA_VERSION = 1


def value(report: Cycles) -> Json:
    """The report as JSON values, by build and file."""
    return {"schema_version": SCHEMA_VERSION, "builds": [_build(build) for build in report.builds]}


def _build(build: BuildCycles) -> Json:
    return {
        "name": build.name,
        "source": build.source,
        "processor": build.processor,
        "clocks_hz": [exact(clock.hz) for clock in build.clocks],
        "files": [_file(build, file) for file in build.files],
    }


def _file(build: BuildCycles, file: FileCycles) -> Json:
    return {
        "file": file.source.name,
        "lines": [_line(file, line) for line in sorted(file.taken)],
        "not_understood": sorted(file.unread),
        "loops": [_loop(build, loop) for loop in file.loops],
        "routines": [_routine(build, routine) for routine in file.routines],
    }


def _line(file: FileCycles, line: int) -> Json:
    taken = file.taken[line]
    name, total = file.called.get(line, (None, None))
    return {
        "line": line,
        "min": taken.fewest,
        "max": taken.most,
        "passed": None if taken.passed is None else {"min": taken.passed[0], "max": taken.passed[1]},
        "each_once": taken.several,
        "calls": None if total is None else {"name": name, "cycles": total_json(total)},
    }


def _loop(build: BuildCycles, loop: LoopLines) -> Json:
    even = loop.even
    return {
        "name": loop.name,
        "first": loop.first,
        "last": loop.last,
        "trips": total_json(loop.trips),
        "cycles": total_json(loop.total),
        "even": even and {"turns": even.turns, "cycles": even.cycles, "rest": even.rest},
        "times": times_json(loop.total, build.clocks),
    }


def _routine(build: BuildCycles, routine: RoutineLines) -> Json:
    return {
        "name": routine.name,
        "first": routine.first,
        "last": routine.last,
        "cycles": total_json(routine.total),
        "with_call": None if routine.with_call is None else total_json(routine.with_call),
        "times": times_json(routine.total, build.clocks),
    }
