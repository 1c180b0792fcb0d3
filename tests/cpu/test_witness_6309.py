"""The 6309 table, emulation and native mode, against published figures (tests/reference/cpus)."""

import pytest
from clockhop import cpu
from clockhop.cpu import Cost
from witness import (
    Data,
    Mode,
    bound,
    counted,
    fewest,
    flags,
    modes,
    opcode,
    plain,
    published,
    table,
    truth,
    unwitnessed,
)

CPU = cpu.load("6309")
ROWS = {opcode(row): row for row in CPU.rows}
WITNESSES = table("6309")
OLD = table("6809")
UNWITNESSED = unwitnessed("6309")
QUIET = {
    "taken": False,
    "pulls_all": False,
    "negative_dividend": False,
    "negative_divisor": False,
    "range_overflow": False,
    "wraps": False,
}
EMULATION = QUIET | {"native": False}
NATIVE = QUIET | {"native": True}


def witnessed(field: str) -> list[str]:
    return [code for code in WITNESSES if (code, field) not in UNWITNESSED]


def test_the_table_has_the_168_new_opcodes_beside_the_268_of_the_6809() -> None:
    assert {
        code for code, witness in WITNESSES.items() if witness["kind"] == "new"
    } == ROWS.keys() - OLD.keys()
    assert len(ROWS) == 268 + 168
    assert ROWS.keys() == OLD.keys() | WITNESSES.keys()


@pytest.mark.parametrize("code", WITNESSES)
def test_mnemonic_and_length_are_as_published(code: str) -> None:
    row, witness = ROWS[code], WITNESSES[code]
    assert row.mnemonics == tuple(witness["mnemonic"].split(" ")[0].split("/"))
    assert bound(CPU, row, plain(row)).size == int(witness["bytes"])


@pytest.mark.parametrize("code", witnessed("cycles"))
def test_cycles_are_as_published_in_both_modes(code: str) -> None:
    action, witness = bound(CPU, ROWS[code], plain(ROWS[code])), WITNESSES[code]
    assert fewest(action, **EMULATION) == int(witness["cycles_emulation"])
    assert fewest(action, **NATIVE) == int(witness["cycles_native"])


