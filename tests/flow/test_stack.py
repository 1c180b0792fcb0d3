"""What is free below a stack pointer: the 6809's points at the last byte pushed, the 6800's at the next free one."""

import pytest
from clockhop.cpu import load, term
from clockhop.cpu.symbolic import State
from clockhop.flow import is_free, stack_pointers


@pytest.mark.parametrize(
    ("name", "free"),
    [
        ("6809", [-2, -1]),
        ("6309", [-2, -1]),
        ("6800", [-2, -1, 0]),
        ("6303", [-2, -1, 0]),
        ("68hc11", [-2, -1, 0]),
    ],
)
def test_what_is_free_begins_where_the_next_byte_is_pushed(name: str, free: list[int]) -> None:
    cpu = load(name)
    pointer = State(cpu, 0).get("S")
    places = {
        distance: term.modulo(term.add(pointer, term.number(distance)), 16) for distance in range(-2, 3)
    }
    assert [distance for distance, place in places.items() if is_free(place, pointer, "S", cpu)] == free


def test_an_address_that_has_nothing_to_do_with_the_stack_is_not_free() -> None:
    cpu = load("6800")
    assert not is_free(term.number(0x0100), State(cpu, 0).get("S"), "S", cpu)


@pytest.mark.parametrize("name", ["6809", "6800", "68hc11"])
def test_calls_push_through_s(name: str) -> None:
    assert stack_pointers(load(name)) == {"S"}
