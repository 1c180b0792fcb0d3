"""Refresh cycles of a Z180, which come between those of a program: how many of them a stretch has."""

from collections.abc import Callable
from random import Random

import pytest
from clockhop.cpu import load
from clockhop.timing import Exact, Formula, Query, Range, Timings, Total
from clockhop.timing.refresh import NONE, Pace, between

Routine = Callable[..., Total]

BARE = {"MWI": 0, "IWI": 0, "REFE": 1, "REFW": 1, "CYC": 0, "ICR": 0}
WAIT = " ORG 0\n CALL WAIT\n HALT\nWAIT: LD B,200\nTURN: DJNZ TURN\n RET\n"


@pytest.mark.parametrize(
    ("state", "fewest", "most"),
    [
        # 1813 clocks of its own: of 10 the program has 7, and a refresh is late by 3 at most.
        # (1813 - 13) / 7 = 257.1 and (1813 + 3) / 7 = 259.4: 258 to 260 of them
        ({}, 1813 + 3 * 258, 1813 + 3 * 260),
        # 2 clocks of 10: (1813 - 13) / 8 = 225 and (1813 + 3) / 8 = 227: 226 to 228
        ({"REFW": 0}, 1813 + 2 * 226, 1813 + 2 * 228),
        # 3 of 80: (1813 - 83) / 77 = 22.5 and 1816 / 77 = 23.6: 23 or 24
        ({"CYC": 3}, 1813 + 3 * 23, 1813 + 3 * 24),
    ],
)
def test_200_turns_have_as_many_as_fit(
    routine: Routine, state: dict[str, int], fewest: int, most: int
) -> None:
    assert routine(WAIT, "WAIT", cpu="z180", state=BARE | state) == Range(fewest, most)


def test_without_refresh_the_count_is_exact_and_no_other_processor_has_any(routine: Routine) -> None:
    assert routine(WAIT, "WAIT", cpu="z180", state=BARE | {"REFE": 0}) == Exact(1813)
    assert between(load("z80"), {}) == NONE


def test_where_it_is_not_known_whether_there_is_one_none_may_come() -> None:
    open_ = between(load("z180"), {name: value for name, value in BARE.items() if name != "REFE"})
    assert (open_.fewest(1813), open_.most(1813)) == (1813, 1813 + 3 * 260)
    assert open_.total(Formula("9*B + 13", 13, 2308, ("B",))) == Range(13, 2308 + 3 * 331)


def test_no_row_of_machine_cycles_has_more_or_fewer_than_its_bound() -> None:
    """A timer that runs on, and machine cycles of 1 to 7 clocks that hold each refresh up by what is left of them."""
    random = Random(1)
    for every, takes in ((10, 3), (10, 2), (20, 3)):
        now, due = 0, random.randrange(1, every)
        ends = [(0, 0)]
        for _ in range(400):
            own, refreshes = ends[-1]
            length = random.choice((1, 3, 4, 6, 7))
            now += length
            late = now >= due
            if late:
                now, due = now + takes, due + every
            ends.append((own + length, refreshes + late))
        pace = Pace(every, takes, 6)
        for first in range(0, 400, 7):
            for last in range(first + 1, 401, 5):
                cycles = ends[last][0] - ends[first][0]
                spent = cycles + takes * (ends[last][1] - ends[first][1])
                assert pace.fewest(cycles) <= spent <= pace.most(cycles)


def test_a_gap_between_two_accesses_has_those_between_them(timed: Callable[..., Timings]) -> None:
    text = " ORG 0\n LD A,(8000H)\n LD B,100\nTURN: DJNZ TURN\n LD A,(8000H)\n HALT\n"
    anything = Query(lambda _: True, lambda _: True, lambda _: False)
    (gap,) = timed(text, cpu="z180", watched=(0x8000,), state=BARE).gaps(anything)
    # 1 clock behind the first, 6, 99 * 9 + 7 and 11 of the second are 916; (916 - 13) / 7 = 129 and 919 / 7 = 131.3
    assert (gap.fewest, gap.most) == (916 + 3 * 130, 916 + 3 * 132)
