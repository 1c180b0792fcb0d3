"""Addresses that look like a device's, with no part mapped."""

from clockhop.rules import address_unmapped

LAMP = "LAMP EQU $8010\nGO STA LAMP\n LDA LAMP\n STA $9000\n RTS\n"


def test_each_address_is_named_once_with_the_number_of_its_accesses(judge):
    notes = judge(address_unmapped, LAMP)
    assert [note.message for note in notes] == [
        "LAMP ($8010) is accessed by 2 instructions and no part is mapped there",
        "$9000 is accessed by 1 instruction and no part is mapped there",
    ]
    assert [(note.severity, note.subject, note.place.line) for note in notes] == [
        ("note", "LAMP", 2),
        ("note", "$9000", 4),
    ]


def test_a_part_or_an_area_there_is_enough(judge):
    board = "parts: {lamp: {family: output, at: LAMP}}\nmemory: {ram: {from: $9000, to: $90FF, kind: ram}}\n"
    assert judge(address_unmapped, LAMP, board=board) == []


def test_variables_tables_and_page_zero_are_no_devices(judge):
    text = "GO LDA TABLE\n STA CELL\n STA $40\n STA GO\n RTS\nTABLE FCB 1\nCELL RMB 1\n"
    assert judge(address_unmapped, text) == []
