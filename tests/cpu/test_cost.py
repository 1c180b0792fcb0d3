from collections.abc import Mapping
from dataclasses import dataclass

import pytest
from clockhop.cpu import BusAccess, Cost, Expr, Register, accesses, cost
from clockhop.cpu.bind import expand
from clockhop.cpu.notation import Names
from clockhop.cpu.step import Repeated, Step, read

W = Register("W", 16, (("W", 16),))


@dataclass(frozen=True)
class Some:
    """Something with bus steps."""

    steps: tuple[Step | Repeated, ...]
    conditions: Mapping[str, Expr]
    unplaced: str | None = None


def some(text: str, unplaced: str | None = None) -> Some:
    return Some(expand(read(text), Names({"W": W})), {}, unplaced)


@pytest.mark.parametrize(
    ("steps", "known", "expected"),
    [
        ("f f i r", {}, Cost(4, 4)),
        ("f i?taken", {"taken": True}, Cost(2, 2)),
        ("f i?taken", {"taken": False}, Cost(1, 1)),
        ("f i?taken", {}, Cost(1, 2)),
        ("f i?taken&!native", {"native": True}, Cost(1, 1)),
        ("f i?native i?!native", {}, Cost(2, 2)),  # one or the other, never both or none
        ("f (r w)*W", {}, Cost(1, 1 + 2 * 65535)),
        ("f z i", {}, Cost(2, None)),
    ],
)
def test_what_is_not_known_makes_a_range(steps: str, known: dict[str, bool], expected: Cost) -> None:
    assert cost(some(steps), known.get) == expected


def test_a_step_of_unknown_place_makes_every_access_one_cycle_uncertain() -> None:
    assert accesses(some("f r ? w"), {}.get) == (BusAccess("read", 2, 3), BusAccess("write", 3, 4))


def test_a_conditional_step_moves_what_comes_after_it_only() -> None:
    assert accesses(some("f r i?crossed w"), {}.get) == (BusAccess("read", 2, 2), BusAccess("write", 3, 4))


def test_an_access_under_an_unknown_condition_is_not_certain() -> None:
    found = accesses(some("f r*2?pulls_all r"), {}.get)
    assert found == (BusAccess("read", 2, 2, False), BusAccess("read", 2, 3, False), BusAccess("read", 2, 4))


def test_idle_steps_lose_their_place_where_nobody_has_placed_them() -> None:
    action = some("f i r", "native")
    assert accesses(action, {"native": False}.get) == (BusAccess("read", 3, 3),)
    assert accesses(action, {"native": True}.get) == (BusAccess("read", 2, 3),)
    assert accesses(action, {}.get) == (BusAccess("read", 2, 3),)


def test_a_group_repeated_a_known_number_of_times_is_listed_turn_by_turn() -> None:
    found = accesses(some("f (r w)*W"), {}.get, lambda _: 2)
    assert [(access.kind, access.first, access.last) for access in found] == [
        ("read", 2, 2),
        ("write", 3, 3),
        ("read", 4, 4),
        ("write", 5, 5),
    ]
    assert accesses(some("f (r w)*W i"), {}.get, lambda _: 0) == ()


def test_a_group_repeated_an_unknown_number_of_times_is_listed_once_for_all_its_turns() -> None:
    read_, write = accesses(some("f (r w)*W"), {}.get)
    assert (read_.certain, read_.first, read_.last) == (False, 2, 2 + 2 * 65534)
    assert (write.first, write.last) == (3, 3 + 2 * 65534)


def test_nothing_after_a_wait_has_a_last_cycle() -> None:
    assert accesses(some("f w z r"), {}.get) == (BusAccess("write", 2, 2), BusAccess("read", 3, None))


def test_the_count_is_asked_for_its_expression() -> None:
    asked: list[Expr] = []

    def count(expr: Expr) -> int:
        asked.append(expr)
        return 3

    assert cost(some("f (r w)*W"), {}.get, count) == Cost(7, 7)
    assert asked == [W]
