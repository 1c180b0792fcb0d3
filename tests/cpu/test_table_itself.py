"""What every table must be in itself: steps fit the meaning, encoding and decoding are each other's inverse."""

from random import Random

import pytest
from clockhop import cpu
from clockhop.address import is_port
from clockhop.cpu import Cpu, Hole, Machine, OperandError, Row, Value, Variant, evaluate
from clockhop.errors import TableError

NAMES = cpu.names()


def ways(name: str) -> list[tuple[Row, Variant]]:
    return [(row, variant) for row in cpu.load(name).rows for variant in row.form.variants]


def value(hole: Hole, random: Random, address: int) -> Value:
    if hole.registers is not None:
        codes = hole.registers.codes
        if hole.kind == "register":
            return random.choice(list(codes))
        return tuple(name for name, code in codes.items() if code & (code - 1) == 0 and random.random() < 0.5)
    if hole.kind == "relative":
        reach = 1 << (hole.width - 1)
        return (address + random.randrange(10 - reach, reach - 10)) & 0xFFFF
    if hole.kind == "multiple":
        return random.randrange(hole.low, hole.high + 1, 8)
    low, high = (
        (hole.low, hole.high) if hole.kind in ("signed", "address", "bit") else (0, (1 << hole.width) - 1)
    )
    if hole.kind == "signed":
        high = min(high, (1 << (hole.width - 1)) - 1)
    return random.randrange(low, high + 1)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_encoded_decodes_to_the_same_row_mode_and_fields(name: str) -> None:
    processor, random = cpu.load(name), Random(name)
    memory = bytearray(0x10000)
    for row, variant in ways(name):
        fields = {hole.name: value(hole, random, 0x4000) for hole in variant.holes}
        code = processor.encode(row, variant, fields, 0x4000)
        assert len(code) == processor.size(row, variant)
        memory[0x4000 : 0x4000 + len(code)] = code
        found = processor.decode(memory.__getitem__, 0x4000)
        assert found is not None
        # An operand that may be written or left out, such as the A of ASL A, is read in its first way.
        first = next(
            each for each in row.form.variants if (each.layout, each.ea) == (variant.layout, variant.ea)
        )
        assert (found.row.code, found.variant.pattern, found.code) == (row.code, first.pattern, code)
        assert dict(found.fields) == fields


class Space(dict[int, int]):
    """What is written, over memory of given bytes and ports that all give 5."""

    def __init__(self, memory: bytes) -> None:
        super().__init__()
        self.memory = memory

    def __missing__(self, address: int) -> int:
        return 5 if is_port(address) else self.memory[address]


class Everything:
    def __contains__(self, address: object) -> bool:
        return True


@pytest.mark.parametrize("name", NAMES)
def test_reads_and_writes_of_every_meaning_are_those_of_its_steps_in_order(name: str) -> None:
    processor, random = cpu.load(name), Random(name)
    for row, variant in ways(name):
        fields = {hole.name: value(hole, random, 0x4000) for hole in variant.holes}
        memory = Space(random.randbytes(0x10000))
        memory.update(enumerate(processor.encode(row, variant, fields, 0x4000), 0x4000))
        start = {"PC": 0x4000, "F": 5} if "F" in processor.registers else {"PC": 0x4000}
        machine = Machine(processor, memory, start, watched=Everything())
        steps = touches(processor, machine)
        assert machine.step() is not None
        assert [event.kind for event in machine.log] == steps


def touches(processor: Cpu, machine: Machine) -> list[str]:
    """The accesses that the steps of the next instruction give it in the machine's state."""
    action = processor.decode(machine.state.memory.__getitem__, machine.counter)
    assert action is not None

    def truth(name: str) -> bool | None:
        asked = action.conditions[name]
        return None if isinstance(asked, cpu.Undefined) else evaluate(asked, machine.state) != 0

    found = cpu.accesses(action, truth, lambda _: 5)
    return [access.kind for access in found if access.certain and access.kind != "dummy"]


