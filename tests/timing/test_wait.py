"""Which code only passes time, and which does something besides."""

from collections.abc import Callable

from clockhop.timing import Range, Timings, waits

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


def bits(turn: str, before: str = "") -> str:
    """A routine of eight turns that reads a bit of PORT in each; DATA is read elsewhere."""
    return (
        f"PORT EQU $8000\n ORG $20\nDATA RMB 1\n ORG $E000\nGO BSR GET\n LDA DATA\nSTOP BRA STOP\n"
        f"GET LDB #8\n{before}R {turn} DECB\n BNE R\n RTS\n"
    )


def test_bits_that_are_shifted_into_memory_are_a_result(timed: Timed) -> None:
    assert names(timed(bits("LDA PORT\n LSRA\n ROR DATA\n"))) == []
    # read by nobody in the text: whoever runs the program may look at it
    unread = bits("LDA PORT\n LSRA\n ROR DATA\n").replace(" LDA DATA\n", "")
    assert names(timed(unread)) == []
    # out of a byte that is shifted back: 2 + 8 * (6 + 2 + 3) + 5, which leaves what was there
    assert names(timed(bits("LSR DATA\n"))) == []
    assert names(timed(bits("INC DATA\n DEC DATA\n"))) == [("routine", "GET", 143)]


def test_a_port_that_is_pulsed_is_no_counter(timed: Timed) -> None:
    pulse = "LDA #1\n STA PORT\n LDA PORT\n ANDA #4\n CLR PORT\n"
    assert names(timed(bits(pulse))) == []
    turned = "LDA PORT\n EORA #1\n STA PORT\n"
    assert names(timed(bits(turned))) == []


def test_what_a_port_gives_is_not_what_was_written_to_it(timed: Timed) -> None:
    # Two bytes are written in a row, which memory is never given: what is read there then is not known.
    text = bits(
        "LDA PORT\n ANDA #4\n BEQ NONE\n INC DATA\nNONE\n", " LDA #1\n STA PORT\n LDA #3\n STA PORT\n"
    )
    loop = timed(text).loops[-1]
    assert loop.total == Range(8 * (5 + 2 + 3 + 2 + 3), 8 * (5 + 2 + 3 + 6 + 2 + 3))


def test_a_counter_at_an_address_the_source_does_not_reserve_is_part_of_a_wait(timed: Timed) -> None:
    text = "N EQU $400\nREST LDA #9\n STA N\nR DEC N\n BNE R\n RTS\n"
    assert names(timed(text)) == [("routine", "REST", 2 + 5 + 9 * 10 + 5)]
    saved = "KEPT EQU $400\nREST STX KEPT\n LDX #9\nR LEAX -1,X\n BNE R\n LDX KEPT\n RTS\n"
    assert names(timed(saved)) == [("routine", "REST", 6 + 3 + 9 * 8 + 6 + 5)]
