"""Writes a number the way its author wrote the one it replaces: radix, case, prefix or suffix, digits."""

from __future__ import annotations

import re

_FORMS = (
    (re.compile(r"(?P<before>\$|0[xX])(?P<digits>[0-9A-Fa-f]+)(?P<behind>)"), 16),
    (re.compile(r"(?P<before>%|0[bB])(?P<digits>[01]+)(?P<behind>)"), 2),
    (re.compile(r"(?P<before>@)(?P<digits>[0-7]+)(?P<behind>)"), 8),
    (re.compile(r"(?P<before>)(?P<digits>[0-9][0-9A-Fa-f]*)(?P<behind>[hH])"), 16),
    (re.compile(r"(?P<before>)(?P<digits>[01]+)(?P<behind>[bB])"), 2),
    (re.compile(r"(?P<before>)(?P<digits>[0-7]+)(?P<behind>[oOqQ])"), 8),
    (re.compile(r"(?P<before>&?)(?P<digits>[0-9]+)(?P<behind>)"), 10),
)
_DIGITS = "0123456789abcdef"


def respell(text: str, old: int, value: int) -> str | None:
    """`value` in the spelling of `text`, which stands for `old`; None for a text that is not one plain number."""
    for form, radix in _FORMS:
        found = form.fullmatch(text)
        if found and int(found["digits"], radix) == old:
            digits = _digits(value, radix).rjust(len(found["digits"]) if radix != 10 else 0, "0")
            if found["digits"].upper() == found["digits"]:
                digits = digits.upper()
            if found["behind"] and not digits[0].isdigit():
                digits = "0" + digits
            return found["before"] + digits + found["behind"]
    return None


def _digits(value: int, radix: int) -> str:
    digits = ""
    while value or not digits:
        value, digit = divmod(value, radix)
        digits = _DIGITS[digit] + digits
    return digits
