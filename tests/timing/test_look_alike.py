"""Loops that look like waits and are none: each does something that somebody needs, however long it takes."""

from collections.abc import Callable

import pytest
from clockhop.timing import Timings, waits

Timed = Callable[..., Timings]

# What it does, the processor, and a routine of a tower clock that does it.
LOOK_ALIKES = [
    (
        "a division by subtraction",
        "6809",
        "HOUR LDB #-1\nH INCB\n SUBA #12\n BCC H\n ADDA #12\n STB TURN\n RTS\n",
    ),
    (
        "a division by subtraction",
        "6800",
        "HOUR LDAB #255\nH INCB\n SUBA #12\n BCC H\n ADDA #12\n STAB TURN\n RTS\n",
    ),
    (
        "a division by subtraction",
        "6502",
        "HOUR LDX #255\n SEC\nH INX\n SBC #12\n BCS H\n ADC #12\n STX TURN\n RTS\n",
    ),
    (
        "a division by subtraction",
        "z80",
        "HOUR: LD B,255\nT: INC B\n SUB 12\n JR NC,T\n ADD A,12\n LD (TURN),A\n RET\n",
    ),
    (
        "a division of 100 by 12",
        "6809",
        "HOUR LDA #100\n LDB #-1\nH INCB\n SUBA #12\n BCC H\n STB TURN\n RTS\n",
    ),
    (
        "a step over records of a table",
        "6809",
        "ROW LDX #TABLE\nR LEAX 3,X\n DECA\n BNE R\n LDB ,X\n STB TURN\n RTS\n",
    ),
    (
        "a step over five records",
        "6800",
        "ROW LDX #TABLE\n LDAB #5\nR INX\n INX\n DECB\n BNE R\n LDAA 0,X\n STAA TURN\n RTS\n",
    ),
    (
        "a step over five records",
        "z80",
        "ROW: LD HL,TABLE\n LD B,5\nR: INC HL\n INC HL\n DJNZ R\n LD A,(HL)\n LD (TURN),A\n RET\n",
    ),
    (
        "a step over five records",
        "8080",
        "ROW: LXI H,TABLE\n MVI B,5\nR: INX H\n DCR B\n JNZ R\n MOV A,M\n STA TURN\n RET\n",
    ),
    ("the end of a text", "6809", "NAME LDX #TABLE\nN LDA ,X+\n BNE N\n LEAX -1,X\n STX TURN\n RTS\n"),
    ("the end of a text", "6502", "NAME LDY #255\nN INY\n LDA TABLE,Y\n BNE N\n STY TURN\n RTS\n"),
    (
        "the length of a text",
        "z80",
        "NAME: LD HL,TABLE\n LD C,0\nN: LD A,(HL)\n INC HL\n INC C\n OR A\n JR NZ,N\n LD A,C\n"
        " LD (TURN),A\n RET\n",
    ),
    ("a checksum", "6809", "SUM LDX #TABLE\n CLRA\nS ADDA ,X+\n CMPX #TABLE+9\n BNE S\n STA TURN\n RTS\n"),
    ("a checksum", "6502", "SUM LDX #8\n LDA #0\nS CLC\n ADC TABLE,X\n DEX\n BPL S\n STA TURN\n RTS\n"),
    (
        "a checksum",
        "8080",
        "SUM: LXI H,TABLE\n MVI B,9\n XRA A\nS: ADD M\n INX H\n DCR B\n JNZ S\n STA TURN\n RET\n",
    ),
    ("a clear", "6809", "WIPE LDX #$400\nW CLR ,X+\n CMPX #$500\n BNE W\n RTS\n"),
    ("a clear", "6800", "WIPE LDX #$400\nW CLR 0,X\n INX\n CPX #$500\n BNE W\n RTS\n"),
    ("a clear", "6502", "WIPE LDX #0\n TXA\nW STA $400,X\n INX\n BNE W\n RTS\n"),
    ("a clear", "z80", "WIPE: LD HL,$4000\n LD B,0\nW: LD (HL),0\n INC HL\n DJNZ W\n RET\n"),
    ("a copy", "6809", "MOVE LDX #TABLE\n LDU #$400\nM LDA ,X+\n STA ,U+\n CMPX #TABLE+9\n BNE M\n RTS\n"),
    ("a copy", "6502", "MOVE LDY #8\nM LDA TABLE,Y\n STA ($20),Y\n DEY\n BPL M\n RTS\n"),
    (
        "a copy",
        "8080",
        "MOVE: LXI H,TABLE\n LXI D,4000H\n MVI B,9\nM: MOV A,M\n STAX D\n INX H\n INX D\n"
        " DCR B\n JNZ M\n RET\n",
    ),
    ("a copy", "z80", "MOVE: LD HL,TABLE\n LD DE,$4000\n LD BC,9\n LDIR\n RET\n"),
    (
        "a look at the end of memory",
        "6809",
        "SIZE LDX #$C000\n LDD #$55AA\nZ LEAX -4096,X\n STA ,X\n CMPA ,X\n BNE Z\n STB ,X\n"
        " CMPB ,X\n BNE Z\n STX TURN\n RTS\n",
    ),
    (
        "a scan of keys",
        "6809",
        "KEYS LDB #$FE\nK STB ROWS\n LDA COLUMNS\n CMPA #$FF\n BNE FOUND\n ORCC #1\n ROLB\n"
        " BCS K\nFOUND STA TURN\n RTS\n",
    ),
    (
        "a scan of keys",
        "6502",
        "KEYS LDX #8\n LDA #$FE\nK STA ROWS\n LDY COLUMNS\n SEC\n ROL A\n DEX\n BNE K\n STY TURN\n RTS\n",
    ),
    (
        "a scan of keys",
        "z80",
        "KEYS: LD BC,$FE10\nK: IN A,(C)\n CPL\n AND $1F\n JR NZ,FOUND\n RLC B\n JR C,K\n"
        "FOUND: LD (TURN),A\n RET\n",
    ),
    (
        "a byte out bit by bit",
        "6809",
        "SEND LDB #8\nS LSRA\n BCC ZERO\n STB ROWS\n BRA NEXT\nZERO STB COLUMNS\nNEXT DECB\n BNE S\n RTS\n",
    ),
    ("a byte in bit by bit", "6800", "GET LDAB #8\nG LDAA COLUMNS\n LSRA\n ROR TURN\n DECB\n BNE G\n RTS\n"),
    (
        "a byte in bit by bit",
        "8080",
        "GET: MVI B,8\nG: IN 10H\n RAR\n MOV A,C\n RAR\n MOV C,A\n DCR B\n JNZ G\n STA TURN\n RET\n",
    ),
    (
        "a shift of a number on the stack",
        "6809",
        "HALF PSHS A\n LDB #3\nF ASR ,S\n DECB\n BNE F\n PULS A\n STA TURN\n RTS\n",
    ),
    ("a shift by three places", "6502", "HALF LDX #3\nF LSR A\n DEX\n BNE F\n STA TURN\n RTS\n"),
    (
        "a multiplication by adding",
        "6800",
        "FIVE LDAB #5\n CLRA\nF ADDA #12\n DECB\n BNE F\n STAA TURN\n RTS\n",
    ),
    (
        "the bits of a byte, counted",
        "z80",
        "ONES: LD B,8\n LD C,0\nO: RRCA\n JR NC,NONE\n INC C\nNONE: DJNZ O\n LD A,C\n LD (TURN),A\n RET\n",
    ),
]


