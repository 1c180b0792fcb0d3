"""Old and new programs, assembled by an independent assembler and run in an independent simulator, last as claimed.

Most assemblers and the Z80's simulator are packages of Debian; where one is missing its test is skipped and says so.
"""

import ctypes
import ctypes.util
import logging
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from m68hc11 import HC11
from MC6809.components.cpu6809 import CPU as Simulator
from MC6809.components.memory import Memory
from MC6809.core.configs import BaseConfig
from py65.devices.mpu6502 import MPU

START, OUTSIDE, STACK = 0x1000, 0x4000, 0x01F0
Z80EX = ctypes.util.find_library("z80ex")
# MC6809-MC6809E Microprocessor Programming Manual, appendix A; LEAX and LEAU with an offset of 5 bits are 4 and 1 more,
# ,U without offset 4.
CYCLES_6809 = {
    0x8E: 3,
    0xC6: 2,
    0x5A: 2,
    0x26: 3,
    0x39: 5,
    0x12: 2,
    0x1A: 3,
    0x1C: 3,
    0x1E: 8,
    0x33: 4,
    0x30: 5,
}


@dataclass(frozen=True)
class Witness:
    """A processor, a wait, what it lasts at 1 MHz and at `clock`, and who assembles and runs it.

    `beside` are cycles of the program that are none of the wait's.
    """

    cpu: str
    package: str
    program: str
    text: str
    old_cycles: int
    new_cycles: int
    new_lines: tuple[str, ...]
    assembled: Callable[[str, Path], bytes]
    cycles: Callable[[bytes], int]
    clock: str = "2 MHz"
    beside: int = 0


def run(folder: Path, *command: str) -> None:
    subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True)


def by_xa(text: str, folder: Path) -> bytes:
    (folder / "tower.s").write_text(text.replace("ORG  ", "*=   "))
    # A colon in a comment would begin another statement without -M.
    run(folder, "xa", "-M", "-o", "tower.bin", "tower.s")
    return (folder / "tower.bin").read_bytes()


def by_z80asm(text: str, folder: Path) -> bytes:
    (folder / "tower.s").write_text(text.lower())
    run(folder, "z80asm", "-o", "tower.bin", "tower.s")
    return (folder / "tower.bin").read_bytes()


def by_gnu(text: str, folder: Path) -> bytes:
    body = text.replace("        ORG   $1000\n", "")
    (folder / "tower.s").write_text("".join(labelled(line) for line in body.splitlines()))
    run(folder, "m68hc11-as", "-m68hc11", "-o", "tower.o", "tower.s")
    run(folder, "m68hc11-objcopy", "-O", "binary", "-j", ".text", "tower.o", "tower.bin")
    return (folder / "tower.bin").read_bytes()


def by_python(text: str, folder: Path) -> bytes:
    body = text.replace("        ORG   $1000\n", "")
    lines = "".join(labelled(line).replace(": ", ":\n") for line in body.splitlines())
    (folder / "tower.s").write_text(f"._CPU = 6809\n0x1000:\n{lines}")
    package = pytest.importorskip("opcodetools.assembler.assembler")
    made = package.Assembler(str(folder / "tower.s"))
    made.assemble()
    return bytes(byte for line in made.code for byte in line.get("data") or [])


def labelled(line: str) -> str:
    """The line with a colon behind its label and no comment."""
    code = line.partition(";")[0].rstrip()
    label, _, rest = code.partition(" ")
    return f"{label}: {rest.strip()}\n" if label else f"  {rest.strip()}\n"


def on_6502(code: bytes) -> int:
    other = MPU()
    other.memory[START : START + len(code)] = list(code)
    other.memory[0x1FE:0x200] = list((OUTSIDE - 1).to_bytes(2, "little"))
    other.pc, other.sp = START, 0xFD
    while other.pc != OUTSIDE:
        other.step()
    return int(other.processorCycles)


