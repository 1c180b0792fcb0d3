"""What a terminal would obey in somebody's labels, comments and file names is shown and not sent."""

import re

# C0 without the tab, DEL, C1 (a lone $9B begins a sequence, too), marks that turn the direction of a line or end it,
# bytes of a file name that are no text, and two that are no characters by the standard and serve as marks of paint.
_OBEYED = re.compile(
    "[\x00-\x08\x0a-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufdd0\ufdd1]"
)

_WORD_BEGINS = 100
_LONG_WORD = re.compile(rf"\S{{{2 * _WORD_BEGINS},}}")


def visible(line: str, passed: str = "") -> str:
    """The line with every character that a terminal would obey written as \\x1b or \\u202e, without those `passed`.

    A CR at the end stays: it belongs to the line end.
    """
    body, end = (line[:-1], "\r") if line.endswith("\r") else (line, "")
    return _OBEYED.sub(lambda found: found[0] if found[0] in passed else _written(found[0]), body) + end


def shortened(text: str, most: int = 1000) -> str:
    """The text, or one longer than `most` with its long words cut, and then itself: their beginning and how much more.

    What stands behind the word, such as what to do, is seen as well.
    """
    if len(text) <= most:
        return text
    return _cut(_LONG_WORD.sub(lambda found: _cut(found[0], _WORD_BEGINS), text), most)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[:most]}... ({len(text) - most} more characters)"


def _written(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"
