"""Comments to timing notes, by grammar/note.lark."""

import re
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from itertools import pairwise

from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from .. import packaged
from ..errors import Place, QuantityError
from ..quantity import Duration, parse_clock, parse_duration
from ..tables import nearest
from .note import Accept, BadNote, GivesUp, Leave, Note, PlacedNote, Runs, Takes, With, WrittenFor

_LONGEST = 20  # digits of a number
_KEY = re.compile(r"\btiming:", re.IGNORECASE)

FORMS: Mapping[str, str] = {
    "takes": "takes 20 ms, takes 20 ms within 1%, takes at least 20 ms or takes at most 20 ms",
    "runs": "runs 8 times or runs 1 to 200 times",
    "with": "with A = 50 or with A = 1 to 50",
    "written": "written for 2 MHz",
    "gives": "gives up after 90 ms",
    "leave": "leave because REASON",
    "accept": "accept RULE because REASON",
}


def notes_in(raw: bytes, encoding: str, place: Place, offset: int) -> tuple[list[PlacedNote], list[BadNote]]:
    """The timing notes of one comment, and those that were not understood.

    `place` is where the comment begins, `offset` the same as a byte offset into the source; both count bytes.
    """
    comment = raw.decode(encoding)

    def width(text: str) -> int:
        return len(text.encode(encoding))

    good: list[PlacedNote] = []
    bad: list[BadNote] = []
    keys = list(_KEY.finditer(comment))
    for key, following in pairwise([*keys, None]):
        assert key
        end = following.start() if following else len(comment)
        body = comment[key.end() : end].rstrip().rstrip(";").rstrip()
        start = key.end() + len(body) - len(body.lstrip())
        try:
            found = _notes(body.strip())
        except _NoteFault as fault:
            column = place.column + width(comment[: start + fault.column])
            bad.append(BadNote(Place(place.path, place.line, column), fault.message))
            continue
        first, last = offset + width(comment[: key.start()]), offset + width(comment[: key.end()] + body)
        good += [PlacedNote(note, place.line, first, last) for note in found]
    return good, bad


class _NoteFault(Exception):
    def __init__(self, message: str, column: int) -> None:
        super().__init__(message)
        self.message = message
        self.column = column


@cache
def _notes(body: str) -> tuple[Note, ...]:
    word = body.split(maxsplit=1)[0].lower() if body else ""
    if word not in FORMS:
        raise _NoteFault(f'timing note "{body}" is not understood; {nearest(word, FORMS)}', 0)
    try:
        tree = packaged.parser("note", "note").parse(body)
    except UnexpectedInput as fault:
        column = fault.column - 1 if isinstance(fault.column, int) and fault.column > 0 else len(body)
        raise _NoteFault(f'timing note "{body}" is not understood; write {FORMS[word]}', column) from None
    assert isinstance(tree, Tree)
    try:
        return tuple(_READINGS[tree.data](tree))
    except QuantityError as fault:
        raise _NoteFault(f'timing note "{body}": {fault.message}', 0) from None


def _tokens(tree: Tree[Token], kind: str) -> list[str]:
    return [
        str(leaf) for leaf in tree.scan_values(lambda leaf: isinstance(leaf, Token) and leaf.type == kind)
    ]


def _takes_exactly(tree: Tree[Token]) -> Iterator[Note]:
    yield Takes("exact", parse_duration(_tokens(tree, "TIME")[0]))


def _takes_within_percent(tree: Tree[Token]) -> Iterator[Note]:
    duration = parse_duration(_tokens(tree, "TIME")[0])
    percent = Fraction(_tokens(tree, "PERCENT")[0].rstrip("% \t"))
    yield Takes("exact", duration, Duration(duration.seconds * percent / 100))


def _takes_within_time(tree: Tree[Token]) -> Iterator[Note]:
    duration, tolerance = (parse_duration(text) for text in _tokens(tree, "TIME"))
    yield Takes("exact", duration, tolerance)


def _takes_at_least(tree: Tree[Token]) -> Iterator[Note]:
    yield Takes("at_least", parse_duration(_tokens(tree, "TIME")[0]))


def _takes_at_most(tree: Tree[Token]) -> Iterator[Note]:
    yield Takes("at_most", parse_duration(_tokens(tree, "TIME")[0]))


def _runs(tree: Tree[Token]) -> Iterator[Note]:
    low, high = _range(tree)
    if low < 0 or high < low:
        raise QuantityError(f"runs {low} to {high} times; the first number is the smaller one, from 0")
    yield Runs(low, high)


def _with(tree: Tree[Token]) -> Iterator[Note]:
    for value in tree.find_data("value"):
        low, high = _range(value)
        name = _tokens(value, "NAME")[0]
        if high < low:
            raise QuantityError(f"{name} = {low} to {high}; the first number is the smaller one")
        yield With(name, low, high)


def _written(tree: Tree[Token]) -> Iterator[Note]:
    yield WrittenFor(parse_clock(_tokens(tree, "TIME")[0]))


def _gives_up(tree: Tree[Token]) -> Iterator[Note]:
    yield GivesUp(parse_duration(_tokens(tree, "TIME")[0]))


def _leave(tree: Tree[Token]) -> Iterator[Note]:
    yield Leave(_tokens(tree, "REASON")[0])


def _accept(tree: Tree[Token]) -> Iterator[Note]:
    yield Accept(_tokens(tree, "RULE")[0], _tokens(tree, "REASON")[0])


def _range(tree: Tree[Token]) -> tuple[int, int]:
    numbers = [_number(text) for text in _tokens(tree, "NUMBER")]
    return numbers[0], numbers[-1]


def _number(text: str) -> int:
    if len(text) > _LONGEST:
        raise QuantityError(f'"{text[:20]}...": {len(text)} digits are more than anything here counts')
    sign, digits = (-1, text[1:]) if text.startswith("-") else (1, text)
    if digits.startswith("$"):
        return sign * int(digits[1:], 16)
    return sign * (int(digits, 16) if digits[:2].lower() == "0x" else int(digits))


_READINGS: Mapping[str, Callable[[Tree[Token]], Iterator[Note]]] = {
    "takes_exactly": _takes_exactly,
    "takes_within_percent": _takes_within_percent,
    "takes_within_time": _takes_within_time,
    "takes_at_least": _takes_at_least,
    "takes_at_most": _takes_at_most,
    "runs": _runs,
    "with": _with,
    "written": _written,
    "gives_up": _gives_up,
    "leave": _leave,
    "accept": _accept,
}
