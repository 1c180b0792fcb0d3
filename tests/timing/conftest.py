from collections.abc import Callable, Mapping

import pytest
from clockhop.assemble import assemble, words
from clockhop.cpu import load
from clockhop.flow import connect
from clockhop.source import Source, parse
from clockhop.timing import Region, Timings, Total, WaitStates, count
from clockhop.timing import handlers as entered


@pytest.fixture(scope="session")
def timed() -> Callable[..., Timings]:
    """The timings of a source text; `watched` are addresses of parts, `handlers` labels of routines of IRQ; `waits` are
    regions with wait states, `state` what registers hold at the start."""

    def run(
        text: str,
        cpu: str = "6809",
        watched: tuple[int, ...] = (),
        handlers: tuple[str, ...] = (),
        opaque: tuple[int, ...] = (),
        waits: tuple[Region, ...] = (),
        state: Mapping[str, int] | None = None,
    ) -> Timings:
        processor = load(cpu, stated=frozenset((state or {}).items()))

        def reader(path: str) -> Source:
            return parse(text.encode(), path, words(processor))

        program = assemble("tower.asm", processor, reader=reader)
        assert tuple(line.origin.line for line in program.opaque) == opaque
        entries = [(name, program.symbols[name].value or 0) for name in handlers]
        graph = connect(program, entries)
        states = WaitStates(waits)
        interrupts = entered(graph, [("IRQ", address) for _, address in entries], states)
        return count(graph, frozenset(watched), interrupts, states)

    return run


@pytest.fixture(scope="session")
def routine(timed: Callable[..., Timings]) -> Callable[..., Total]:
    """The total of the routine whose entry has that label."""

    def run(text: str, name: str, **options: object) -> Total:
        timings = timed(text, **options)
        (found,) = [r.total for r in timings.routines if r.entry.name == name]
        return found

    return run


@pytest.fixture(scope="session")
def loop(timed: Callable[..., Timings]) -> Callable[..., tuple[Total, Total]]:
    """Trips and total of the loop with that label at its head."""

    def run(text: str, name: str, **options: object) -> tuple[Total, Total]:
        timings = timed(text, **options)
        (found,) = [(each.trips, each.total) for each in timings.loops if each.name == name]
        return found

    return run
