"""Composed code lasts what was asked: counted by the tool, run by the executor and by independent simulators."""

import logging
import re

import pytest
from clockhop.assemble import assemble, words
from clockhop.cpu import Machine, Stop, load, names
from clockhop.errors import ClockhopError
from clockhop.flow import connect
from clockhop.mend import Composition, Wanted, compose
from clockhop.quantity import parse_clock, parse_duration
from clockhop.source import parse
from clockhop.timing import Exact, count
from m68hc11 import HC11
from MC6809.components.cpu6809 import CPU as Simulator
from MC6809.components.memory import Memory
from MC6809.core.configs import BaseConfig
from py65.devices.mpu65c02 import MPU as Cmos
from py65.devices.mpu6502 import MPU as Nmos

START, OUTSIDE, STACK = 0x1000, 0x4000, 0x01F0
# A usual clock; the shortest piece inline and the shortest routine, which is its return, in cycles.
USUAL = {
    "6301": ("1 MHz", 1, 5),
    "6303": ("1 MHz", 1, 5),
    "6309": ("3 MHz", 2, 5),
    "6309-native": ("3 MHz", 1, 4),
    "6502": ("1 MHz", 2, 6),
    "65c02": ("2 MHz", 2, 6),
    "6800": ("1 MHz", 2, 5),
    "6801": ("1 MHz", 2, 5),
    "6802": ("1 MHz", 2, 5),
    "6803": ("1 MHz", 2, 5),
    "6808": ("1 MHz", 2, 5),
    "6809": ("2 MHz", 2, 5),
    "68hc11": ("2 MHz", 2, 5),
    "8080": ("2 MHz", 4, 10),
    "8085": ("3 MHz", 4, 10),
    "r65c02": ("2 MHz", 2, 6),
    "w65c02s": ("8 MHz", 2, 6),
    "z180-nowait": ("6.144 MHz", 3, 9),
    "z80": ("4 MHz", 4, 10),
    "z80-m1wait": ("3.579545 MHz", 5, 11),
}
# 1 us, 10 us, 1 ms and 1 s in cycles, rounded up.
CYCLES = {
    "1 MHz": (1, 10, 1000, 1_000_000),
    "2 MHz": (2, 20, 2000, 2_000_000),
    "3 MHz": (3, 30, 3000, 3_000_000),
    "4 MHz": (4, 40, 4000, 4_000_000),
    "8 MHz": (8, 80, 8000, 8_000_000),
    "3.579545 MHz": (4, 36, 3580, 3_579_545),
    "6.144 MHz": (7, 62, 6144, 6_144_000),
}
TIMES = ("1 us", "10 us", "1 ms", "1 s")


def made(cpu: str, time: str, clock: str, **options: object) -> Composition:
    return compose(load(cpu), Wanted(parse_duration(time), time, parse_clock(clock), **options))


def placed(cpu: str, text: str) -> bytes:
    """The bytes of the text."""
    source = parse(f" ORG {START}\n{text}".encode(), "bell", words(load(cpu)))
    program = assemble("bell", load(cpu), reader=lambda _: source)
    assert program.opaque == program.problems == ()
    return bytes(program.code[START + n] for n in range(len(program.code)))


def counted(cpu: str, text: str) -> int:
    """Cycles of the routine the text is."""
    source = parse(f" ORG {START}\n{text}".encode(), "bell", words(load(cpu)))
    (routine,) = count(connect(assemble("bell", load(cpu), reader=lambda _: source))).routines
    assert isinstance(routine.total, Exact)
    return routine.total.cycles


def test_every_processor_has_its_usual_clock_here():
    assert USUAL.keys() | {"z180"} == set(names())


def test_where_nothing_takes_an_exact_time_the_way_out_is_named():
    with pytest.raises(
        ClockhopError, match=r"nothing takes an exact time on the z180 as it starts; state .* z180-nowait"
    ):
        made("z180", "1 ms", "6.144 MHz")


@pytest.mark.parametrize("cpu", USUAL)
@pytest.mark.parametrize("inline", [True, False], ids=["inline", "routine"])
def test_1_us_10_us_1_ms_and_1_s_last_as_long_or_are_refused_for_the_shortest(cpu, inline):
    clock, *shortest = USUAL[cpu]
    least = shortest[not inline]
    for time, cycles in zip(TIMES, CYCLES[clock], strict=True):
        if cycles < least:
            with pytest.raises(
                ClockhopError, match=rf"is {cycles} cycles?: the shortest \w+ is {least} cycle"
            ):
                made(cpu, time, clock, inline=inline)
            continue
        piece = made(cpu, time, clock, inline=inline)
        assert cycles <= piece.cycles <= cycles + 2
        assert piece.longer.seconds == piece.cycles / parse_clock(clock).hz - parse_duration(time).seconds
        assert len(placed(cpu, piece.text)) == piece.size
        if not inline:
            assert counted(cpu, piece.text) == piece.cycles
        # Any time from 10 us up can be hit to the cycle.
        assert piece.cycles == cycles or cycles < 36


