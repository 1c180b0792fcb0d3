"""Two bytes that a program makes a word of, though the processor does not; the carry may be found in any way."""

from collections.abc import Callable

import pytest
from clockhop.timing import Exact, Total
from py65.devices.mpu6502 import MPU

Routine = Callable[..., Total]

LOAD = " .org $0400\nW LDA #<{n}\n STA $20\n LDA #>{n}\n STA $21\n"
BRANCHED = LOAD + "T LDA $20\n BNE U\n DEC $21\nU DEC $20\n LDA $20\n ORA $21\n BNE T\n RTS\n"
BORROWED = LOAD + "T LDA $20\n SEC\n SBC #1\n STA $20\n LDA $21\n SBC #0\n STA $21\n ORA $20\n BNE T\n RTS\n"
LEFT_INSIDE = LOAD + "T LDA $20\n BNE U\n LDA $21\n BEQ X\n DEC $21\nU DEC $20\n JMP T\nX RTS\n"
REGISTERS = " .org $0400\nW LDX #<{n}\n LDY #>{n}\nT TXA\n BNE U\n DEY\nU DEX\n BNE T\n TYA\n BNE T\n RTS\n"


@pytest.mark.parametrize(
    ("text", "cycles"),
    [
        # 10; a turn 20, and 4 more where the low byte is 0: at 768, 512 and 256; the last branch 1 less; 6
        (BRANCHED, 10 + 1000 * 20 + 3 * 4 - 1 + 6),
        # a turn 24
        (BORROWED, 10 + 1000 * 24 - 1 + 6),
        # a turn 14, and 9 more three times; 11 the last time
        (LEFT_INSIDE, 10 + 1000 * 14 + 3 * 9 + 11 + 6),
    ],
    ids=["branched", "borrowed", "left inside"],
)
def test_a_countdown_of_1000_in_page_zero(routine: Routine, text: str, cycles: int) -> None:
    assert routine(text.format(n=1000), "W", cpu="6502") == Exact(cycles)


@pytest.mark.parametrize("count", [1, 255, 256, 257, 1791])
@pytest.mark.parametrize("text", [BRANCHED, BORROWED, LEFT_INSIDE, REGISTERS])
def test_an_independent_6502_takes_as_long(routine: Routine, text: str, count: int) -> None:
    total = routine(text.format(n=count), "W", cpu="6502")
    simulator = MPU()
    code = {
        BRANCHED: "a5 20 d0 02 c6 21 c6 20 a5 20 05 21 d0 f2",
        BORROWED: "a5 20 38 e9 01 85 20 a5 21 e9 00 85 21 05 20 d0 ef",
        LEFT_INSIDE: "a5 20 d0 06 a5 21 f0 07 c6 21 c6 20 4c 08 04",
        REGISTERS: "8a d0 01 88 ca d0 f9 98 d0 f6",
    }[text]
    low, high = count & 255, count >> 8
    load = f"a2 {low:02x} a0 {high:02x}" if text is REGISTERS else f"a9 {low:02x} 85 20 a9 {high:02x} 85 21"
    for address, byte in enumerate(bytes.fromhex(f"{load} {code} 60"), 0x400):
        simulator.memory[address] = byte
    simulator.pc, simulator.sp = 0x400, 0xF0
    while simulator.pc != 1:
        simulator.step()
    assert total == Exact(simulator.processorCycles)


@pytest.mark.parametrize(
    ("cpu", "text", "cycles"),
    [
        # 2 + 4 + 2 + 4; a turn LDAA 3, SUBA 2, STAA 4, LDAA 3, SBCA 2, STAA 4, ORAA 3, BNE 4; 5
        (
            "6800",
            "W LDAA #$E8\n STAA $21\n LDAA #3\n STAA $20\nT LDAA $21\n SUBA #1\n STAA $21\n LDAA $20\n"
            " SBCA #0\n STAA $20\n ORAA $21\n BNE T\n RTS\n",
            12 + 1000 * 25 + 5,
        ),
        # 10; a turn 5 + 7 + 5 + 5 + 7 + 5 + 4 + 10; 10
        (
            "8080",
            "W: LXI H,1000\nT: MOV A,L\n SUI 1\n MOV L,A\n MOV A,H\n SBI 0\n MOV H,A\n ORA L\n JNZ T\n RET\n",
            10 + 1000 * 48 + 10,
        ),
        # 10; LD 4, OR 4, JR 12 or 7 and DEC 4, one less, DEC 4, LD 4, OR 4, JR 12, the last 7; 10
        (
            "z80",
            "W: LD DE,1000\nT: LD A,E\n OR A\n JR NZ,U\n DEC D\nU: DEC E\n LD A,D\n OR E\n JR NZ,T\n RET\n",
            10 + 1000 * 44 - 3 * 1 - 5 + 10,
        ),
    ],
    ids=["6800", "8080", "z80"],
)
def test_the_same_on_other_processors(routine: Routine, cpu: str, text: str, cycles: int) -> None:
    assert routine(text, "W", cpu=cpu) == Exact(cycles)