@pytest.mark.parametrize("name", NAMES)
def test_no_two_rows_share_an_opcode_and_every_mnemonic_leads_to_its_rows(name: str) -> None:
    processor = cpu.load(name)
    found = [(code, tail) for code, rows in processor.decoder.rows.items() for _, tail, _ in rows]
    assert len(set(found)) == len(found)
    for row in processor.rows:
        assert all(row in processor.mnemonics[mnemonic] for mnemonic in row.mnemonics)


@pytest.mark.parametrize("name", ["6809", "6309", "6309-native"])
def test_the_rows_of_a_mnemonic_stand_narrowest_first(name: str) -> None:
    processor = cpu.load(name)
    assert [row.form.name for row in processor.mnemonics["LDA"]] == [
        "immediate8",
        "direct",
        "indexed",
        "extended",
    ]
    assert processor.mnemonics["BHS"] == processor.mnemonics["BCC"]


def lda(pattern: str) -> tuple[Cpu, Row, Variant]:
    processor = cpu.load("6809")
    for row in processor.mnemonics["LDA"]:
        for variant in row.form.variants:
            if variant.pattern == pattern:
                return processor, row, variant
    raise AssertionError(pattern)


@pytest.mark.parametrize(
    ("pattern", "fields"),
    [
        ("#n8", {"n8": 256}),
        ("#n8", {"n8": -129}),
        ("#n8", {}),
        ("#n8", {"n8": "X"}),
        ("s5,R", {"s5": 16, "R": "X"}),
        ("s5,R", {"s5": -17, "R": "X"}),
        ("s8,R", {"s8": 128, "R": "Y"}),
        ("s8,R", {"s8": 0, "R": "PC"}),
        ("a16", {"a16": 0x10000}),
        ("rel8,PCR", {"rel8": 0x4083}),
    ],
)
def test_a_value_that_does_not_fit_its_hole_is_refused(pattern: str, fields: dict[str, Value]) -> None:
    processor, row, variant = lda(pattern)
    with pytest.raises(OperandError, match="does not fit"):
        processor.bind(row, variant, fields, 0x4000)


@pytest.mark.parametrize(
    ("pattern", "fields", "code"),
    [
        ("#n8", {"n8": -1}, "86 FF"),
        ("s5,R", {"s5": -16, "R": "S"}, "A6 70"),
        ("s16,R", {"s16": 0xFFFF, "R": "U"}, "A6 C9 FF FF"),
        ("d8", {"d8": 0x8001}, "96 01"),
        ("rel8,PCR", {"rel8": 0x4082}, "A6 8C 7F"),
        ("[rel16,PCR]", {"rel16": 0x3000}, "A6 9D EF FC"),
        ("[a16]", {"a16": 0x8001}, "A6 9F 80 01"),
    ],
)
def test_operands_are_encoded_as_in_the_maker_s_tables(
    pattern: str, fields: dict[str, Value], code: str
) -> None:
    processor, row, variant = lda(pattern)
    assert processor.encode(row, variant, fields, 0x4000).hex(" ").upper() == code


def test_a_refusal_says_what_would_fit() -> None:
    processor, row, variant = lda("s5,R")
    with pytest.raises(OperandError) as fault:
        processor.bind(row, variant, {"s5": 16, "R": "X"}, 0x4000)
    assert str(fault.value) == "signed operand 16 does not fit; accepted: -16 to 15"


def test_a_branch_reaches_round_the_end_of_the_address_space() -> None:
    processor = cpu.load("6809")
    (row,) = processor.mnemonics["BRA"]
    assert processor.encode(row, row.form.variants[0], {"rel8": 0x0010}, 0xFFF0).hex() == "201e"


