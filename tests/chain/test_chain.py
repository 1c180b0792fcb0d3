"""One build from text to timings, from sources held in memory."""

from pathlib import Path

import pytest
from clockhop.assemble import words
from clockhop.board import read
from clockhop.chain import Request, run, with_room
from clockhop.cpu import load
from clockhop.errors import BoardError, ClockhopError, SourceError
from clockhop.source import parse
from clockhop.timing import Exact, Unknown


def built(text, project=None, **request):
    def reader(path):
        return parse(text.encode(), path, words(load("6809")))

    board = read(project, Path("clockhop.yaml")) if project else None
    return run(Request("tower.asm", "6809", project=board, **request), reader)


def total(chain, name):
    (found,) = [routine.total for routine in chain.timings.routines if routine.entry.name == name]
    return found


def test_a_define_decides_what_is_assembled():
    text = "RING\n        IFEQ FAST\n        NOP\n        NOP\n        ENDC\n        RTS\n"
    # NOP 2, RTS 5.
    assert total(built(text, defines={"FAST": 0}), "RING") == Exact(9)
    assert total(built(text, defines={"FAST": 1}), "RING") == Exact(5)


def test_entries_and_interrupts_of_the_project_are_entries_of_the_program():
    chain = built(
        "MAIN    RTS\nRING    NOP\n        RTS\nTICK    RTI\n",
        "processor: 6809\nentries: [RING]\ninterrupts: {IRQ: {entry: TICK, period: 20 ms}}\n",
    )
    kinds = {entry.name: entry.kind for entry in chain.graph.entries}
    assert kinds == {"RING": "stated", "TICK": "stated", "MAIN": "unreached"}


@pytest.mark.parametrize("vectors", ["", "        ORG $FFF8\n        FDB TICK\n"])
def test_a_count_that_the_handler_in_the_vector_writes_is_not_exact(vectors):
    text = (
        "        ORG   $C000\nWAIT    LDA   #9\n        STA   $40\nAGAIN   DEC   $40\n"
        f"        BNE   AGAIN\n        RTS\nTICK    INC   $40\n        RTI\n{vectors}"
    )
    assert isinstance(total(built(text), "WAIT"), Unknown if vectors else Exact)


def test_parts_and_asked_addresses_are_watched():
    project = "processor: 6809\nparts:\n  striker: {family: output, at: STRIKE}\n"
    chain = built(
        "STRIKE  EQU $8010\nRING    STA STRIKE\n        RTS\n", project, gaps_at=("$9000", "STRIKE")
    )
    assert chain.gaps_at == (("$9000", 0x9000), ("STRIKE", 0x8010))
    assert {0x8010, 0x9000} <= chain.timings.analysis.watched


def test_a_symbol_the_program_does_not_have_is_refused_with_the_place_in_the_project():
    project = "processor: 6809\nparts:\n  striker: {family: output, at: STRIK}\n"
    with pytest.raises(BoardError, match=r'^clockhop.yaml:3:33: unknown symbol "STRIK"; nearest: STRIKE'):
        built("STRIKE  EQU $8010\nRING    RTS\n", project)


def test_an_address_that_is_none_is_refused():
    with pytest.raises(ClockhopError, match=r'^--gaps-at "LAMP": no address and no symbol of tower.asm'):
        built("RING    RTS\n", gaps_at=("LAMP",))


def test_a_text_without_instructions_is_refused():
    with pytest.raises(SourceError, match=r"^tower\.asm: has no statements; name a source file"):
        built("; nothing but a comment\n")
    with pytest.raises(SourceError, match=r"^tower\.asm: has no instruction of the 6809 in 2 statements"):
        built("LAMP    EQU 5\nBELL    EQU 6\n")


def test_there_is_room_for_calls_nested_50_000_deep_and_exceptions_come_back():
    def down(levels):
        return 0 if levels == 0 else 1 + down(levels - 1)

    assert with_room(lambda: down(50_000)) == 50_000
    with pytest.raises(ZeroDivisionError):
        with_room(lambda: 1 // 0)
