"""The Z180: what its own instructions do, and what waits and refresh add to all of them."""

import pytest
from clockhop import cpu
from clockhop.address import port
from clockhop.cpu import Action, Machine
from witness import table

BARE = {"MWI": 0, "IWI": 0, "REFE": 0}


class Space(dict[int, int]):
    def __missing__(self, address: int) -> int:
        return 0


def after(code: str, registers: dict[str, int], ports: dict[int, int] | None = None) -> Machine:
    space = Space(enumerate(bytes.fromhex(code)))
    space.update({port(number): value for number, value in (ports or {}).items()})
    machine = Machine(cpu.load("z180"), space, BARE | registers | {"PC": 0}, fill=0)
    assert machine.step() is not None
    return machine


def action_of(name: str, code: str) -> Action | None:
    memory = bytes.fromhex(code) + bytes(4)
    return cpu.load(name).decode(memory.__getitem__, 0)


# By the maker's definition, from memory of its manual.


def test_mlt_multiplies_the_halves_of_a_pair_and_leaves_the_flags() -> None:
    machine = after("ED5C", {"D": 0x12, "E": 0x34, "F": 0xFF})
    assert (machine["DE"], machine["F"], machine.fewest) == (0x03A8, 0xFF, 17)
    assert after("ED7C", {"SP": 0xFFFF})["SP"] == 0xFE01


@pytest.mark.parametrize(
    ("code", "cycles"), [("ED04", 7), ("ED34", 10), ("ED64F0", 9)], ids=["register", "(HL)", "number"]
)
def test_tst_sets_the_flags_of_and_and_keeps_a(code: str, cycles: int) -> None:
    machine = after(code, {"A": 0x81, "B": 0xF0, "H": 0, "L": 0x80, "CF": 1, "NF": 1})
    machine.state.memory[0x80] = 0xF0
    machine = Machine(
        cpu.load("z180"),
        {**machine.state.memory, 0x80: 0xF0},
        BARE | {"PC": 0, "A": 0x81, "B": 0xF0, "H": 0, "L": 0x80, "CF": 1, "NF": 1},
    )
    assert machine.step() is not None
    flags = [machine[flag] for flag in ("S", "Z", "HF", "PV", "NF", "CF")]
    assert (machine["A"], flags, machine.fewest) == (0x81, [1, 0, 1, 0, 0, 0], cycles)


def test_tstio_ands_a_number_with_the_port_in_c() -> None:
    machine = after("ED740F", {"B": 0x55, "C": 0x80}, {0x80: 0xF0})
    assert [machine[flag] for flag in ("S", "Z", "PV")] == [0, 1, 1]


def test_in0_and_out0_name_their_port_and_in0_sets_flags() -> None:
    machine = after("ED0840", {"B": 0x77, "CF": 1}, {0x40: 0x80})
    assert [machine[name] for name in ("C", "S", "Z", "PV", "CF")] == [0x80, 1, 0, 0, 1]
    assert after("ED3040", {"A": 9}, {0x40: 0})["Z"] == 1
    assert after("ED3940", {"A": 9}).state.memory[port(0x40)] == 9


def test_otim_counts_memory_and_port_up_and_b_down() -> None:
    machine = after("ED83", {"B": 2, "C": 0x40, "H": 0, "L": 1})
    assert [machine[name] for name in ("B", "C", "HL", "Z", "PC")] == [1, 0x41, 2, 0, 2]
    assert machine.state.memory[port(0x40)] == 0x83
    assert after("ED93", {"B": 2, "C": 0x40, "L": 1})["PC"] == 0
    last = after("ED9B", {"B": 1, "C": 0x40, "L": 1})
    assert [last[name] for name in ("PC", "C", "L", "Z", "NF")] == [2, 0x3F, 0, 1, 1]


