"""Programs of any length for the benchmarks: routines of a bell tower, each with names of its own."""

from collections.abc import Iterator

ROUTINE = """\
* The hammer of bell {n}: wait for the arm, strike, let it swing
HAMR{n} PSHS  B,X
        LDX   #TABLE
        LDB   #{turns}
WAIT{n} DECB              ; the arm comes up
        BNE   WAIT{n}
        LDA   ,X+
        BEQ   DONE{n}
        STA   STROKE
        LDX   #{long}
LONG{n} LEAX  -1,X
        BNE   LONG{n}
POLL{n} LDA   STATUS
        BITA  #$02
        BEQ   POLL{n}
        LDA   COUNT
        ADDA  #{step}
        STA   COUNT
        CMPA  #60
        BLO   DONE{n}
        CLR   COUNT
        LBSR  HAMR{other}
DONE{n} PULS  B,X,PC

"""
LINES = ROUTINE.count("\n")
_HEAD = """\
STROKE  EQU   $8001
STATUS  EQU   $8000
        ORG   $0040
COUNT   RMB   1
        ORG   $0100
TABLE   FCB   1,2,3,0
"""
_PER_PAGE = 1000  # routines before the next bank begins at the same address

PROJECT = """\
processor: 6309
clocks: [1 MHz, 2 MHz]
written_for: 1 MHz
parts:
  striker: {family: 6850, at: $8000}
"""


def lines_of(lines: int) -> str:
    """A program of about that many lines."""
    return "".join(_parts(max(1, lines // LINES)))


def _parts(routines: int) -> Iterator[str]:
    yield _HEAD
    for n in range(routines):
        if n % _PER_PAGE == 0:
            yield "        ORG   $1000\n"
        other = n - 1 if n % 7 else n
        text = ROUTINE if other != n else ROUTINE.replace("        LBSR  HAMR{other}\n", "        NOP\n")
        yield text.format(n=n, turns=n % 250 + 1, long=n % 9000 + 100, step=n % 9 + 1, other=other)
    yield "        END   HAMR0\n"
