"""The tables that count T-states against published figures that were not taken from them (tests/reference/cpus)."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pytest
from clockhop import cpu
from clockhop.cpu import Action, effects
from witness import table, unwitnessed


@dataclass(frozen=True)
class Counted:
    """A processor, its published rows, where the strobe of each kind of access lies in its machine cycle, its flags."""

    name: str
    opcodes: int
    strobes: Mapping[str, int]
    flags: Mapping[str, str]


Z80 = {"S": "S", "Z": "Z", "H": "HF", "P/V": "PV", "N": "NF", "C": "CF"}
INTEL = {flag: flag for flag in ("S", "Z", "AC", "P", "CY")}
ALL = {
    each.name: each
    for each in (
        Counted("z80", 1268, {"mr": 2, "mw": 2, "ior": 3, "iow": 3}, Z80),
        Counted("z180", 733, {"mr": 2, "mw": 2, "ior": 2, "iow": 2}, Z80),
        Counted("8080", 256, {"mr": 2, "mw": 3, "ior": 2, "iow": 3}, INTEL),
        Counted("8085", 256, {"mr": 2, "mw": 2, "ior": 2, "iow": 2}, INTEL),
    )
}
ROWS = [(name, code) for name in ALL for code in table(name)]


def settled(line: Mapping[str, str]) -> bool:
    """Whether more sources give a row's cycles than differ, or none does."""
    found = re.match(r"(\d+) of (\d+)", line["agree"])
    assert found is not None
    return 2 * int(found[1]) > int(found[2])


def placed(line: Mapping[str, str]) -> bool:
    """Whether a source places the machine cycles of a row."""
    return bool(line["reads_writes"]) or line.get("m_cycles_basis") != "memory"


def truth_of(taken: bool) -> Callable[[str], bool]:
    """A processor that waits for nothing."""
    return lambda name: taken and name == "taken"


def action_of(name: str, code: str) -> Action:
    """The instruction with ones for its operand bytes."""
    sizes = {"d": 1, "e": 1, "n": 1, "nn": 2}
    memory = b"".join(bytes([1] * sizes[w]) if w in sizes else bytes.fromhex(w) for w in code.split())
    found = cpu.load(name).decode(lambda address: (memory + bytes(4))[address], 0)
    assert found is not None
    return found


@pytest.mark.parametrize("name", ALL)
def test_every_opcode_has_a_published_row_and_the_other_way_round(name: str) -> None:
    decoded = {code + tail for code, rows in cpu.load(name).decoder.rows.items() for _, tail, _ in rows}
    listed = {bytes.fromhex("".join(re.findall(r"\b[0-9A-F]{2}\b", code))) for code in table(name)}
    assert len(decoded) == ALL[name].opcodes
    assert decoded == listed


def test_mnemonics_and_lengths_are_as_published() -> None:
    for name, code in ROWS:
        line, action = table(name)[code], action_of(name, code)
        assert (action.mnemonic, action.size) == (line["mnemonic"].split()[0], int(line["bytes"])), code


def test_undocumented_opcodes_and_no_others_carry_the_mark() -> None:
    for name, code in ROWS:
        marked = action_of(name, code).row.mark == "undocumented"
        assert marked is (table(name)[code]["status"] == "undocumented"), (name, code)


def test_t_states_are_as_published_taken_and_not() -> None:
    for name, code in ROWS:
        line, action = table(name)[code], action_of(name, code)
        if settled(line):
            assert cpu.cost(action, truth_of(taken=False)).fewest == int(line["cycles"]), (name, code)
            taken = int(line["cycles_taken"] or line["cycles"])
            assert cpu.cost(action, truth_of(taken=True)).fewest == taken, (name, code)


def test_accesses_come_at_their_strobes_in_the_published_machine_cycles() -> None:
    for name, code in ROWS:
        line = table(name)[code]
        if not placed(line):
            continue
        for column, taken in (("reads_writes", False), ("reads_writes_taken", True)):
            published = re.findall(
                r"([a-z]+)\d@(\d+)", line[column] or (line["reads_writes"] if taken else "")
            )
            expected = [(kind[-1], int(start) + ALL[name].strobes[kind]) for kind, start in published]
            found = [
                (access.kind[0], access.first)
                for access in cpu.accesses(action_of(name, code), truth_of(taken))
                if access.certain
            ]
            assert found == expected, (name, code, column)


def published_flags(name: str, text: str) -> set[str]:
    names = ALL[name].flags
    return (
        set(names.values()) if text.startswith("all") else {names[f] for f in text.split(",") if f in names}
    )


def test_the_flags_that_change_are_the_published_ones() -> None:
    for name, code in ROWS:
        if (code, "flags") not in unwitnessed(name):
            changed = effects(action_of(name, code).meaning).writes & set(ALL[name].flags.values())
            assert changed == published_flags(name, table(name)[code]["flags"]), (name, code)


@pytest.mark.parametrize(("name", "number"), [("z80", 8), ("z180", 8), ("8080", 0), ("8085", 0)])
def test_the_list_of_unwitnessed_fields_is_as_short_as_stated_and_each_is_still_needed(
    name: str, number: int
) -> None:
    listed = unwitnessed(name)
    assert len(listed) == number
    for code, column in listed:
        assert column == "flags"
        changed = effects(action_of(name, code).meaning).writes & set(ALL[name].flags.values())
        assert changed != published_flags(name, table(name)[code]["flags"])


def test_118_rows_of_the_z180_are_disputed_and_195_have_accesses_that_no_source_places() -> None:
    for name, disputed, unplaced in (("z80", 0, 0), ("z180", 118, 195), ("8080", 0, 0), ("8085", 0, 0)):
        lines = table(name)
        assert sum(not settled(line) for line in lines.values()) == disputed
        lost = [code for code, line in lines.items() if not placed(line)]
        assert sum(bool(cpu.accesses(action_of(name, code), truth_of(True))) for code in lost) == unplaced


def test_interrupts_take_11_13_and_19_t_states_on_the_z80_and_11_and_12_on_8080_and_8085() -> None:
    def states(name: str, *true: str) -> dict[str, int]:
        table = cpu.load(name).interrupts
        return {key: cpu.cost(each, lambda name: name in true).fewest for key, each in table.items()}

    assert states("z80") == {"NMI": 11, "INT": 13, "any": 13}
    assert states("z80", "by_table") == {"NMI": 11, "INT": 19, "any": 19}
    # In mode 0 a call takes 19.
    assert states("z80", "by_device", "maybe")["INT"] == 19
    assert set(states("8080").values()) == {11}
    assert set(states("8085").values()) == {12}


@pytest.mark.parametrize(
    ("name", "syntax"), [("8080", "zilog"), ("8085", "zilog"), ("z80", "intel"), ("z180", "intel")]
)
def test_what_the_other_maker_writes_is_the_same_instruction(name: str, syntax: str) -> None:
    own, other = cpu.load(name), cpu.load(name, syntax)
    for code in range(256):
        memory = bytes([code, 1, 2, 3])
        ours, theirs = (each.decode(memory.__getitem__, 0) for each in (own, other))
        if ours is None or theirs is None:  # a prefix before what it does nothing to
            assert ours is theirs
            continue
        assert (ours.code, ours.meaning, ours.steps, ours.flow) == (
            theirs.code,
            theirs.meaning,
            theirs.steps,
            theirs.flow,
        )
        assert ours.conditions == theirs.conditions
