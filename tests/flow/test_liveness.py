"""What may still be read behind a routine, where others than the calls in the text come back from it."""

from collections.abc import Callable

import pytest
from clockhop.assemble import assemble, words
from clockhop.cpu import load
from clockhop.flow import connect, liveness
from clockhop.source import parse

Live = Callable[..., Callable[[int], frozenset[str]]]


@pytest.fixture(scope="session")
def live() -> Live:
    """What is live behind the instruction in a line."""

    def read(text: str, cpu: str, opaque: int = 0) -> Callable[[int], frozenset[str]]:
        processor = load(cpu)
        program = assemble(
            "tower.asm", processor, reader=lambda path: parse(text.encode(), path, words(processor))
        )
        assert len(program.opaque) == opaque
        found = liveness(connect(program))
        lines = {instruction.origin.line: instruction.index for instruction in program.instructions}
        return lambda line: found.after[lines[line]]

    return read


def test_behind_a_balanced_routine_only_what_its_caller_reads_is_live(live: Live) -> None:
    text = """\
        ORG   $E000
START   LDB   #5
        JSR   STRIKE
        LDB   #7
        JSR   STRIKE
        BRA   START
STRIKE  PSHS  A
        LDA   #1
        STA   $8000
        PULS  A
        RTS
        ORG   $FFFE
        FDB   START
"""
    assert not live(text, "6809")(11) & {"B", "X", "Y", "U"}


def test_an_address_pushed_for_a_return_can_lead_anywhere(live: Live) -> None:
    # RING reads X and Y; STRIKE never names it in a jump.
    text = """\
        ORG $E000
START   LDX #16
        LDY #32
        JSR STRIKE
        JMP START
STRIKE  LDA TABLE+1
        PHA
        LDA TABLE
        PHA
        RTS
TABLE   .WORD RING-1
RING    STX $50
        STY $51
        RTS
        ORG $FFFC
        .WORD START
"""
    assert live(text, "6502")(10) >= {"A", "X", "Y"}
    assert live(text, "6502")(3) >= {"X", "Y"}


@pytest.mark.parametrize(
    ("cpu", "text", "line"),
    [
        (
            "6809",
            """\
        JSR   OUTER
        STA   $50
HERE    BRA   HERE
OUTER   JSR   INNER
        LDA   #7
        RTS
INNER   LEAS  2,S
        RTS
""",
            8,
        ),
        (
            "6800",
            """\
        JSR   OUTER
        STAA  $50
HERE    BRA   HERE
OUTER   JSR   INNER
        LDAA  #7
        RTS
INNER   INS
        INS
        RTS
""",
            9,
        ),
        (
            "z80",
            """\
        CALL  OUTER
        LD    (50H),A
HERE:   JR    HERE
OUTER:  CALL  INNER
        LD    A,7
        RET
INNER:  POP   DE
        RET
""",
            8,
        ),
    ],
)
def test_a_routine_that_drops_its_return_address_comes_back_further_up(live: Live, cpu, text, line) -> None:
    # Behind INNER's return is line 2, which reads A; line 5 would have written it first.
    assert "A" in live(text, cpu)(line)


def test_a_return_address_that_is_written_over_leads_elsewhere(live: Live) -> None:
    text = """\
START   CALL  SWAP
        LD    A,1
        JP    START
SWAP    EX    (SP),HL
        RET
"""
    assert live(text, "z80")(5) >= {"A", "B"}


def test_a_jump_that_leaves_an_address_on_the_stack_makes_the_other_routine_return_there(live: Live) -> None:
    text = """\
START   JSR   FIRST
        JSR   STRIKE
        CLRB
        BRA   START
FIRST   LDX   #NEXT
        PSHS  X
        JMP   STRIKE
STRIKE  LDA   #1
        RTS
NEXT    STB   $50
        RTS
"""
    assert "B" in live(text, "6809")(9)


def test_a_routine_in_a_table_is_called_from_where_the_text_does_not_tell(live: Live) -> None:
    text = """\
        ORG   $E000
START   JSR   STRIKE
        LDB   #7
        LDX   #TABLE
        JSR   [,X]
        STB   $50
        BRA   START
STRIKE  LDA   #1
        RTS
TABLE   FDB   STRIKE
        ORG   $FFFE
        FDB   START
"""
    assert "B" in live(text, "6809")(9)
    plain = text.replace("FDB   STRIKE", "FDB   0")
    assert "B" not in live(plain, "6809")(9)


def test_a_routine_called_before_a_text_comes_back_to_what_is_not_known(live: Live) -> None:
    text = """\
START   JSR   PRINT
        FCC   /TOLL/
        STB   $50
        JSR   PRINT
        CLRB
        BRA   START
PRINT   LDA   #1
        RTS
"""
    assert "B" in live(text, "6809")(8)


def test_a_register_that_a_handler_keeps_for_itself_is_live_everywhere(live: Live) -> None:
    # X is the handler's own pointer; A and Y it saves and puts back.
    text = """\
        ORG $E000
START   LDX #16
        LDY #1
LOOP    LDA #1
        STA $8000
        JMP LOOP
TICK    PHA
        TYA
        PHA
        LDA $8001
        STA $0200,X
        DEX
        LDY #5
        PLA
        TAY
        PLA
        RTI
        ORG $FFFA
        .WORD TICK
        .WORD START
"""
    assert live(text, "6502")(5) & {"A", "X", "Y"} == {"X"}


def test_a_line_that_was_not_understood_may_read_everything(live: Live) -> None:
    text = """\
START   LDB   #10
        LDA   #1
        STA   $8000
        FROB  B
        LDB   #1
        JSR   STRIKE
        FROB  B
        LDB   #2
        BRA   START
STRIKE  CLRA
        RTS
"""
    found = live(text, "6809", opaque=2)
    assert "B" in found(3)
    assert "B" in found(11)
    assert "B" not in live(text.replace("FROB  B", "NOP"), "6809")(3)


@pytest.mark.parametrize("word", ["XDEF", "EXPORT", "PUBLIC"])
def test_a_routine_that_other_files_are_told_of_is_called_from_there_too(live: Live, word: str) -> None:
    text = f"""\
        {word}  STRIKE
START   JSR   STRIKE
        LDB   #1
        BRA   START
STRIKE  LDA   #1
        RTS
        END   START
"""
    assert "B" in live(text, "6809")(6)
    assert "B" not in live(text.replace("  STRIKE\n", "  OTHER\n", 1), "6809")(6)
