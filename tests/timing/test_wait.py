"""Which code only passes time, and which does something besides."""

from collections.abc import Callable

from clockhop.timing import Timings, waits

Timed = Callable[..., Timings]


def names(timings: Timings) -> list[tuple[str, str, int]]:
    return [(wait.kind, wait.name, wait.cycles) for wait in waits(timings)]


def test_a_countdown_routine_is_a_wait(timed: Timed) -> None:
    text = "GO BSR REST\nSTOP BRA STOP\nREST LDX #100\nR LEAX -1,X\n BNE R\n RTS\n"
    assert names(timed(text)) == [("routine", "REST", 808)]


def test_a_routine_that_sets_and_clears_a_port_is_none_but_the_loop_in_it_is(timed: Timed) -> None:
    # CLR reads its byte before it clears it, which makes the port no counter.
    text = "BELL EQU $8010\nRING LDA #1\n STA BELL\n LDX #50\nR LEAX -1,X\n BNE R\n CLR BELL\n RTS\n"
    assert names(timed(text)) == [("loop", "R", 400)]


def test_a_counter_in_memory_is_part_of_a_wait(timed: Timed) -> None:
    text = " ORG $20\nN RMB 1\n ORG $E000\nREST LDA #9\n STA N\nR DEC N\n BNE R\n RTS\n"
    assert names(timed(text)) == [("routine", "REST", 2 + 4 + 9 * 9 + 5)]


def test_a_fill_is_none(timed: Timed) -> None:
    fill = "CLEAR LDX #$400\nC CLR ,X+\n CMPX #$500\n BNE C\n RTS\n"
    assert names(timed(fill)) == []
