"""Which conditions of an instruction depend on where it lies."""

from clockhop.cpu import Action, Value, elsewhere, load, varying

ADDRESS = frozenset({"a16"})


def action(cpu: str, mnemonic: str, pattern: str, address: int, **fields: Value) -> Action:
    processor = load(cpu)
    return next(
        processor.bind(row, variant, fields, address)
        for row in processor.mnemonics[mnemonic]
        for variant in row.form.variants
        if variant.pattern == pattern
    )


def test_whether_a_branch_goes_to_another_page_depends_on_its_place() -> None:
    bne = action("6502", "BNE", "rel8", 0x0210, rel8=0x0208)
    assert varying(load("6502"), bne, frozenset()) == {"other_page"}
    # It lies within a page here; 238 bytes further on what follows is in the next page.
    assert any(moved.by == 0xEE for moved in elsewhere(load("6502"), bne, frozenset()))


def test_a_branch_to_the_next_instruction_stays_in_its_page_anywhere() -> None:
    bne = action("6502", "BNE", "rel8", 0x0210, rel8=0x0212)
    assert varying(load("6502"), bne, frozenset()) == frozenset()


def test_a_table_crosses_a_page_by_its_place_only_where_it_moves_along() -> None:
    lda = action("6502", "LDA", "a16,X", 0x0210, a16=0x02F0)
    assert varying(load("6502"), lda, ADDRESS) == {"crossed"}
    assert varying(load("6502"), lda, frozenset()) == frozenset()


def test_a_processor_without_pages_costs_the_same_anywhere() -> None:
    assert varying(load("6809"), action("6809", "BNE", "rel8", 0x0210, rel8=0x0208), ADDRESS) == frozenset()
    lda = action("6809", "LDA", "a16", 0x0210, a16=0x02F0)
    assert varying(load("6809"), lda, ADDRESS) == frozenset()


def test_a_restart_of_the_z80_costs_the_same_everywhere():
    assert varying(load("z80"), action("z80", "RST", "m6", 0x0210, m6=8), ADDRESS) == frozenset()
