import pytest
from clockhop.errors import BoardError, TableError
from clockhop.tables import Node, load, merge, nearest


def root(text: str) -> Node:
    return load(text, "tower.yaml")


def message(fault: pytest.ExceptionInfo[TableError]) -> str:
    return str(fault.value)


def test_every_scalar_stays_the_text_its_author_wrote() -> None:
    entries = root("clock: 1.8432\nbell: ON\nmask: 010\nname: ~\nquote: '~'\n").mapping()
    assert [node.text() for node in entries.values()] == ["1.8432", "ON", "010", "", "~"]


def test_a_value_knows_its_line_and_column() -> None:
    node = root("bells:\n  - hour\n  - quarter: 4\n").mapping()["bells"].sequence()[1].mapping()["quarter"]
    assert str(node.place) == "tower.yaml:3:14"


def test_a_repeated_key_is_an_error_at_its_second_place() -> None:
    with pytest.raises(TableError) as fault:
        root("bell: 1\nhand: 2\nbell: 3\n")
    assert message(fault) == 'tower.yaml:3:1: key "bell" stands twice, first in line 1; keep one'


def test_the_caller_says_which_error_is_raised() -> None:
    with pytest.raises(BoardError):
        load("a: 1\na: 2\n", "clockhop.yaml", BoardError)
    with pytest.raises(BoardError):
        load("a: 1\n", "clockhop.yaml", BoardError).sequence()


def test_an_unknown_key_is_answered_with_the_nearest_one_at_the_keys_place() -> None:
    with pytest.raises(TableError) as fault:
        root("clocks: 1\nclokc: 2\n").fields(optional=("clock", "clocks", "parts"))
    assert message(fault) == 'tower.yaml:2:1: unknown key "clokc"; nearest: clock, clocks'


def test_a_missing_key_is_named() -> None:
    with pytest.raises(TableError) as fault:
        root("a: 1\n").fields(("a", "b"))
    assert message(fault) == 'tower.yaml:1:1: key "b" is missing; add b: ...'


@pytest.mark.parametrize(
    ("text", "number"),
    [("12", 12), ("$1F", 31), ("0x1f", 31), ("%101", 5), ("0b101", 5), ("-3", -3), ("010", 10)],
)
def test_whole_numbers_in_each_spelling(text: str, number: int) -> None:
    assert root(f"n: '{text}'").mapping()["n"].integer() == number


@pytest.mark.parametrize("text", ["1_000", "1.5", "$", "0x", "true", "--1", "%2", "", "$-1", "+1"])
def test_what_is_no_whole_number_is_refused(text: str) -> None:
    with pytest.raises(TableError, match="is not a whole number"):
        root(f"n: '{text}'").mapping()["n"].integer()


def test_a_number_out_of_range_names_the_range() -> None:
    with pytest.raises(TableError) as fault:
        root("n: 300").mapping()["n"].integer(0, 255)
    assert message(fault) == "tower.yaml:1:4: 300 is out of range; accepted: 0 to 255"


def test_the_wrong_kind_says_what_stands_there() -> None:
    with pytest.raises(TableError, match="a list stands where one value is expected"):
        root("n: [1]").mapping()["n"].text()
    with pytest.raises(TableError, match='the value "1" stands where a list is expected'):
        root("n: 1").mapping()["n"].sequence()
    with pytest.raises(TableError, match="a list stands where a mapping is expected"):
        root("n: [1]").mapping()["n"].mapping()


def test_a_choice_is_one_of_the_accepted_words() -> None:
    node = root("kind: rom").mapping()["kind"]
    assert node.choice(("rom", "ram")) == "rom"
    with pytest.raises(TableError, match='unknown value "rom"; accepted: flash'):
        node.choice(("flash",))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: [1\n", "not YAML"),
        ("a: &x 1\nb: *x\n", r"tower.yaml:1:4: an alias"),
        ("? [a, b]\n: 1\n", "stands as a key"),
        ("a: 1\n---\nb: 2\n", "not YAML"),
        ("a: \x01\n", "not YAML"),
    ],
)
def test_what_is_not_plain_yaml_is_refused_in_one_line(text: str, expected: str) -> None:
    with pytest.raises(TableError, match=expected) as fault:
        root(text)
    assert "\n" not in message(fault)


def test_an_empty_file_is_an_empty_mapping() -> None:
    assert root("").mapping() == {}
    assert root("# only a comment\n").fields(optional=("a",)) == {}


def test_nearest_falls_back_to_all_names() -> None:
    assert nearest("zzz", ("b", "a")) == "accepted: a, b"
    assert nearest("LDAA", ("lda", "ldb", "sync")) == "nearest: lda"


def test_a_table_that_extends_another_takes_keys_out_joins_mappings_and_chains_lists() -> None:
    old = root("vectors: {NMI: 1, IRQ: 2}\nrows: [a]\nnames: [a]\n")
    new = root('vectors: {NMI: "-", SWI: 3}\nrows: [b]\nnames: [b]\n')
    found = merge(old, new, chained=("rows",)).mapping()
    assert {key: node.text() for key, node in found["vectors"].mapping().items()} == {"IRQ": "2", "SWI": "3"}
    assert [node.text() for node in found["rows"].sequence()] == ["a", "b"]
    assert [node.text() for node in found["names"].sequence()] == ["b"]


def test_what_is_not_there_cannot_be_taken_out() -> None:
    with pytest.raises(TableError, match='no "NMJ" to take out; nearest: NMI'):
        merge(root("NMI: 1"), root('NMJ: "-"'))
