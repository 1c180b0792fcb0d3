"""The 6502 tables against published figures that were not taken from them (tests/reference/cpus)."""

import pytest
from clockhop import cpu
from clockhop.cpu import Action, Assign, Cost, If, Register, Row, Statement
from witness import bound, opcode, plain, table, truth, unwitnessed

# The table that has all opcodes of a published one.
TABLES = {"6502": cpu.load("6502"), "65c02": cpu.load("w65c02s")}
ROWS = {name: {opcode(row): row for row in processor.rows} for name, processor in TABLES.items()}
WITNESSES = {name: {code.removeprefix("0x"): row for code, row in table(name).items()} for name in TABLES}
UNWITNESSED = {name: unwitnessed(name) for name in TABLES}
EVERY = [(name, code) for name, witnesses in WITNESSES.items() for code in witnesses]

NONE = dict.fromkeys(("taken", "other_page", "crossed", "decimal", "disputed"), False)
CONDITIONS = {
    "taken": {"taken": True},
    "other page": {"taken": True, "other_page": True},
    "page crossed": {"crossed": True},
    "decimal": {"decimal": True},
    "decimal + page crossed": {"decimal": True, "crossed": True},
}


def instruction(name: str, code: str) -> Action:
    row = ROWS[name][code]
    return bound(TABLES[name], row, plain(row))


def witnessed(field: str) -> list[tuple[str, str]]:
    return [(name, code) for name, code in EVERY if (code, field) not in UNWITNESSED[name]]


@pytest.mark.parametrize("name", TABLES)
def test_all_256_opcodes_have_a_witness_and_every_witness_has_a_row(name: str) -> None:
    assert len(ROWS[name]) == 256
    assert ROWS[name].keys() == WITNESSES[name].keys()


@pytest.mark.parametrize(("name", "code"), EVERY)
def test_mnemonic_length_and_mark_are_as_published(name: str, code: str) -> None:
    row, witness = ROWS[name][code], WITNESSES[name][code]
    assert row.mnemonics[0] == witness["mnemonic"]
    assert instruction(name, code).size == int(witness["bytes"])
    assert row.mark == (witness["status"] if witness["status"] in ("undocumented", "reserved") else "")


@pytest.mark.parametrize(("name", "code"), witnessed("cycles"))
def test_cycles_are_as_published_and_vary_as_published(name: str, code: str) -> None:
    action, witness = instruction(name, code), WITNESSES[name][code]
    published = int(witness["cycles"])
    assert cpu.cost(action, truth(**NONE)).fewest == published
    varies = witness["variable"]
    for known, words in (
        ({"crossed": True}, ("+1 page crossed",)),
        ({"decimal": True}, ("+1 decimal",)),
        ({"taken": True}, ("+1 taken",)),
        ({"taken": True, "other_page": True}, ("+1 taken", "+1 more if other page", "+1 other page")),
    ):
        added = sum(each in varies for each in words)
        assert cpu.cost(action, truth(**NONE | known)).fewest == published + added


def published_accesses(text: str) -> list[tuple[dict[str, bool], list[tuple[str, int]]]]:
    """What holds, and the letter and cycle of every access then, dummies included."""
    found = []
    for part in text.split(" | "):
        condition, colon, rest = part.partition(": ")
        words = (rest if colon else part).split("; ")
        listed = [(word[0], int(word.split()[0].partition("@")[2])) for word in words if word != "none"]
        found.append((CONDITIONS[condition] if colon else {}, listed))
    return found


@pytest.mark.parametrize(("name", "code"), witnessed("reads_writes"))
def test_every_bus_access_comes_in_its_published_cycle(name: str, code: str) -> None:
    action = instruction(name, code)
    for holds, listed in published_accesses(WITNESSES[name][code]["reads_writes"]):
        found = cpu.accesses(action, truth(**NONE | holds))
        assert [("w" if each.kind == "write" else "r", each.first) for each in found] == listed


def changed(statements: tuple[Statement, ...]) -> set[str]:
    found: set[str] = set()
    for statement in statements:
        match statement:
            case Assign(target=Register(name=name)) if name in tuple("NVDIZC"):
                found.add(name)
            case If():
                found |= changed(statement.then) | changed(statement.otherwise)
            case _:
                pass
    return found


@pytest.mark.parametrize(("name", "code"), EVERY)
def test_flags_that_can_change_are_the_published_ones(name: str, code: str) -> None:
    assert changed(instruction(name, code).meaning) == set(WITNESSES[name][code]["flags"])


def indexed(processor: str, code: str) -> Cost:
    """The cost of an instruction where no page is crossed."""
    row: Row = next(row for row in cpu.load(processor).rows if opcode(row) == code)
    action = bound(cpu.load(processor), row, row.form.variants[0])
    return cpu.cost(action, {"crossed": False, "decimal": False}.get)


@pytest.mark.parametrize(
    ("processor", "shift", "count"),
    [
        ("6502", Cost(7, 7), Cost(7, 7)),
        ("65c02", Cost(6, 7), Cost(6, 7)),
        ("r65c02", Cost(6, 7), Cost(7, 7)),
        ("w65c02s", Cost(6, 6), Cost(7, 7)),
    ],
)
def test_changing_an_indexed_byte_costs_what_the_named_maker_says(
    processor: str, shift: Cost, count: Cost
) -> None:
    assert [indexed(processor, code) for code in ("1E", "3E", "5E", "7E")] == [shift] * 4
    assert [indexed(processor, code) for code in ("DE", "FE")] == [count] * 2


def test_bit_instructions_are_rockwell_s_and_wdc_s_and_waiting_is_wdc_s_alone() -> None:
    has = {name: cpu.load(name).mnemonics for name in ("65c02", "r65c02", "w65c02s")}
    assert ["BBR0" in each for each in has.values()] == [False, True, True]
    assert ["SMB7" in each for each in has.values()] == [False, True, True]
    assert ["WAI" in each for each in has.values()] == [False, False, True]
    assert ["STP" in each for each in has.values()] == [False, False, True]


@pytest.mark.parametrize("name", ["6502", "65c02"])
def test_an_interrupt_takes_7_cycles_to_its_handler(name: str) -> None:
    for interrupt in cpu.load(name).interrupts.values():
        assert cpu.cost(interrupt, lambda _: None) == Cost(7, 7)


def test_waiting_and_stopping_have_no_most() -> None:
    assert cpu.cost(instruction("65c02", "CB"), lambda _: None) == Cost(3, None)
    assert cpu.cost(instruction("65c02", "DB"), lambda _: None) == Cost(3, None)
    assert cpu.cost(instruction("6502", "02"), lambda _: None) == Cost(2, None)


def test_documented_rows_of_a_mnemonic_stand_before_the_others() -> None:
    assert opcode(TABLES["6502"].mnemonics["NOP"][0]) == "EA"
    assert opcode(TABLES["65c02"].mnemonics["NOP"][0]) == "EA"


def test_the_list_of_unwitnessed_fields_has_24_entries_for_12_jams() -> None:
    assert len(UNWITNESSED["6502"]) == 24
    assert {WITNESSES["6502"][code]["mnemonic"] for code, _ in UNWITNESSED["6502"]} == {"JAM"}
    assert UNWITNESSED["65c02"] == {}
