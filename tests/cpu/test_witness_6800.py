"""What the tables of the 6800 and its relatives say beside their opcode lists: waits, stops and interrupts."""

import pytest
from clockhop import cpu
from clockhop.cpu import Action, BusAccess, Cost
from witness import Data, bound, counted, opcode, plain, truth


def action(name: str, code: str) -> Action:
    processor = cpu.load(name)
    (row,) = [row for row in processor.rows if opcode(row) == code]
    return bound(processor, row, plain(row))


@pytest.mark.parametrize(
    ("name", "code", "fewest"),
    [("6800", "3E", 9), ("6801", "3E", 9), ("6303", "3E", 9), ("68hc11", "3E", 14), ("6303", "1A", 4)],
)
def test_an_instruction_that_waits_has_no_most(name: str, code: str, fewest: int) -> None:
    assert cpu.cost(action(name, code), truth()) == Cost(fewest, None)


def test_the_68hc11_stacks_9_bytes_before_it_waits() -> None:
    assert counted(action("68hc11", "3E"), "rwd") == [Data("w", 9, 3), Data("d", 1, 12)]


def test_stop_is_2_cycles_as_long_as_its_flag_forbids_it_and_has_no_most_else() -> None:
    stop = action("68hc11", "CF")
    assert cpu.cost(stop, truth(stopped=False)) == Cost(2, 2)
    assert cpu.cost(stop, truth(stopped=True)) == Cost(2, None)
    assert cpu.load("68hc11").initial["stop"] == 1


def test_rts_of_the_6801_reads_the_stack_at_3_and_4_or_a_cycle_later() -> None:
    assert cpu.accesses(action("6801", "39"), truth()) == (BusAccess("read", 3, 4), BusAccess("read", 4, 5))


@pytest.mark.parametrize("code", ["26", "8D", "20"])
@pytest.mark.parametrize("name", ["6800", "6801", "6303", "68hc11"])
def test_a_branch_costs_the_same_taken_or_not(name: str, code: str) -> None:
    branch = action(name, code)
    assert cpu.cost(branch, truth(taken=True)) == cpu.cost(branch, truth(taken=False))


@pytest.mark.parametrize(
    ("name", "cycles"), [("6800", 12), ("6802", 12), ("6801", 12), ("6803", 12), ("6303", 12), ("68hc11", 14)]
)
def test_interrupt_entry_takes_12_cycles_and_14_where_y_is_stacked_too(name: str, cycles: int) -> None:
    costs = {cpu.cost(interrupt, truth()) for interrupt in cpu.load(name).interrupts.values()}
    assert costs == {Cost(cycles, cycles)}


def test_the_68hc11_has_vectors_of_its_own_and_none_of_the_6801_s() -> None:
    vectors = cpu.load("68hc11").vectors
    assert (vectors["reset"], vectors["XIRQ"], vectors["IRQ"], vectors["TOF"]) == (
        0xFFFE,
        0xFFF4,
        0xFFF2,
        0xFFDE,
    )
    assert not {"NMI", "ICF", "OCF"} & vectors.keys()


@pytest.mark.parametrize(
    ("name", "of"), [("6802", "6800"), ("6808", "6800"), ("6803", "6801"), ("6301", "6303")]
)
def test_a_part_that_shares_another_s_table_has_all_its_rows(name: str, of: str) -> None:
    rows = [
        [
            (row.code, row.mnemonics, row.form.name, row.operation.name, row.bindings)
            for row in cpu.load(each).rows
        ]
        for each in (name, of)
    ]
    assert rows[0] == rows[1]


def test_an_old_spelling_leads_to_the_same_rows() -> None:
    processor = cpu.load("6800")
    assert processor.mnemonics["LDA"] == processor.mnemonics["LDAA"]
    assert processor.mnemonics["STB"] == processor.mnemonics["STAB"]
