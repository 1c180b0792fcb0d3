import pytest
from clockhop.errors import TableError
from clockhop.source import load_syntax
from clockhop.source.vocabulary import LocalMarks


def test_an_unknown_syntax_is_refused_with_the_nearest():
    with pytest.raises(TableError) as caught:
        load_syntax("motorla")
    assert str(caught.value) == 'no syntax "motorla"; nearest: motorola, motorola-6800'


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("FCB", "bytes"),
        ("fcb", "bytes"),
        (".byte", "bytes"),
        ("#include", "include"),
        ("=", "constant"),
        (":=", "variable"),
        ("LDA", None),
        (".", None),
        ("", None),
    ],
)
def test_a_directive_is_found_in_any_case_and_behind_a_mark(word, kind):
    assert load_syntax("motorola").directive(word) == kind


@pytest.mark.parametrize(
    ("name", "is_local"),
    [(".x", True), ("@x", True), ("x@", False), ("x$", True), ("x.y", False), (".", False), ("", False)],
)
def test_a_mark_makes_a_name_local_unless_it_is_the_whole_name(name, is_local):
    assert LocalMarks(prefix=".@", suffix="$").of(name) is is_local
