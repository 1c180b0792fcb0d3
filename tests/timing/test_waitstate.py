"""Wait states by hand: an access that waits a cycle takes one more. 6809: LDX # is 3 fetches, LEAX -1,X 5 cycles with 2
fetches, BNE 3 with 2, RTS 5 with 1 and 2 bytes from the stack, STA extended 5 with 3 and its write last, JSR extended 8
with 3, a read at its target and 2 bytes to the stack."""

import pytest
from clockhop.timing import Exact, Query, Range, Region, WaitStates

ROM = Region(0xC000, 0xFFFF, 1, stack=False)
DELAY = """\
        ORG   $C000
MAIN    JSR   DELAY
        RTS
DELAY   LDX   #25000
LOOP    LEAX  -1,X
        BNE   LOOP
        RTS
"""
PANEL = """\
PANEL   EQU   $8000
        ORG   $C000
MAIN    STA   PANEL
        STA   PANEL
        RTS
"""


def every(_: object) -> bool:
    return True


def never(_: object) -> bool:
    return False


@pytest.mark.parametrize(
    ("waits", "cycles", "with_call"),
    [
        ((), 200008, 200016),
        ((ROM,), 6 + 25000 * 12 + 6, 6 + 25000 * 12 + 6 + 12),
        ((ROM, Region(0, 0x7FFF, 2)), 6 + 25000 * 12 + 10, 6 + 25000 * 12 + 10 + 16),
    ],
)
def test_a_delay_loop_in_a_rom_of_one_wait_takes_12_cycles_a_turn(timed, waits, cycles, with_call):
    (delay,) = [each for each in timed(DELAY, waits=waits).routines if each.entry.name == "DELAY"]
    assert (delay.total, delay.with_call) == (Exact(cycles), Exact(with_call))


def test_a_stack_that_may_lie_where_nothing_is_stated_has_no_waits(routine):
    assert routine(DELAY, "DELAY", waits=(Region(0xC000, 0xDFFF, 0, stack=False),)) == Exact(200008)
    assert routine(DELAY, "MAIN", waits=(ROM, Region(0x8000, 0x8003, 5, stack=False))) == Exact(300030)


@pytest.mark.parametrize(("part", "rom", "gap"), [(0, 0, 5), (2, 0, 7), (0, 1, 8), (2, 1, 10)])
def test_two_stores_beside_each_other_are_5_cycles_and_their_waits_apart(timed, part, rom, gap):
    waits = (Region(0x8000, 0x8000, part, stack=False), Region(0xC000, 0xFFFF, rom, stack=False))
    (found,) = timed(PANEL, watched=(0x8000,), waits=waits).gaps(Query(every, every, never))
    assert (found.fewest, found.most) == (gap, gap)


def test_an_address_that_is_not_known_may_wait_or_not(routine):
    text = "        ORG   $C000\nMAIN    LDA   ,X\n        RTS\n"
    # LDA ,X is 4 cycles and RTS 5; the read is somewhere.
    assert routine(text, "MAIN", waits=(Region(0x8000, 0x8000, 3, stack=False),)) == Range(9, 12)
    assert routine(text, "MAIN", waits=(Region(0, 0xFFFF, 1),)) == Exact(9 + 2 + 1 + 1 + 2)


def test_code_that_nobody_has_placed_may_wait_or_not(routine):
    assert routine("MAIN    NOP\n        RTS\n", "MAIN") == Exact(7)
    # NOP is a fetch and an idle cycle: the 2 opcodes at 0 and 1 and the stack wait.
    assert routine("        ORG   0\nMAIN    NOP\n        RTS\n", "MAIN", waits=(Region(0, 9, 1),)) == Exact(
        11
    )


def test_an_interrupt_waits_for_the_12_bytes_it_stacks_and_the_2_of_its_vector(timed):
    text = "        ORG   $C000\nFRAME   RTI\n"
    plain = timed(text, handlers=("FRAME",)).handlers[0]
    slow = timed(text, handlers=("FRAME",), waits=(Region(0, 0x7FFF, 1), ROM)).handlers[0]
    assert (plain.fewest, plain.most) == (19, 19)
    assert (slow.fewest, slow.most) == (19 + 12 + 2, 19 + 12 + 2)


def test_a_6502_waits_for_the_byte_behind_a_one_byte_instruction_too(loop):
    text = " ORG $C000\nMAIN LDX #10\nTURN DEX\n BNE TURN\n RTS\n"
    # DEX 2 + 2; BNE taken 3 + 3, not taken 2 + 2.
    assert loop(text, "TURN", cpu="6502", waits=(ROM,)) == (Exact(10), Exact(10 * 4 + 9 * 6 + 4))


def test_a_part_s_waits_go_before_those_of_the_memory_around_it():
    waits = WaitStates((Region(0x8000, 0x8001, 3, stack=False), Region(0x0000, 0xFFFF, 1)))
    assert [waits.at(address) for address in (0x7FFF, 0x8000, 0x8001, 0x8002)] == [1, 3, 3, 1]
    assert waits.within([(0x7FFF, 0x8000)]) == (1, 3)
    assert waits.within([(0x8002, 0xFFFF)]) == (1, 1)
    assert waits.of_stack((0, 0xFFFF)) == (1, 1)