def test_what_it_shares_with_the_z80_means_the_same_but_daa_rld_and_rrd() -> None:
    shared = {code for code, line in table("z80").items() if line["status"] == "documented"}
    others = set()
    for code in shared:
        first = code.replace("nn", "01 01").replace("d", "01").replace("e", "01").replace("n", "01")
        old, new = action_of("z80", first), action_of("z180", first)
        assert old is not None
        assert new is not None
        if (old.meaning, old.flow) != (new.meaning, new.flow):
            others.add(old.mnemonic)
    assert (len(shared), others) == (698, {"DAA", "RLD", "RRD"})


@pytest.mark.parametrize("code", ["CB30", "DD24", "DD7C", "FDCB0500", "ED4E", "ED54", "ED71"])
def test_what_is_undocumented_on_the_z80_is_trapped_and_has_no_row(code: str) -> None:
    assert action_of("z80", code) is not None
    assert action_of("z180", code) is None


def cycles(code: str, **registers: int) -> tuple[int, int | None]:
    memory = Space(enumerate(bytes.fromhex(code)))
    machine = Machine(cpu.load("z180"), memory, {"PC": 0, **registers})
    assert machine.step() is not None
    return machine.fewest, machine.most


def test_after_reset_every_access_of_memory_waits_3() -> None:
    # DJNZ: 9 and 2 fetches of 3 waits; refreshes are none of its own cycles
    assert cycles("10FE", B=2) == (15, 15)
    assert [cycles("10FE", B=2, REFE=0, MWI=waits)[0] for waits in (0, 1, 2)] == [9, 11, 13]


def test_ports_outside_wait_1_to_4_and_those_inside_none_but_some_up_to_4_of_their_own() -> None:
    # OUT (80H),A has 10 clocks
    assert [cycles("D380", REFE=0, MWI=0, IWI=waits)[0] for waits in (0, 1, 2, 3)] == [11, 12, 13, 14]
    # OUT0 (32H),A and OUT0 (04H),A have 13; the second is a serial port
    assert cycles("ED3932", REFE=0, MWI=0) == (13, 13)
    assert cycles("ED3904", REFE=0, MWI=0) == (13, 17)
    # moved to C0H, 32H lies outside and F2H inside
    assert cycles("ED3932", REFE=0, MWI=0, ICR=3) == (17, 17)
    assert cycles("ED39F2", REFE=0, MWI=0, ICR=3) == (13, 13)
    # by OUT (C),r and OUT (n),A only where nothing stands on A15 to A8
    assert cycles("ED79", REFE=0, MWI=0, B=0, C=0x32) == (10, 10)
    assert cycles("ED79", REFE=0, MWI=0, B=1, C=0x32) == (14, 14)
    assert cycles("D332", REFE=0, MWI=0, A=0) == (10, 10)


def test_out0_to_dcntl_rcr_and_icr_decides_on_all_cycles_from_there_on() -> None:
    assert [after("ED3932", {"A": 0x60})[name] for name in ("MWI", "IWI", "REFE")] == [1, 2, 0]
    assert [after("ED3936", {"A": 0x82, "REFW": 1})[name] for name in ("MWI", "REFE", "REFW", "CYC")] == [
        0,
        1,
        0,
        2,
    ]
    assert [after("ED393F", {"A": 0xC0})["ICR"], after("ED39F2", {"A": 0x40, "ICR": 3})["MWI"]] == [3, 1]
    assert after("ED3932", {"A": 0x60, "ICR": 3})["MWI"] == 0


def test_interrupts_take_at_least_11_and_at_most_2_more_which_no_source_places() -> None:
    table = cpu.load("z180").interrupts
    bare = dict.fromkeys(("waits1", "waits2", "waits3", "refreshed", "long", "by_device"), False)
    found = {
        (name, by_table): cpu.cost(table[name], (bare | {"by_table": by_table}).get)
        for name, by_table in (("NMI", False), ("INT", False), ("INT", True))
    }
    assert {key: (cost.fewest, cost.most) for key, cost in found.items()} == {
        ("NMI", False): (9, 11),
        ("INT", False): (11, 13),
        ("INT", True): (17, 19),
    }
