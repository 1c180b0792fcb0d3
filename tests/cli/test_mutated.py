"""Source that somebody's editor, disk or cat went over: the commands end with a word, never with a bug."""

import random

import pytest
from clockhop.cli.entry import run
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

SOURCE = b"""\
STATUS  EQU   $8000
STROKE  EQU   $8001
PEAL    MACRO
        LDB   #\\1
LOOP\\@ DECB
        BNE   LOOP\\@
        ENDM
        ORG   $1000
STRIKE  PSHS  A,X       ; timing: takes 1 ms
        LDX   #2500
WAIT    LEAX  -1,X
        BNE   WAIT
        IF    STATUS
        PEAL  10
        ELSE
        PEAL  20
        ENDC
POLL    LDA   STATUS
        BITA  #$02
        BEQ   POLL
        STA   STROKE
        REPT  3
        NOP
        ENDM
        LBSR  REST
        PULS  A,X,PC
REST    LDA   [TABLE,PCR]
        BRA   REST
TABLE   FDB   STRIKE,REST
        FCC   /ding/
        RMB   8
        ORG   $FFFE
        FDB   STRIKE
        END   STRIKE
"""
# Bytes that mean something to somebody: line ends, quotes, brackets, signs, the end of a CP/M file.
PIECES = [
    b"\r",
    b"\n",
    b"\x1a",
    b"\x00",
    b"\x0c",
    b"'",
    b'"',
    b"(",
    b")",
    b"[",
    b"#",
    b"$",
    b"%",
    b"*",
    b"\\",
    b"&",
    b"{",
]
PIECES += [
    b" MACRO\n",
    b" ENDM\n",
    b" REPT 99999999\n",
    b" IF ",
    b" ENDC\n",
    b" ORG ",
    b" PEAL ",
    b" END\n",
    b"9" * 300,
]


def mutated(seed: int, changes: int) -> bytes:
    """The source after some bytes or lines were taken out, doubled, moved or put in."""
    chance = random.Random(seed)
    text = bytearray(SOURCE)
    for _ in range(changes):
        at = chance.randrange(len(text) + 1)
        end = min(len(text), at + chance.choice((1, 1, 2, 5, 20, 200)))
        match chance.randrange(5):
            case 0:
                del text[at:end]
            case 1:
                text[at:at] = text[at:end] * chance.choice((1, 1, 3))
            case 2:
                text[at:at] = chance.choice(PIECES)
            case 3:
                text[at:end] = bytes(chance.randrange(256) for _ in range(end - at))
            case _:
                lines = bytes(text).splitlines(keepends=True)
                chance.shuffle(lines)
                text[:] = b"".join(lines)
    return bytes(text)


@pytest.mark.parametrize("command", ["check", "durations"])
@settings(
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    seed=st.integers(0, 1 << 32),
    changes=st.integers(1, 12),
    cpu=st.sampled_from(["6809", "6502", "z80", "8080"]),
)
def test_a_mutated_source_never_ends_in_a_bug(command, tmp_path, capsys, seed, changes, cpu):
    source = tmp_path / "strike.asm"
    source.write_bytes(mutated(seed, changes))
    status = run([command, str(source), "--cpu", cpu, "--clock", "2MHz"])
    printed = capsys.readouterr()
    assert status in (0, 1, 2)
    assert "bug in clockhop" not in printed.err
    assert (status == 2) == printed.err.startswith("clockhop: ")
