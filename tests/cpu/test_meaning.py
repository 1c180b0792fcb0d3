from clockhop.cpu import Assign, Binary, If, Load, Number, Register, Store, Temp, effects

A = Register("A", 8, (("A", 8),))
X = Register("X", 16, (("X", 16),))
D = Register("D", 16, (("A", 8), ("B", 8)))


def test_a_view_reads_and_writes_what_it_is_made_of() -> None:
    found = effects((Assign(D, X),))
    assert found.reads == {"X"}
    assert found.writes == {"A", "B"}
    assert found.surely == {"A", "B"}


def test_a_register_read_after_its_own_write_is_not_read() -> None:
    assert effects((Assign(A, Number(1)), Store(Number(0), 1, A))).reads == frozenset()
    assert effects((Store(Number(0), 1, A), Assign(A, Number(1)))).reads == {"A"}


def test_a_write_on_one_of_two_paths_is_not_sure() -> None:
    found = effects((If(X, (Assign(A, Number(1)),)),))
    assert found.writes == {"A"}
    assert found.surely == frozenset()


def test_an_address_reads_its_registers() -> None:
    meaning = (Assign(Temp("ea"), Binary("+", X, Number(2))), Assign(A, Load(Temp("ea"), 1)))
    assert effects(meaning).reads == {"X"}


def test_a_register_against_itself_in_an_exclusive_or_is_not_read():
    assert effects((Assign(A, Binary("^", A, A)),)).reads == frozenset()
    assert effects((Assign(A, Binary("^", Binary("^", A, A), D)),)).reads == {"A", "B"}
    assert effects((Assign(A, Binary("|", A, A)),)).reads == {"A"}
