"""Published delays, counts and bit times (tests/reference/worked/delay.yaml): right, or the difference explained."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from clockhop.address import port
from clockhop.timing import Exact, Query, Region, Timings, Total

HERE = Path(__file__).parent
WORKED: list[dict[str, Any]] = yaml.safe_load(
    (HERE.parent / "reference/worked/delay.yaml").read_text(encoding="utf-8")
)["entries"]
ROWS = [entry for entry in WORKED if "code" in entry]


def test_of_39_published_figures_29_stand_here_7_in_other_tests_and_3_count_nothing() -> None:
    shown = [entry["test"] for entry in WORKED if "test" in entry]
    assert (len(WORKED), len(ROWS), len(shown), sum("left_out" in each for each in WORKED)) == (39, 29, 7, 3)
    for each in shown:
        file, _, name = each.partition("::")
        assert f"def {name}(" in (HERE / file).read_text(encoding="utf-8")


@pytest.mark.parametrize("entry", ROWS, ids=lambda entry: entry["id"])
def test_a_published_delay_takes_what_was_worked_out(
    timed: Callable[..., Timings], entry: dict[str, Any]
) -> None:
    what, _, name = entry["shows"].partition(" ")
    place = int(name.replace("$", "0x"), 0) if what == "port" else 0
    watched = (place if place > 255 else port(place),) if place else ()
    timings = timed(entry["code"], cpu=entry["cpu"], watched=watched)
    found: list[object] = []
    match what:
        case "routine":
            found = [each.total for each in timings.routines if each.entry.name == name]
        case "call":
            found = [each.with_call for each in timings.routines if each.entry.name == name]
        case "sent":  # a value for that call alone; the call of 6 comes on top
            found = [Exact(each.total.cycles + 6) for each in timings.calls if isinstance(each.total, Exact)]
        case "loop":
            found = [each.total for each in timings.loops if each.name == name]
        case _:
            here = Query(
                lambda s: s.access.address in watched, lambda s: s.access.address in watched, lambda _: False
            )
            found = [Exact(gap.fewest) for gap in timings.gaps(here) if gap.fewest == gap.most]
    assert found == [Exact(entry["cycles"])]
    if "beside" not in entry:
        assert str(entry["cycles"]) == entry["exact"]


def test_a_wait_in_every_access_makes_18_t_states_a_turn_of_14_as_published_1_28_times(
    routine: Callable[..., Total],
) -> None:
    text = "W: MVI D,{}\nL: DCR D\n JNZ L\n RET\n"
    turns = {}
    for waits in ((), (Region(0, 0xFFFF, 1),)):
        two, one = (routine(text.format(n), "W", cpu="8085", waits=waits) for n in (2, 1))
        assert isinstance(two, Exact)
        assert isinstance(one, Exact)
        turns[bool(waits)] = two.cycles - one.cycles
    # DCR 4 and JNZ 10, with one and three accesses: 18/14 = 1.2857
    assert turns == {False: 14, True: 18}


def test_one_count_more_is_a_step_of_14_t_states_and_half_of_it_the_published_2_3_us() -> None:
    cells = {entry["id"]: entry["cycles"] for entry in ROWS if entry["id"].startswith("c-8085-ap29")}
    # 86 and 17 counts, 11 bits each
    step = (cells["c-8085-ap29-2400"] - cells["c-8085-ap29-9600"]) / 11 / (86 - 17)
    assert step == 14
    assert round(step / 2 / 3.072, 1) == 2.3