@pytest.mark.parametrize("code", sorted(OLD.keys() - WITNESSES.keys()))
def test_an_opcode_not_listed_as_different_keeps_its_6809_cycles_in_native_mode(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert fewest(action, **NATIVE) == int(OLD[code]["cycles"])


@pytest.mark.parametrize("code", OLD)
def test_emulation_mode_keeps_the_6809_cycles(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert fewest(action, **EMULATION) == int(OLD[code]["cycles"])


@pytest.mark.parametrize("code", [code for code in OLD if (code, "reads_writes") not in unwitnessed("6809")])
def test_emulation_mode_keeps_the_6809_bus_accesses(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert counted(action, **EMULATION) == published(OLD[code]["reads_writes"])


@pytest.mark.parametrize("code", witnessed("flags"))
def test_flags_are_changed_as_published(code: str) -> None:
    assert flags(bound(CPU, ROWS[code], plain(ROWS[code]))) == WITNESSES[code]["flags"]


@pytest.mark.parametrize("mode", modes(), ids=lambda mode: mode.pattern)
@pytest.mark.parametrize("code", ["A6", "10 A6", "61"])
def test_an_index_mode_adds_the_published_bytes_and_cycles(mode: Mode, code: str) -> None:
    row = ROWS[code]
    base = bound(CPU, row, plain(row))
    variant = next(each for each in row.form.variants if each.pattern.removeprefix("#n8,") == mode.pattern)
    action = bound(CPU, row, variant)
    assert action.size - base.size == mode.extra_bytes
    assert fewest(action, **EMULATION) - fewest(base, **EMULATION) == mode.cycles["6309_emulation"]
    assert fewest(action, **NATIVE) - fewest(base, **NATIVE) == mode.cycles["6309_native"]


def test_the_table_has_the_38_published_index_modes_and_no_other() -> None:
    assert len(modes()) == 38
    assert {variant.pattern for variant in ROWS["A6"].form.variants} == {mode.pattern for mode in modes()}


def test_a_long_branch_that_is_taken_takes_6_cycles_in_emulation_and_5_in_native_mode() -> None:
    action = bound(CPU, ROWS["10 26"], plain(ROWS["10 26"]))
    assert fewest(action, **EMULATION | {"taken": True}) == 6
    assert fewest(action, **NATIVE | {"taken": True}) == 5


def test_rti_takes_15_cycles_in_emulation_and_17_in_native_mode_when_all_registers_are_pulled() -> None:
    action = bound(CPU, ROWS["3B"], plain(ROWS["3B"]))
    assert fewest(action, **EMULATION | {"pulls_all": True}) == 15
    assert fewest(action, **NATIVE | {"pulls_all": True}) == 17


@pytest.mark.parametrize("code", ["34", "35", "36", "37"])
def test_stacking_takes_5_cycles_4_in_native_mode_and_one_for_each_byte(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]), ("X", "D"))
    assert (fewest(action, **EMULATION), fewest(action, **NATIVE)) == (9, 8)


@pytest.mark.parametrize("code", ["11 38", "11 39", "11 3A", "11 3B"])
def test_a_block_move_takes_6_cycles_and_3_for_each_byte(code: str) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert cpu.cost(action, truth(**EMULATION), lambda _: 5) == Cost(21, 21)
    assert cpu.cost(action, truth(**EMULATION), lambda _: 0) == Cost(6, 6)
    assert cpu.cost(action, truth(**EMULATION)) == Cost(6, 6 + 3 * 65535)
    reads = [
        access for access in cpu.accesses(action, truth(**EMULATION), lambda _: 5) if access.kind == "read"
    ]
    assert len(reads) == 5


@pytest.mark.parametrize(
    ("code", "known", "cycles"),
    [
        ("11 8D", {"negative_dividend": True}, 26),
        ("11 8D", {"negative_dividend": True, "negative_divisor": True}, 27),
        ("11 8D", {"wraps": True}, 24),
        ("11 8D", {"range_overflow": True}, 12),
        ("11 8E", {"negative_divisor": True}, 35),
        ("11 8E", {"range_overflow": True}, 13),
    ],
)
def test_a_division_takes_longer_for_negative_and_shorter_for_overflowing_operands(
    code: str, known: dict[str, bool], cycles: int
) -> None:
    action = bound(CPU, ROWS[code], plain(ROWS[code]))
    assert fewest(action, **EMULATION | known) == cycles


def test_a_division_of_unknown_operands_takes_12_to_27_cycles() -> None:
    action = bound(CPU, ROWS["11 8D"], plain(ROWS["11 8D"]))
    assert cpu.cost(action, truth(native=False)) == Cost(11, 27)


def test_idle_cycles_have_no_place_where_native_mode_changes_the_count() -> None:
    increment = bound(CPU, ROWS["0C"], plain(ROWS["0C"]))
    assert counted(increment, **EMULATION) == [Data("r", 1, 4), Data("w", 1, 6)]
    read, write = cpu.accesses(increment, truth(**NATIVE))
    assert (read.first, read.last, write.first, write.last) == (3, 4, 4, 5)


def test_an_idle_cycle_keeps_its_place_where_native_mode_changes_nothing() -> None:
    load = bound(CPU, ROWS["A6"], plain(ROWS["A6"]))
    assert counted(load, **NATIVE) == [Data("r", 1, 4)]


def test_a_store_without_idle_cycles_has_its_place_in_native_mode_too() -> None:
    store = bound(CPU, ROWS["97"], plain(ROWS["97"]))
    assert counted(store, **NATIVE) == [Data("w", 1, 3)]


def test_an_unknown_mode_gives_the_range_of_both() -> None:
    load = bound(CPU, ROWS["96"], plain(ROWS["96"]))
    assert cpu.cost(load, truth()) == Cost(3, 4)


def test_what_sources_dispute_is_a_range() -> None:
    known = {"native": False}
    assert cpu.cost(bound(CPU, ROWS["0B"], plain(ROWS["0B"])), truth(**known)) == Cost(4, 6)
    assert cpu.cost(bound(CPU, ROWS["6B"], plain(ROWS["6B"])), truth(**known)) == Cost(5, 7)
    assert cpu.cost(bound(CPU, ROWS["7B"], plain(ROWS["7B"])), truth(**known)) == Cost(5, 7)
    assert cpu.cost(bound(CPU, ROWS["1A"], plain(ROWS["1A"])), truth(native=True)) == Cost(2, 3)


def test_interrupt_entry_in_emulation_mode_takes_19_cycles_and_10_for_the_fast_one() -> None:
    costs = {
        name: cpu.cost(interrupt, truth(native=False, full_firq=False))
        for name, interrupt in CPU.interrupts.items()
    }
    assert costs == {"NMI": Cost(19, 19), "IRQ": Cost(19, 19), "FIRQ": Cost(10, 10)}
    assert cpu.cost(CPU.interrupts["FIRQ"], truth(native=False, full_firq=True)) == Cost(19, 19)


def test_interrupt_entry_in_native_mode_is_the_range_of_its_sources() -> None:
    assert cpu.cost(CPU.interrupts["IRQ"], truth(native=True)) == Cost(21, 22)
    assert cpu.cost(CPU.interrupts["FIRQ"], truth(native=True, full_firq=False)) == Cost(10, 13)


def test_the_native_start_mode_differs_in_the_mode_register_alone() -> None:
    native = cpu.load("6309-native")
    assert (CPU.initial["MD"], native.initial["MD"]) == (0, 1)
    assert [row.code for row in native.rows] == [row.code for row in CPU.rows]


def test_the_list_of_unwitnessed_fields_has_13_entries_and_each_is_still_needed() -> None:
    assert len(UNWITNESSED) == 13
    for code, field in UNWITNESSED:
        witness = WITNESSES[code]
        if field == "flags":
            assert flags(bound(CPU, ROWS[code], plain(ROWS[code]))) != witness["flags"]
        else:
            assert witness["agree"].startswith("DISPUTED")
