"""What the 6809 table says beside its opcode list: register lists, index modes, waits, interrupts."""

import pytest
from clockhop import cpu
from witness import (
    Data,
    Mode,
    bound,
    counted,
    fewest,
    modes,
    opcode,
    plain,
)

CPU = cpu.load("6809")
ROWS = {opcode(row): row for row in CPU.rows}


@pytest.mark.parametrize("code", ["10 22", "10 26", "10 2F"])
def test_a_long_branch_takes_5_cycles_and_6_when_taken(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert (fewest(action, taken=False), fewest(action, taken=True)) == (5, 6)


def test_rti_takes_6_cycles_and_15_when_all_registers_are_pulled() -> None:
    action = bound(CPU, ROWS["3B"], plain(ROWS["3B"]))
    assert fewest(action, pulls_all=True) == 15
    assert counted(action, pulls_all=False) == [Data("r", 3, 3)]
    assert counted(action, pulls_all=True) == [Data("r", 12, 3)]


def test_an_instruction_that_waits_for_an_interrupt_has_no_most() -> None:
    cwai = bound(CPU, ROWS["3C"], plain(ROWS["3C"]))
    assert cpu.cost(cwai, lambda _: None) == cpu.Cost(20, None)
    assert cpu.accesses(cwai, lambda _: None)[-2:] == (
        cpu.BusAccess("dummy", 18, None),
        cpu.BusAccess("dummy", 19, None),
    )


@pytest.mark.parametrize("code", ["34", "35", "36", "37"])
def test_stacking_takes_5_cycles_and_one_for_each_byte(code: str) -> None:
    row = ROWS[code]
    action = bound(CPU, row, plain(row), ("X", "CC", "D", "PC"))
    letter, cycle = ("w", 6) if code in ("34", "36") else ("r", 5)
    assert fewest(action) == 5 + 7
    assert counted(action) == [Data(letter, 7, cycle)]


@pytest.mark.parametrize(
    ("code", "cycle"),
    [("9D", 4), ("AD", 4), ("BD", 5), ("8D", 4), ("17", 6), ("34", 5), ("35", 5), ("3B", 6)],
)
def test_reads_that_nobody_wants_come_in_their_cycles(code: str, cycle: int) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert counted(action, "d", pulls_all=False) == [Data("d", 1, cycle)]


@pytest.mark.parametrize(
    "mode", [mode for mode in modes() if "6809" in mode.cycles], ids=lambda mode: mode.pattern
)
def test_an_index_mode_adds_the_published_bytes_and_cycles(mode: Mode) -> None:
    row = ROWS["A6"]
    variant = next(each for each in row.form.variants if each.pattern == mode.pattern)
    action = bound(CPU, row, variant)
    assert action.size == 2 + mode.extra_bytes
    assert fewest(action) == 4 + mode.cycles["6809"]


def test_the_table_has_the_24_published_index_modes_and_no_other() -> None:
    published_modes = {mode.pattern for mode in modes() if "6809" in mode.cycles}
    assert len(published_modes) == 24
    assert {variant.pattern for variant in ROWS["A6"].form.variants} == published_modes


def test_an_indirect_mode_reads_its_pointer_just_before_its_last_cycle() -> None:
    row = ROWS["A6"]
    variant = next(each for each in row.form.variants if each.pattern == "[,R]")
    assert counted(bound(CPU, row, variant)) == [Data("r", 2, 4), Data("r", 1, 7)]


def test_interrupt_entry_takes_19_cycles_and_10_for_the_fast_one() -> None:
    costs = {name: cpu.cost(interrupt, lambda _: None) for name, interrupt in CPU.interrupts.items()}
    assert costs == {"NMI": cpu.Cost(19, 19), "IRQ": cpu.Cost(19, 19), "FIRQ": cpu.Cost(10, 10)}
