"""Every table against published figures that were not taken from it (tests/reference/cpus)."""

import pytest
from clockhop import cpu
from clockhop.cpu import Action
from families import ALL, Published
from witness import bound, changed, counted, fewest, plain, unwitnessed

BY_NAME = {family.name: family for family in ALL}


def each(column: str) -> list[tuple[str, str]]:
    return [(family.name, code) for family in ALL for code in family.witnessed(column)]


def action_of(family: Published, code: str) -> Action:
    row = family.rows[code]
    return bound(cpu.load(family.name), row, plain(row))


def accesses(family: Published, action: Action) -> object:
    return counted(action, family.letters, **family.base)


def flags(family: Published, action: Action) -> dict[str, str]:
    """A flag that comes with its whole register is one that depends on the result."""
    kinds = changed(action)
    return {flag: kinds[flag].replace("c", "*") for flag in family.judged if flag in kinds}


@pytest.mark.parametrize("family", ALL, ids=lambda family: family.name)
def test_all_opcodes_have_a_witness_and_every_witness_has_a_row(family: Published) -> None:
    assert len(family.rows) == family.opcodes
    assert family.rows.keys() == family.lines.keys()


@pytest.mark.parametrize("family", ALL, ids=lambda family: family.name)
def test_mnemonics_and_lengths_are_as_published(family: Published) -> None:
    found = {code: (row.mnemonics, action_of(family, code).size) for code, row in family.rows.items()}
    assert found == {code: (family.names(line), int(line["bytes"])) for code, line in family.lines.items()}


@pytest.mark.parametrize(("name", "code"), each("cycles"))
def test_cycles_are_as_published(name: str, code: str) -> None:
    family = BY_NAME[name]
    assert fewest(action_of(family, code), **family.base) == int(family.lines[code]["cycles"])


@pytest.mark.parametrize(("name", "code"), each("reads_writes"))
def test_bus_accesses_come_in_the_published_cycles(name: str, code: str) -> None:
    family = BY_NAME[name]
    assert accesses(family, action_of(family, code)) == family.accesses(family.lines[code])


@pytest.mark.parametrize(("name", "code"), each("flags"))
def test_flags_are_changed_as_published(name: str, code: str) -> None:
    family = BY_NAME[name]
    assert flags(family, action_of(family, code)) == family.flags(family.lines[code])


@pytest.mark.parametrize("family", ALL, ids=lambda family: family.name)
def test_the_list_of_unwitnessed_fields_is_as_short_as_stated_and_each_is_still_needed(
    family: Published,
) -> None:
    listed = unwitnessed(family.name)
    assert len(listed) == family.unwitnessed
    for code, column in listed:
        action, line = action_of(family, code), family.lines[code]
        match column:
            case "flags":
                assert flags(family, action) != family.flags(line)
            case "reads_writes":
                text = line[column]
                assert not text or "N@" in text or accesses(family, action) != family.accesses(line)
            case _:
                assert not line[column] or line["agree"].startswith("DISPUTED")
