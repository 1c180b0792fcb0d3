"""What a time read off a scope says of the clock: cycles that are known, divided by the time they took."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ..chain import Chain
from ..errors import ClockhopError, Place
from ..quantity import Clock, Duration, parse_duration
from ..tables import nearest
from ..timing import Total
from .amount import bounds


@dataclass(frozen=True, slots=True)
class MeasuredRow:
    """A routine or loop that was measured, and the bus clocks its cycles can mean: one where the cycles are exact."""

    name: str
    place: Place
    time: Duration
    fewest: int
    most: int
    slowest: Clock
    fastest: Clock


def measured(chain: Chain, asked: tuple[str, ...]) -> Iterator[MeasuredRow]:
    """A row for each LABEL=TIME; a routine goes before a loop of that name, from its entry to its return.

    Raises ClockhopError for a label that is neither, a time that is none, and a total that nothing bounds.
    """
    for text in asked:
        name, _, time = text.partition("=")
        lasted = parse_duration(time)
        if lasted.seconds == 0:
            raise ClockhopError(f'--measured "{text}": no time; write LABEL=TIME, such as DELAY=499.3ms')
        place, total = _found(chain, name.strip(), text)
        fewest, most = bounds(total)
        if most is None:
            raise ClockhopError(
                f'--measured "{text}": the cycles of {name} are not known: see clockhop durations'
            )
        yield MeasuredRow(
            name.strip(), place, lasted, fewest, most, _clock(fewest, lasted), _clock(most, lasted)
        )


def _found(chain: Chain, name: str, text: str) -> tuple[Place, Total]:
    timings = chain.timings
    known = {loop.name: (loop.head, loop.total) for loop in reversed(timings.loops)}
    known |= {routine.entry.name: (routine.entry.index, routine.total) for routine in timings.routines}
    if name not in known:
        raise ClockhopError(f'--measured "{text}": no routine or loop "{name}"; {nearest(name, list(known))}')
    index, total = known[name]
    return chain.program.instructions[index].origin.place, total


def _clock(cycles: int, lasted: Duration) -> Clock:
    return Clock(Fraction(cycles) / lasted.seconds)