def on_68hc11(code: bytes) -> int:
    other = HC11()
    other.mem[START : START + len(code)] = code
    other.mem[0x201:0x203] = OUTSIDE.to_bytes(2, "big")
    other.set_regs(pc=START, sp=0x200)
    before = other.cycles
    while other.pc != OUTSIDE:
        other.step()
    return int(other.cycles - before)


class Board(BaseConfig):
    RAM_START, RAM_END, ROM_START, ROM_END = 0x0000, 0x7FFF, 0x8000, 0xFFFF


def on_6809(code: bytes) -> int:
    """Its own count of cycles is wrong: those of the manual are added along the way it goes."""
    logging.getLogger("MC6809").setLevel(logging.ERROR + 10)
    memory = bytearray(0x10000)
    memory[START : START + len(code)] = code
    memory[STACK : STACK + 2] = OUTSIDE.to_bytes(2, "big")
    config = Board({"verbosity": None, "trace": None})
    other = Simulator(Memory(config), config)
    other.memory._mem[:] = type(other.memory._mem)("B", bytes(memory))
    zeros = dict.fromkeys(("A", "B", "X", "Y", "U", "DP", "CC", "cycles"), 0)
    other.set_state({**zeros, "S": STACK, "PC": START, "RAM": ()})
    cycles = 0
    while other.program_counter.value != OUTSIDE:
        cycles += CYCLES_6809[memory[other.program_counter.value]]
        other.get_and_call_next_op()
    return cycles


def on_z80(code: bytes) -> int:
    memory = bytearray(0x10000)
    memory[START : START + len(code)] = code
    memory[STACK : STACK + 2] = OUTSIDE.to_bytes(2, "little")
    library = ctypes.CDLL(Z80EX)
    pointer, byte, word = ctypes.c_void_p, ctypes.c_uint8, ctypes.c_uint16
    read = ctypes.CFUNCTYPE(byte, pointer, word, ctypes.c_int, pointer)(lambda _c, at, _m, _d: memory[at])
    write = ctypes.CFUNCTYPE(None, pointer, word, byte, pointer)(
        lambda _c, at, value, _d: memory.__setitem__(at, value)
    )
    port = ctypes.CFUNCTYPE(byte, pointer, word, pointer)(lambda *_: 0)
    vector = ctypes.CFUNCTYPE(byte, pointer, pointer)(lambda *_: 0)
    library.z80ex_create.restype = pointer
    machine = pointer(library.z80ex_create(read, None, write, None, port, None, write, None, vector, None))
    program_counter, stack_pointer = 10, 11
    library.z80ex_set_reg(machine, program_counter, word(START))
    library.z80ex_set_reg(machine, stack_pointer, word(STACK))
    library.z80ex_get_reg.restype = word
    cycles = 0
    while library.z80ex_get_reg(machine, program_counter) != OUTSIDE:
        cycles += library.z80ex_step(machine)
    library.z80ex_destroy(machine)
    return cycles


