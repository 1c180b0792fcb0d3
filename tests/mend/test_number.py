import pytest
from clockhop.mend.number import respell


@pytest.mark.parametrize(
    ("text", "old", "value", "new"),
    [
        ("25000", 25000, 49999, "49999"),
        ("$61A8", 0x61A8, 0xC34F, "$C34F"),
        ("$61a8", 0x61A8, 0xC34F, "$c34f"),
        ("$0A", 10, 11, "$0B"),
        ("$0A", 10, 5, "$05"),
        ("$9", 9, 18, "$12"),
        ("0x0a", 10, 20, "0x14"),
        ("0X1F", 31, 62, "0X3E"),
        ("%00001010", 10, 21, "%00010101"),
        ("0b101", 5, 10, "0b1010"),
        ("@17", 15, 30, "@36"),
        ("&99", 99, 198, "&198"),
        ("007", 7, 14, "14"),
        ("0A8H", 0xA8, 0x9F, "09FH"),
        ("0a8h", 0xA8, 0x150, "150h"),
        ("9H", 9, 18, "12H"),
        ("9H", 9, 160, "0A0H"),
        ("17q", 15, 30, "36q"),
        ("101b", 5, 10, "1010b"),
    ],
)
def test_radix_case_digits_prefix_and_suffix_stay(text, old, value, new):
    assert respell(text, old, value) == new


@pytest.mark.parametrize(
    ("text", "old"),
    [("25*1000", 25000), ("COUNT", 10), ("'A", 65), ("$10+1", 17), ("", 0), ("10", 16), ("#10", 10)],
)
def test_what_is_not_one_plain_number_of_that_value_is_refused(text, old):
    assert respell(text, old, 7) is None
