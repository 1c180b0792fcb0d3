"""Registers on the processor's own chip: devices without a line in the project file, and no memory of the program's."""

from clockhop.rules import address_unmapped, never_ends, trips_unknown

TIMER = """\
TCSR    EQU   {at}
STRIKE  LDAA  #$08
        STAA  TCSR
        LDAA  TCSR
        ANDA  #$40
        BEQ   STRIKE
        RTS
"""
PORTS = """\
STRIKE  LD    A,{icr}
        OUT0  (3FH),A
READY   IN0   A,({at})
        RLA
        JR    NC,READY
        RET
"""


def reasons(judge, text, cpu, board=""):
    assert judge(never_ends, text, cpu=cpu, board=board) == []
    assert judge(address_unmapped, text, cpu=cpu, board=board) == []
    return [note.message.partition("; ")[0] for note in judge(trips_unknown, text, cpu=cpu, board=board)]


def test_a_timer_register_changes_by_itself(judge):
    waited = ["STRIKE: loops until what is read at TCSR changes"]
    for cpu, at in (("6801", "$08"), ("6803", "$1F"), ("6301", "$08"), ("6303", "$08"), ("68hc11", "$103F")):
        assert reasons(judge, TIMER.format(at=at), cpu) == waited
    # named by a reservation, as many sources do
    reserved = TIMER.format(at="0").replace("TCSR    EQU   0\n", " ORG 8\nTCSR RMB 1\n ORG $8000\n")
    assert reasons(judge, reserved, "6803") == waited


def test_what_lies_beyond_the_registers_is_memory(judge):
    for cpu, at in (("6803", "$20"), ("6800", "$08"), ("68hc11", "$08")):
        (finding,) = judge(never_ends, TIMER.format(at=at), cpu=cpu)
        assert finding.message == "STRIKE never ends: its exit test fails in every turn"
    (note,) = judge(address_unmapped, TIMER.format(at="$1040"), cpu="68hc11")
    assert note.subject == "TCSR"


def test_memory_of_the_project_file_goes_before_them(judge):
    board = "memory: {ram: {from: $0000, to: $00FF, kind: ram}}\n"
    (finding,) = judge(never_ends, TIMER.format(at="$08"), cpu="6803", board=board)
    assert finding.subject == "STRIKE"


def test_a_part_of_the_project_file_goes_before_them(case):
    board = "parts: {chip: {family: 6801io, at: $0000}}\n"
    made = case(TIMER.format(at="$08"), cpu="6803", board=board)
    assert [(site.access.way, site.access.address) for site in made.timings.sites()] == [
        ("write", 8),
        ("read", 8),
    ]
    assert case(TIMER.format(at="$08"), cpu="6803").timings.sites() == ()


def test_ports_inside_are_where_reset_or_the_program_puts_them(judge):
    assert reasons(judge, PORTS.format(icr="0", at="04H"), "z180") == [
        "READY: loops until what is read at io:$04 changes"
    ]
    assert reasons(judge, PORTS.format(icr="0C0H", at="0C4H"), "z180") == [
        "READY: loops until what is read at io:$C4 changes"
    ]
    (note,) = judge(address_unmapped, PORTS.format(icr="0C0H", at="44H"), cpu="z180")
    assert note.message == "io:$44 is accessed by 1 instruction and no part is mapped there"


def test_a_constant_stored_to_init_takes_the_registers_of_a_68hc11_along(judge):
    moved = "START   LDAA  #$B5\n        STAA  $103D\n"
    indexed = "START   LDX   #$1000\n        LDAA  #$B5\n        STAA  $3D,X\n"
    waited = ["STRIKE: loops until what is read at TCSR changes"]
    for lead in (moved, indexed):
        assert reasons(judge, lead + TIMER.format(at="$503F"), "68hc11") == waited
        assert reasons(judge, lead + TIMER.format(at="$103F"), "68hc11") == waited
    # from memory, as no text says what it holds
    (note,) = judge(address_unmapped, moved.replace("#$B5", "$20") + TIMER.format(at="$503F"), cpu="68hc11")
    assert note.subject == "TCSR"