def tower(code: str, cpu: str) -> str:
    """A program that calls the routine and uses what it leaves."""
    name = code.split()[0].rstrip(":")
    is_zilog = cpu in ("z80", "8080")
    load, jump = ("LD A,(TURN)", "JP") if cpu == "z80" else ("LDA TURN", "JMP")
    load = "LDAA TURN" if cpu == "6800" else load
    mark = ":" if is_zilog else ""
    byte = "DB" if is_zilog else "FCB" if cpu.startswith("68") else ".BYTE"
    call = "CALL" if is_zilog else "JSR"
    names = "ROWS EQU 32784\nCOLUMNS EQU 32785\nTURN EQU 48\n"
    start = f" ORG 4096\nMAIN{mark} {call} {name}\n {load}\n {jump} MAIN\n"
    return names + start + code + f"TABLE{mark} {byte} 1,2,3,4,5,6,7,8,0\n END MAIN\n"


@pytest.mark.parametrize(
    ("cpu", "code"), [pytest.param(cpu, code, id=f"{what} {cpu}") for what, cpu, code in LOOK_ALIKES]
)
def test_what_works_is_no_wait(timed: Timed, cpu: str, code: str) -> None:
    timings = timed(tower(code, cpu), cpu)
    assert [(wait.kind, wait.name) for wait in waits(timings)] == []