@pytest.mark.parametrize(
    ("mnemonic", "fields", "flow", "target"),
    [
        ("TFR", {"r1": "X", "r2": "PC"}, "jump", "X"),
        ("TFR", {"r1": "X", "r2": "Y"}, "next", None),
        ("PULS", {"list": ("PC", "A")}, "return", None),
        ("PULS", {"list": ("A",)}, "next", None),
        ("BRN", {"rel8": 0x4000}, "next", None),
        ("LBRA", {"rel16": 0x5000}, "jump", 0x5000),
        ("BSR", {"rel8": 0x4010}, "call", 0x4010),
        ("BNE", {"rel8": 0x4010}, "branch", 0x4010),
        ("RTS", {}, "return", None),
        ("SYNC", {}, "wait", None),
    ],
)
def test_where_an_instruction_goes_next(
    mnemonic: str, fields: dict[str, Value], flow: str, target: str | int | None
) -> None:
    processor = cpu.load("6809")
    (row,) = processor.mnemonics[mnemonic]
    action = processor.bind(row, row.form.variants[0], fields, 0x4000)
    expected = processor.register(target) if isinstance(target, str) else target and cpu.Number(target)
    assert (action.flow, action.target) == (flow, expected)


def test_a_jump_through_a_table_names_the_word_it_goes_to() -> None:
    processor = cpu.load("6809")
    row = processor.mnemonics["JMP"][1]
    variant = next(each for each in row.form.variants if each.pattern == "[B,R]")
    action = processor.bind(row, variant, {"R": "X"}, 0x4000)
    offset = cpu.Signed(processor.register("B"), 8)
    assert action.target == cpu.Load(cpu.Binary("+", processor.register("X"), offset), 2)


def test_the_condition_of_a_branch_can_be_asked_before_it_runs() -> None:
    processor = cpu.load("6809")
    (row,) = processor.mnemonics["BNE"]
    action = processor.bind(row, row.form.variants[0], {"rel8": 0x4000}, 0x4000)
    assert action.conditions["taken"] == cpu.Binary("==", processor.register("Z"), cpu.Number(0))


def test_every_row_names_a_source_with_its_title() -> None:
    processor = cpu.load("6309")
    assert processor.sources["ds"] == "MC6809E data sheet, DS9846, 1981"
    assert {key for row in processor.rows for key in row.source.split()} == {"ds", "atk", "hog"}


def test_an_interrupt_stacks_the_machine_and_takes_its_vector() -> None:
    processor = cpu.load("6809")
    memory = bytearray(0x10000)
    memory[0xFFF6:0xFFFA] = bytes.fromhex("61006200")
    start = {"PC": 0x4000, "S": 0x1000, "CC": 0x00, "A": 7}
    slow = cpu.Concrete(processor, memory, start)
    cpu.run(processor.interrupts["IRQ"].meaning, slow)
    assert (slow.registers["PC"], slow.registers["S"], slow.read(processor.register("CC"))) == (
        0x6200,
        0x0FF4,
        0x90,
    )
    assert (memory[0x0FF4], memory[0x0FF5], memory[0x0FFE]) == (0x80, 7, 0x40)
    fast = cpu.Concrete(processor, memory, start)
    cpu.run(processor.interrupts["FIRQ"].meaning, fast)
    assert (fast.registers["PC"], fast.registers["S"], fast.read(processor.register("CC"))) == (
        0x6100,
        0x0FFD,
        0x50,
    )


def test_an_unknown_processor_is_answered_with_the_nearest_name() -> None:
    with pytest.raises(TableError, match='unknown processor "6809e"; nearest: 6809'):
        cpu.load("6809e")


def test_a_postbyte_with_other_bits_that_do_not_count_is_the_same_mode() -> None:
    processor = cpu.load("6809")
    memory = bytearray(0x10000)
    memory[0x4000:0x4003] = bytes.fromhex("A6EC05")
    found = processor.decode(memory.__getitem__, 0x4000)
    assert found is not None
    assert (found.variant.pattern, dict(found.fields)) == ("rel8,PCR", {"rel8": 0x4008})
