"""The counter and the executor agree on any loop that ends: programs put together at random, run and counted."""

from collections.abc import Callable

import pytest
from clockhop.cpu.execute import Machine, Stop
from clockhop.timing import Exact, Range, Timings
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

COUNTERS = {
    "A": (8, ["DECA", "INCA", "SUBA #1", "SUBA #3", "ADDA #5"]),
    "B": (8, ["DECB", "INCB", "SUBB #1", "ADDB #7"]),
    "X": (16, ["LEAX -1,X", "LEAX -3,X", "LEAX ,-X"]),
    "Y": (16, ["LEAY -1,Y", "LEAY -16,Y", "LEAY 255,Y"]),
}
EIGHT_BIT_EXITS = ["BNE", "BPL", "BMI", "BCC", "BCS", "BGE", "BLT", "BHI"]
MOST_INSTRUCTIONS = 40_000


@st.composite
def loops(draw: st.DrawFn) -> str:
    """One to three nested counters, each loaded before its loop or left as the last turn left it."""
    names = draw(st.lists(st.sampled_from(sorted(COUNTERS)), min_size=1, max_size=3, unique=True))
    body: list[str] = list(draw(st.lists(st.sampled_from(["NOP", "BRN *", "EXG U,U"]), max_size=2)))
    loads: list[str] = []
    for depth, name in enumerate(names):
        width, steps = COUNTERS[name]
        most = 300 if depth == 0 and width == 16 else 12 if depth else 255
        load = f"LD{name} #{draw(st.integers(0 if width == 8 else 1, most))}"
        step = draw(st.sampled_from(steps if depth == 0 else steps[:1]))
        reloaded = draw(st.integers(0, 4)) > 0
        # A signed exit that starts where the last turn ended can take 2^16 turns to come to rest.
        free = width == 8 and depth == 0 and (reloaded or len(names) == 1)
        branch = draw(st.sampled_from(EIGHT_BIT_EXITS)) if free else "BNE"
        turn = [f"L{depth} NOP", *body, step, f"{branch} L{depth}"]
        body = [load, *turn] if reloaded else turn
        loads += [] if reloaded else [load]
    # Flags that no counter sets are known at the start.
    lines = ["GO ANDCC #0", *loads, *body, "RTS"]
    return " ORG $1000\n" + "\n".join(line if line[:2] in _LABELS else f" {line}" for line in lines) + "\n"


_LABELS = ("GO", "L0", "L1", "L2")


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=loops())
def test_counted_cycles_are_those_of_the_executor(text: str, timed: Callable[..., Timings]) -> None:
    timings = timed(text)
    program = timings.graph.program
    start = program.label("GO")
    assert start is not None
    assert start.value is not None
    memory = bytearray(65536)
    for address, byte in program.code.items():
        memory[address] = byte
    machine = Machine(program.cpu, memory, {"S": 0x8000, "PC": start.value})
    end = next(i.address for i in program.instructions if i.mnemonic == "RTS")
    stop = machine.run(lambda m: m.counter == end, MOST_INSTRUCTIONS)
    (total,) = [r.total for r in timings.routines if r.entry.name == "GO"]
    if stop is not Stop.REACHED:
        return
    ran = machine.fewest + 5
    match total:
        case Exact(cycles):
            assert cycles == ran
        case Range(low, high):
            assert low <= ran <= high
        case _:
            pytest.fail(f"{total} where every count is in the text: {text}")
