"""Pairs of accesses through an interrupt, and where its mask lets it come."""

from collections.abc import Callable

import pytest
from clockhop.timing import Query, Timings, crossings

TICK = "TICK    STA   PORT\n        RTI\n"


@pytest.fixture
def crossed(timed: Callable[..., Timings]) -> Callable[..., list[tuple[int, int, int, bool]]]:
    """(line of the first access, line of the next, fewest, certain) of a program whose IRQ is handled by TICK."""

    def run(text: str, cpu: str = "6809") -> list[tuple[int, int, int, bool]]:
        timings = timed(f"PORT    EQU   $8000\n{text}", cpu, watched=(0x8000,), handlers=("TICK",))
        instructions = timings.graph.program.instructions
        every = Query(lambda _: True, lambda _: True, lambda _: False)
        return [
            (
                instructions[each.gap.first.access.instruction].origin.line,
                instructions[each.gap.then.access.instruction].origin.line,
                each.gap.fewest,
                each.certain,
            )
            for each in crossings(timings, every, timings.handlers)
        ]

    return run


def test_an_irq_takes_19_cycles_to_its_handler_and_15_back(crossed):
    # 0 after STA's write, 19 to enter, STA 5; RTI 15, STA 5
    assert crossed(f"GO      ANDCC #$EF\nAGAIN   STA   PORT\n        BRA   AGAIN\n{TICK}") == [
        (3, 5, 24, True),
        (5, 3, 20, True),
    ]


@pytest.mark.parametrize(
    ("cpu", "there", "back"),
    [
        # 12 to enter, STA A 5 with the write last; RTI 10, STA A 5
        ("6800", 17, 15),
        # 12 and 4; 10 and 4
        ("6801", 16, 14),
        # 1 behind the write, 12, the write is in the third of 4; 1, 10 and 3
        ("6303", 16, 14),
        # 14 and 4; 12 and 4
        ("68hc11", 18, 16),
    ],
)
def test_an_irq_of_the_6800_family_comes_as_its_table_says(crossed, cpu, there, back):
    text = "GO      CLI\nAGAIN   STA A PORT\n        BRA   AGAIN\nTICK    STA A PORT\n        RTI\n"
    assert crossed(text, cpu) == [(3, 5, there, True), (5, 3, back, True)]


def test_a_masked_stretch_keeps_it_away_from_both_accesses(crossed):
    text = """\
GO      ANDCC #$EF
AGAIN   ORCC  #$10
        STA   PORT
        MUL
        ANDCC #$EF
        BRA   AGAIN
"""
    # MUL 11, ANDCC 3, 19, STA 5; RTI 15, ORCC 3, STA 5
    assert crossed(text + TICK) == [(4, 8, 38, True), (8, 4, 23, True)]


def test_it_can_come_before_the_program_masks_it(crossed):
    # RTI 15, ORCC 3, STA 5; what the mask is when the program is entered nobody says
    assert crossed(f"GO      ORCC  #$10\nAGAIN   STA   PORT\n        BRA   AGAIN\n{TICK}") == [
        (5, 3, 23, False)
    ]


def test_a_mask_that_nobody_set_is_not_certain(crossed):
    assert {certain for *_, certain in crossed(f"GO      STA   PORT\n        RTS\n{TICK}")} == {False}


def test_a_routine_called_masked_comes_back_masked(crossed):
    text = """\
GO      ORCC  #$10
        BSR   PUT
        STA   PORT
MAIN    BRA   MAIN
PUT     STA   PORT
        RTS
"""
    assert crossed(f"        ORG   $F000\n{text}{TICK}        ORG   $FFFE\n        FDB   GO\n") == []


def test_a_routine_that_unmasks_lets_it_come_behind_its_call(crossed):
    text = """\
GO      ORCC  #$10
        BSR   OPEN
        STA   PORT
MAIN    BRA   MAIN
OPEN    ANDCC #$EF
        RTS
"""
    assert crossed(text + TICK) == [(4, 8, 24, True), (8, 4, 20, True)]


def test_after_reset_the_table_says_that_it_is_masked(crossed):
    text = "        ORG   $F000\nGO      STA   PORT\n        BRA   GO\n" + TICK
    assert crossed(f"{text}        ORG   $FFFE\n        FDB   GO\n") == []


def test_a_routine_that_program_and_handler_share_is_interrupted_in_the_program(crossed):
    text = """\
GO      ANDCC #$EF
AGAIN   BSR   PUT
        BRA   AGAIN
PUT     STA   PORT
        RTS
TICK    BSR   PUT
        RTI
"""
    # 19, BSR 7, STA 5 after the write; RTS 5, RTI 15, STA 5 before it
    assert crossed(text) == [(5, 5, 31, True), (5, 5, 25, True)]


@pytest.fixture
def on_z80(timed: Callable[..., Timings]) -> Callable[..., list[int]]:
    """Fewest T-states of each pair through the interrupt that TICK handles."""

    def run(text: str, **more: object) -> list[int]:
        tick = "TICK: LD (8000H),A\n EI\n RETI\n"
        timings = timed(f"{text}{tick}", "z80", watched=(0x8000,), handlers=("TICK",), **more)
        every = Query(lambda _: True, lambda _: True, lambda _: False)
        return [each.gap.fewest for each in crossings(timings, every, timings.handlers)]

    return run


@pytest.mark.parametrize(("mode", "entry"), [("IM 1", 13), ("IM 2", 19), ("IM 0", 13)])
def test_the_mode_of_the_program_says_how_long_an_interrupt_of_any_name_takes_to_its_handler(
    on_z80, mode, entry
):
    # 1 behind the write, which is in the twelfth of 13; entry; 12. Back: 1, EI 4, RETI 14, 12
    text = f"GO: {mode}\n EI\nAGAIN: LD (8000H),A\n JR AGAIN\n"
    assert on_z80(text) == [1 + entry + 12, 1 + 4 + 14 + 12]


def test_no_interrupt_is_accepted_right_behind_ei(on_z80):
    text = "GO: IM 1\nAGAIN: DI\n LD (8000H),A\n EI\n NOP\n JR AGAIN\n"
    # 1, EI 4, NOP 4, entry 13, 12; back, where it came between JR and DI: 1, EI 4, RETI 14, DI 4, 12
    assert on_z80(text) == [1 + 4 + 4 + 13 + 12, 1 + 4 + 14 + 4 + 12]