@pytest.mark.parametrize("cpu", USUAL)
def test_one_cycle_less_than_the_shortest_is_refused_and_the_shortest_is_made(cpu):
    for inline, least in zip((True, False), USUAL[cpu][1:], strict=True):
        assert made(cpu, f"{least} us", "1 MHz", inline=inline).cycles == least
        if least > 1:
            with pytest.raises(ClockhopError) as refused:
                made(cpu, f"{least - 1} us", "1 MHz", inline=inline)
            what = "piece" if inline else "routine"
            cycles = f"{least - 1} cycle{'s' * (least > 2)}"
            shortest = f"the shortest {what} is {least} cycles, {least} us at 1 MHz"
            assert str(refused.value) == f"{least - 1} us is {cycles}: {shortest}"


# The long search on the z180-nowait finds nothing that the z80 does not.
@pytest.mark.parametrize("cpu", sorted(USUAL.keys() - {"z180-nowait"}))
def test_a_minute_is_made_of_loops_in_loops(cpu):
    clock = USUAL[cpu][0]
    assert (
        made(cpu, "60 s", clock).cycles
        == 60 * CYCLES[clock][3]
        == counted(cpu, made(cpu, "60 s", clock).text)
    )


@pytest.mark.parametrize("cpu", USUAL)
def test_the_executor_takes_10_ms_and_changes_what_is_said(cpu):
    piece = made(cpu, "10 ms", "1 MHz")
    processor = load(cpu)
    code = placed(cpu, piece.text)
    pointer = "SP" if "SP" in processor.registers else "S"
    for fill in (0x00, 0x55, 0xFF):
        # Alike bytes are the return address wherever a stack pointer finds its last byte; one processor adds 1 to it.
        memory = bytearray([0x40]) * 0x10000
        memory[START : START + len(code)] = code
        widths = {name: width for name, width in processor.registers.items() if name not in processor.initial}
        held = {name: fill * 0x101 % (1 << width) for name, width in widths.items()}
        machine = Machine(processor, memory, {**held, pointer: 0xF0, "PC": START})
        before = {name: machine[name] for name in (*processor.registers, *processor.flags)}
        assert machine.run(lambda m: m.counter in (0x4040, 0x4041), 20_000) is Stop.REACHED
        assert machine.fewest == machine.most == piece.cycles == 10_000
        after = {name for name, value in before.items() if machine[name] != value}
        assert after <= {*piece.registers, *piece.flags, pointer, "PC"}


@pytest.mark.parametrize(("cpu", "simulator"), [("6502", Nmos), ("65c02", Cmos)])
@pytest.mark.parametrize(("time", "cycles"), [("10 us", 10), ("1 ms", 1000), ("1 s", 1_000_000)])
def test_an_independent_6502_takes_as_many_cycles(cpu, simulator, time, cycles):
    code = placed(cpu, made(cpu, time, "1 MHz").text)
    other = simulator()
    other.memory[START : START + len(code)] = list(code)
    other.memory[0x1FE:0x200] = list((OUTSIDE - 1).to_bytes(2, "little"))
    other.pc, other.sp = START, 0xFD
    while other.pc != OUTSIDE:
        other.step()
    assert other.processorCycles == cycles


@pytest.mark.parametrize(("time", "cycles"), [("10 us", 20), ("1 ms", 2000), ("50 ms", 100_000)])
def test_an_independent_68hc11_takes_as_many_cycles(time, cycles):
    code = placed("68hc11", made("68hc11", time, "2 MHz").text)
    other = HC11()
    other.mem[START : START + len(code)] = code
    other.mem[0x201:0x203] = OUTSIDE.to_bytes(2, "big")
    other.set_regs(pc=START, sp=0x200)
    before = other.cycles
    while other.pc != OUTSIDE:
        other.step()
    assert other.cycles - before == cycles


