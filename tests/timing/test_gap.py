"""Bus cycles from one access to the next. An extended STA writes in its fifth cycle, a direct one in its fourth."""

from collections.abc import Callable

from clockhop.timing import Query, Timings

PORT = "PORT EQU $8001\n"


def gaps(timings: Timings) -> list[tuple[int, int, int, int | None]]:
    """(line of the first access, line of the next, fewest, most)."""
    instructions = timings.graph.program.instructions
    every = Query(lambda _: True, lambda _: True, lambda _: False)
    return [
        (
            instructions[gap.first.access.instruction].origin.line,
            instructions[gap.then.access.instruction].origin.line,
            gap.fewest,
            gap.most,
        )
        for gap in timings.gaps(every)
    ]


def test_two_extended_stores_are_5_apart(timed: Callable[..., Timings]) -> None:
    text = PORT + "GO STA PORT\n STA PORT\n RTS\n"
    assert gaps(timed(text, watched=(0x8001,))) == [(2, 3, 5, 5)]


def test_a_wait_between_two_stores_makes_62(timed: Callable[..., Timings]) -> None:
    text = PORT + "GO STA PORT\n LDB #11\nWAIT DECB\n BNE WAIT\n STA PORT\n RTS\n"
    assert gaps(timed(text, watched=(0x8001,))) == [(2, 6, 62, 62)]


def test_a_fill_comes_round_every_13(timed: Callable[..., Timings]) -> None:
    text = PORT + "GO LDX #80*24\nFILL STA PORT\n LEAX -1,X\n BNE FILL\n RTS\n"
    assert gaps(timed(text, watched=(0x8001,))) == [(3, 3, 13, 13)]


def test_the_shorter_arm_gives_the_fewest_and_the_longer_the_most(timed: Callable[..., Timings]) -> None:
    text = PORT + "GO STA PORT\n TSTB\n BEQ ON\n MUL\nON STA PORT\n RTS\n"
    # 2 + 3 + 5, and MUL 11 between
    assert gaps(timed(text, watched=(0x8001,))) == [(2, 6, 10, 21)]


def test_a_routine_writes_once_a_call_and_the_way_round_is_counted(timed: Callable[..., Timings]) -> None:
    text = PORT + "GO BSR PUT\n BSR PUT\n RTS\nPUT STA PORT\n RTS\n"
    # RTS 5, BSR 7, STA 5
    assert gaps(timed(text, watched=(0x8001,))) == [(5, 5, 17, 17)]


def test_calls_of_a_delay_are_counted_with_what_they_hand_over(timed: Callable[..., Timings]) -> None:
    text = (
        PORT
        + """\
GO      STA     PORT
        LDX     #10
        BSR     PAUSE
        STA     PORT
        LDX     #100
        BSR     PAUSE
        STA     PORT
        RTS
PAUSE   LEAX    -1,X
        BNE     PAUSE
        RTS
"""
    )
    # 3 + 7 + 80 + 5 + 5 and 3 + 7 + 800 + 5 + 5
    assert gaps(timed(text, watched=(0x8001,))) == [(2, 5, 100, 100), (5, 8, 820, 820)]


def test_a_word_store_writes_two_bytes_one_cycle_apart(timed: Callable[..., Timings]) -> None:
    text = "PORT EQU $8000\nGO STD PORT\n RTS\n"
    assert gaps(timed(text, watched=(0x8000, 0x8001))) == [(2, 2, 1, 1)]


def test_a_store_through_a_loaded_pointer_is_an_access(timed: Callable[..., Timings]) -> None:
    text = "GO LDX #$8001\n STA ,X\n STA ,X\n RTS\n"
    # STA ,X writes in its fourth cycle
    assert gaps(timed(text, watched=(0x8001,))) == [(2, 3, 4, 4)]


def test_a_poll_left_on_ready_ends_the_need_for_a_gap(timed: Callable[..., Timings]) -> None:
    text = """\
STATUS  EQU     $8000
DATA    EQU     $8001
GO      STA     DATA
READY   LDB     STATUS
        BPL     READY
        STA     DATA
        RTS
"""
    timings = timed(text, watched=(0x8000, 0x8001))
    asked: list[tuple[int, int, int]] = []

    def ready(poll: object) -> bool:
        asked.append((poll.address, poll.mask, poll.result))  # type: ignore[attr-defined]
        return poll.result == 0x80  # type: ignore[attr-defined]

    writes = Query(lambda s: s.access.way == "write", lambda s: s.access.way == "write", ready)
    assert timings.gaps(writes) == []
    assert (0x8000, 0x80, 0x80) in asked
    blind = Query(lambda s: s.access.way == "write", lambda s: s.access.way == "write", lambda _: False)
    (gap,) = timings.gaps(blind)
    # LDB 5, BPL 3, STA 5; a poll has no longest time
    assert (gap.fewest, gap.most) == (13, None)


def test_behind_a_routine_that_drops_its_return_address_nothing_of_its_caller_follows(
    timed: Callable[..., Timings],
) -> None:
    text = (
        PORT
        + "GO BSR TWICE\n STA PORT\n RTS\nTWICE BSR PUT\n STA PORT\n RTS\nPUT STA PORT\n LEAS 2,S\n RTS\n"
    )
    assert (8, 6) not in [(first, then) for first, then, _, _ in gaps(timed(text, watched=(0x8001,)))]
    kept = text.replace(" LEAS 2,S\n", "")
    # RTS 5, STA 5
    assert (8, 6, 10, 10) in gaps(timed(kept, watched=(0x8001,)))
