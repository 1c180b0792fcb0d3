import pytest
from clockhop.cpu import (
    Assign,
    Binary,
    Bits,
    Choose,
    If,
    Load,
    Number,
    Register,
    Repeat,
    Store,
    Temp,
    Undefined,
)
from clockhop.cpu.notation import Names, expression, statements
from clockhop.errors import TableError

A = Register("A", 8, (("A", 8),))
Z = Register("Z", 1, (("Z", 1),))
X = Register("X", 16, (("X", 16),))
PC = Register("PC", 16, (("PC", 16),))
M = Load(Temp("ea"), 1)
NAMES = Names(
    {"A": A, "R": A, "X": X, "Z": Z, "PC": PC, "M": M, "zero": Number(0)}, {"list": (X, A)}, after=0x4002
)


def test_the_operand_reads_as_a_load_and_is_written_as_a_store() -> None:
    assert statements("t = M; M = t", NAMES) == (Assign(Temp("t"), M), Store(Temp("ea"), 1, Temp("t")))


def test_products_bind_before_sums_shifts_masks_and_comparisons() -> None:
    expected = Binary(
        "==", Binary("&", A, Binary("<<", Binary("+", A, Binary("*", A, A)), Number(1))), Number(0)
    )
    assert expression("A & A + A * A << 1 == 0", NAMES) == expected


def test_constants_are_worked_out_at_once() -> None:
    assert expression("(3 << 4 | 0x0F) - 1", NAMES) == Number(62)
    assert expression("~0", NAMES) == Number(-1)
    assert expression("signed(0xFF, 8)", NAMES) == Number(-1)
    assert expression("0 ? [X] : 7", NAMES) == Number(7)


def test_bits_and_slices() -> None:
    assert expression("A.7", NAMES) == Bits(A, 7, 7)
    assert expression("X.15..8", NAMES) == Bits(X, 15, 8)
    assert expression("X.(width(X) - 1)", NAMES) == Bits(X, 15, 15)


def test_the_program_counter_reads_as_the_next_address_and_is_still_written() -> None:
    assert statements("X = PC; PC = A", NAMES) == (Assign(X, Number(0x4002)), Assign(PC, A))


def test_a_list_is_gone_through_in_its_order_or_in_reverse() -> None:
    pushed = statements("each r of list: [X]:size = r", NAMES)
    assert pushed == (Store(X, 2, X), Store(X, 1, A))
    assert statements("each r of list reversed: r = [X]:size", NAMES) == (
        Assign(A, Load(X, 1)),
        Assign(X, Load(X, 2)),
    )


def test_alternatives_and_repetitions_hold_their_statements() -> None:
    assert statements("if Z: A = 1 else: { A = 2; Z = 0 }", NAMES) == (
        If(Z, (Assign(A, Number(1)),), (Assign(A, Number(2)), Assign(Z, Number(0)))),
    )
    assert statements("repeat X: A = A + 1", NAMES) == (Repeat(X, (Assign(A, Binary("+", A, Number(1))),)),)


def test_a_discarded_read_stays_only_where_it_touches_memory() -> None:
    assert statements("_ = M", NAMES) == (Assign(Temp("_"), M),)
    assert statements("_ = A", NAMES) == ()


def test_a_register_that_is_always_zero_is_never_written() -> None:
    assert statements("zero = A", NAMES) == ()


def test_what_is_undefined_says_so() -> None:
    assert expression("undefined", NAMES) == Undefined(1)
    assert expression("A ? undefined(16) : X", NAMES) == Choose(A, Undefined(16), X)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("A = ", "not understood"),
        ("A = Q", 'unknown name "Q"'),
        ("A = foo(1)", 'unknown function "foo"'),
        ("A = X.(A)", "not constant"),
        ("each r of all: r = 0", 'no list "all"; accepted: list'),
        ("[X]:size = A", '"size" is no number of bytes'),
        ("Q = 1", '"Q" cannot be assigned to'),
    ],
)
def test_a_wrong_meaning_is_refused(text: str, message: str) -> None:
    with pytest.raises(TableError, match=message):
        statements(text, NAMES)