@pytest.mark.parametrize(
    # LDX, 2499 turns of LEAX and BNE, RTS for 20 ms.
    ("time", "cycles", "instructions"),
    [("20 ms", 20_000, 5000)],
)
def test_an_independent_6809_goes_the_same_way(time, cycles, instructions):
    """Its count of cycles is wrong: every step is compared, and the cycles are the executor's."""
    piece = made("6809", time, "1 MHz")
    code = placed("6809", piece.text)
    memory = bytearray(0x10000)
    memory[START : START + len(code)] = code
    memory[STACK : STACK + 2] = OUTSIDE.to_bytes(2, "big")
    machine = Machine(load("6809"), memory, {"S": STACK, "PC": START})
    other = other_6809(bytes(memory))
    steps = 0
    while machine.counter != OUTSIDE:
        machine.step()
        other.get_and_call_next_op()
        steps += 1
        assert other.program_counter.value == machine.counter
    assert machine.fewest == piece.cycles == cycles
    assert steps == instructions


def other_6809(memory: bytes) -> Simulator:
    logging.getLogger("MC6809").setLevel(logging.ERROR + 10)
    config = Board({"verbosity": None, "trace": None})
    made = Simulator(Memory(config), config)
    made.memory._mem[:] = type(made.memory._mem)("B", memory)
    zeros = dict.fromkeys(("A", "B", "X", "Y", "U", "DP", "CC", "cycles"), 0)
    made.set_state({**zeros, "S": STACK, "PC": START, "RAM": ()})
    return made


class Board(BaseConfig):
    RAM_START, RAM_END, ROM_START, ROM_END = 0x0000, 0x7FFF, 0x8000, 0xFFFF


def test_20_ms_at_4_mhz_is_one_loop_of_8_bytes_with_its_note():
    piece = made("6309", "20 ms", "4 MHz")
    assert piece.text == (
        "WAIT    LDX     #9999           ; timing: takes 20 ms\n"
        "WAIT1   LEAX    -1,X\n"
        "        BNE     WAIT1\n"
        "        RTS\n"
    )
    assert (piece.cycles, piece.size, piece.registers, piece.flags) == (80_000, 8, ("X",), ("N", "Z", "V"))


def test_a_loop_inline_has_its_own_time_as_note_and_labels_as_its_maker_writes_them():
    # 8 + 7 + 190 turns of 21, less 5 in the last: 4000, of which the loop has 3985.
    assert made("z80", "1 ms", "4 MHz", inline=True, using=("B",), name="TOLL").text == (
        "        NOP\n"
        "        NOP\n"
        "        LD      B,190\n"
        "TOLL1:  NOP                     ; timing: takes 996.25 us\n"
        "        NOP\n"
        "        DJNZ    TOLL1\n"
    )


def test_what_a_nest_leaves_over_is_a_short_loop_where_that_is_less_code():
    piece = made("6502", "60 s", "1 MHz")
    assert (piece.cycles, piece.size) == (60_000_000, 24)


def test_what_no_sum_of_instructions_gives_is_the_least_bit_longer():
    # 4, 6 and 7 T-states there are, but not 5.
    piece = made("z80", "1.25 us", "4 MHz", inline=True)
    assert (piece.cycles, piece.longer.text()) == (6, "250 ns")


def test_only_registers_that_are_named_are_changed():
    assert made("6809", "20 ms", "1 MHz", using=("A", "B")).registers == ("A", "B")
    assert made("6809", "20 ms", "1 MHz", using=("y",)).registers == ("Y",)


def test_more_than_the_registers_count_is_refused_with_what_they_do():
    # 256 turns of DECA, BNE and 64 cycles of pads, and 7 around them.
    with pytest.raises(
        ClockhopError, match=re.escape("is 2000000 cycles: the longest is 8.83 ms within A; name more")
    ):
        made("6809", "1 s", "2 MHz", using=("A",))


@pytest.mark.parametrize("name", ["Q9", "PC", "S", "CC"])
def test_a_register_that_is_none_or_has_another_use_is_refused(name):
    with pytest.raises(ClockhopError, match=f'--using: "{name}" is no register to count in'):
        made("6809", "1 ms", "2 MHz", using=(name,))


@pytest.mark.parametrize("name", ["LDA", "X", "1TOLL", "ORG"])
def test_a_name_that_is_no_label_is_refused(name):
    with pytest.raises(ClockhopError, match=f'--name "{name}" can be no label of the 6809'):
        made("6809", "1 ms", "2 MHz", name=name)


def test_a_branch_whose_cost_depends_on_its_page_is_said():
    assert made("6502", "1 ms", "1 MHz").one_page
    assert not made("6502", "6 us", "1 MHz").one_page
    assert not made("6809", "1 ms", "1 MHz").one_page
