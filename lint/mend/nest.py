"""Two counts of a nest, an inner one for every turn of an outer one, chosen together."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from .knob import Knob


def pair(
    outer: Knob, inner: Knob, lasts: Callable[[int, int], int | None], need: int
) -> tuple[int, int, int] | None:
    """Counts of the outer and the inner loop that last at least `need`, as little more as can be, and how long.

    `lasts` gives the cycles of two counts. Of those that last alike the one whose outer count is nearest to the old
    one is taken. None where the time is no plane of the two counts, or none lasts so long.
    """
    base = _near(outer), _near(inner)
    corners = [lasts(base[0] + x, base[1] + y) for x, y in ((0, 0), (1, 0), (0, 1), (1, 1))]
    here, beside, above, across = corners
    if here is None or beside is None or above is None or across is None:
        return None
    # here + x * (beside - here) + y * (above - here) + x * y * bend, from the corner on.
    bend = across - beside - above + here

    def tried() -> Iterator[tuple[int, int, int, int]]:
        for count in range(1, outer.most + 1):
            x = count - base[0]
            slope = above - here + x * bend
            flat = here + x * (beside - here)
            if slope > 0:
                y = -(-(need - flat) // slope)
                if 1 <= base[1] + y <= inner.most:
                    yield flat + y * slope, abs(count - outer.count(outer.written)), count, base[1] + y

    best = min(tried(), default=None)
    if best is None:
        return None
    cycles, _, count, turns = best
    return (count, turns, cycles) if lasts(count, turns) == cycles else None


def _near(knob: Knob) -> int:
    """A count that has another above it, near the old one."""
    return min(max(knob.count(knob.written), 2), knob.most - 2)
