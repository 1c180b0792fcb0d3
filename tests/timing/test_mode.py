"""What registers that decide on cycles hold: from reset, from the program, from the project file."""

from collections.abc import Callable

from clockhop.timing import Exact, Range, Total

Routine = Callable[..., Total]

# 6 + 199 * 9 + 7 clocks and 9 for RET; 2 fetches a turn and 5 outside that memory may hold up
DELAY = "DELAY: LD B,200\nTURN: DJNZ TURN\n RET\n"
BARE, FETCHES, ACCESSES = 1804 + 9, 2 + 400 + 1, 2


def text(*lines: str) -> str:
    return "".join(f" {line}\n" for line in (" ORG 0", *lines, "CALL DELAY", "HALT")) + DELAY


def clear(port: str, value: str) -> tuple[str, str]:
    return f"LD A,{value}", f"OUT0 ({port}),A"


NO_REFRESH = clear("36H", "0")


def test_without_refresh_and_waits_200_turns_take_the_published_1804(routine: Routine) -> None:
    assert routine(text(), "DELAY", cpu="z180-nowait") == Exact(BARE)


def test_after_reset_3_waits_hold_up_every_access_and_3_of_10_clocks_are_refreshes(routine: Routine) -> None:
    fewest = BARE + 3 * (FETCHES + ACCESSES)
    # 3028 clocks; 431 to 434 refreshes come between, since the program has 7 of 10 and they are late by 6 at most
    assert routine(text(), "DELAY", cpu="z180") == Range(fewest + 3 * 431, fewest + 3 * 434)
    assert routine(text(*NO_REFRESH), "DELAY", cpu="z180") == Exact(fewest)


def test_what_the_program_writes_to_dcntl_counts_in_all_other_routines(routine: Routine) -> None:
    one = BARE + FETCHES + ACCESSES
    assert routine(text(*NO_REFRESH, *clear("32H", "70H")), "DELAY", cpu="z180") == Exact(one)
    by_name = ("LD A,70H", "LD HL,0", "OUT0 (32H),A")
    assert routine(text(*NO_REFRESH, *by_name), "DELAY", cpu="z180") == Exact(one)


def test_where_the_ports_were_moved_dcntl_is_there(routine: Routine) -> None:
    moved = (*clear("3FH", "0C0H"), *clear("0F6H", "0"), *clear("0F2H", "0"))
    assert routine(text(*moved), "DELAY", cpu="z180") == Exact(BARE)
    lost = (*clear("3FH", "0C0H"), *clear("0F6H", "0"), *clear("32H", "0"))
    assert routine(text(*lost), "DELAY", cpu="z180") == Exact(BARE + 3 * (FETCHES + ACCESSES))


def test_two_values_or_one_from_memory_are_not_known_unless_they_are_stated(routine: Routine) -> None:
    unknown = Range(BARE, BARE + 3 * (FETCHES + ACCESSES))
    twice = text(*NO_REFRESH, *clear("32H", "70H"), *clear("32H", "0"))
    read = text(*NO_REFRESH, "LD A,(8000H)", "OUT0 (32H),A")
    joined = text(*NO_REFRESH, "LD A,70H", "JR Z,SET", "LD A,(8000H)", "SET: OUT0 (32H),A".removeprefix(" "))
    for each in (twice, read, joined.replace(" SET:", "SET:")):
        assert routine(each, "DELAY", cpu="z180") == unknown
        assert routine(each, "DELAY", cpu="z180", state={"MWI": 1}) == Exact(BARE + FETCHES + ACCESSES)


def test_what_is_stated_holds_from_the_start(routine: Routine) -> None:
    bare = {"MWI": 0, "IWI": 0, "REFE": 0}
    assert routine(text(), "DELAY", cpu="z180", state=bare) == Exact(BARE)
    assert routine("T: LD B,10\nL: DJNZ L\n RET\n", "T", cpu="z80", state={"M1WAIT": 1}) == Exact(
        8 + 9 * 14 + 9 + 11
    )


def test_a_count_of_1234_in_bc_takes_the_published_24687(routine: Routine) -> None:
    wait = "WAIT: LD BC,1234\nTURN: DEC BC\n LD A,B\n OR C\n JR NZ,TURN\n RET\n"
    assert routine(wait, "WAIT", cpu="z180-nowait") == Exact(24_687 + 9)
