import pytest
from clockhop.cpu import Guard, Kind, Step
from clockhop.cpu.step import Group, read
from clockhop.errors import TableError


def test_a_letter_is_a_step_and_a_question_mark_alone_an_idle_one_of_unknown_place() -> None:
    assert read("f ?") == (Group((Step(Kind.FETCH),), 1, ()), Group((Step(Kind.IDLE, placed=False),), 1, ()))


def test_counts_names_groups_and_conditions() -> None:
    assert read("i*4") == (Group((Step(Kind.IDLE),), 4, ()),)
    assert read("w*list") == (Group((Step(Kind.WRITE),), "list", ()),)
    assert read("(r w)*W") == (Group((Step(Kind.READ), Step(Kind.WRITE)), "W", ()),)
    assert read("i*2?taken&!native") == (
        Group((Step(Kind.IDLE),), 2, (Guard("taken"), Guard("native", wanted=False))),
    )
    assert read("?*2?disputed") == (Group((Step(Kind.IDLE, placed=False),), 2, (Guard("disputed"),)),)


def test_no_text_is_no_step() -> None:
    assert read("  ") == ()


@pytest.mark.parametrize("text", ["x", "ff", "f*", "f ?&", "(f", "f?", "(q)*2"])
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(TableError, match=r"not understood|is unknown"):
        read(text)