WITNESSES = (
    # 2 + 200 * 5 - 1 + 6; and at twice the clock 2 + 223 * 9 - 1 + 6.
    Witness(
        "6502",
        "xa65",
        "xa",
        "        ORG   $1000\nPAUSE   LDX   #200\nP1      DEX\n        BNE   P1\n        RTS\n",
        1007,
        2014,
        ("PAUSE   LDX   #223", "        NOP", "        NOP"),
        by_xa,
        on_6502,
    ),
    # 7 + 200 * 13 - 5 + 10; 7 + 249 * 21 - 5 + 10.
    Witness(
        "z80",
        "z80asm",
        "z80asm",
        "        ORG   1000H\nPAUSE:  LD    B,200\nP1:     DJNZ  P1\n        RET\n",
        2612,
        5241,
        ("PAUSE:  LD    B,249", "P1:     NOP", "        NOP", "        DJNZ  P1"),
        by_z80asm,
        on_z80,
    ),
    # 2 + 200 * 5 + 5; 2 + 223 * 9 + 5.
    Witness(
        "6809",
        "",
        "",
        "        ORG   $1000\nPAUSE   LDB   #200\nP1      DECB\n        BNE   P1\n        RTS\n",
        1007,
        2014,
        ("PAUSE   LDB   #223", "        LEAU  ,U"),
        by_python,
        on_6809,
    ),
    # 2 + 200 * 5 + 5; 2 + 223 * 9 + 5.
    Witness(
        "68hc11",
        "binutils-m68hc1x",
        "m68hc11-as",
        "        ORG   $1000\nPAUSE   LDAB  #200\nP1      DECB\n        BNE   P1\n        RTS\n",
        1007,
        2014,
        ("PAUSE   LDAB  #223", "        NOP", "        NOP"),
        by_gnu,
        on_68hc11,
    ),
    # At eight times the clock with an outer level: 2 + 50 * (2 + 31 * 5 - 1 + 5) - 1 + 6. JSR and RTS are 6, LDY # 2.
    Witness(
        "6502",
        "xa65",
        "xa",
        "        ORG   $1000\n        JSR   PAUSE\n        LDY   #0\n        RTS\n"
        "PAUSE   LDX   #200\nP1      DEX\n        BNE   P1\n        RTS\n",
        1007,
        8057,
        ("PAUSE   LDY   #50", "PAUSE1  LDX   #31", "        DEY", "        BNE   PAUSE1"),
        by_xa,
        on_6502,
        "8 MHz",
        14,
    ),
    # 7 + 8 * (7 + 200 * 13 - 5 + 4 + 12) - 5 + 10. CALL is 17, OR A 4, LD C 7, RET 10.
    Witness(
        "z80",
        "z80asm",
        "z80asm",
        "        ORG   1000H\n        CALL  PAUSE\n        OR    A\n        LD    C,0\n        RET\n"
        "PAUSE:  LD    B,200\nP1:     DJNZ  P1\n        RET\n",
        2612,
        20956,
        ("PAUSE:  LD    C,8", "PAUSE1: LD    B,200", "        DEC   C", "        JR    NZ,PAUSE1"),
        by_z80asm,
        on_z80,
        "8 MHz",
        38,
    ),
    # 2 + 16 * (2 + 200 * 5 + 2 + 3) + 5. BSR is 6, CLRA 2, RTS 5.
    Witness(
        "68hc11",
        "binutils-m68hc1x",
        "m68hc11-as",
        "        ORG   $1000\n        BSR   PAUSE\n        CLRA\n        RTS\n"
        "PAUSE   LDAB  #200\nP1      DECB\n        BNE   P1\n        RTS\n",
        1007,
        16119,
        ("PAUSE   LDAA  #16", "PAUSE1  LDAB  #200", "        DECA", "        BNE   PAUSE1"),
        by_gnu,
        on_68hc11,
        "16 MHz",
        13,
    ),
)


@pytest.mark.parametrize("witness", WITNESSES, ids=lambda witness: f"{witness.cpu} at {witness.clock}")
def test_old_and_new_last_as_long_in_an_independent_simulator(mend, tmp_path, witness):
    if witness.program and shutil.which(witness.program) is None:
        pytest.skip(f"Debian's {witness.package} is not installed")
    if witness.cpu == "z80" and Z80EX is None:
        pytest.skip("Debian's libz80ex1 is not installed")
    mended = mend(witness.text, witness.clock, "1 MHz", cpu=witness.cpu, states=0)
    (made,) = mended.plan.mends
    assert made.evidence.grade == "proved"
    assert made.result.startswith(f"{witness.new_cycles} cycles, ")
    lines = [line.partition("; timing")[0].rstrip() for line in mended.text.splitlines()]
    assert [line for line in lines if line not in witness.text.splitlines()] == [*witness.new_lines]
    assert witness.cycles(witness.assembled(witness.text, tmp_path)) == witness.old_cycles + witness.beside
    assert witness.cycles(witness.assembled(mended.text, tmp_path)) == witness.new_cycles + witness.beside
