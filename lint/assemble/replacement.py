"""Names that stand for text: put into every line below, before the line is cut into fields."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ..source import Span, split
from .line import Row, literal

# What one line may grow to, and how many names may be replaced in it; what asks for more is left as it stands.
LONGEST = 4096
MOST = 1000

_DEFINED = re.compile(
    r"(?P<name>[A-Za-z_.$?@][\w.$?@]*)(?:\((?P<parameters>[^()]*)\))?\s*(?P<text>.*)", re.DOTALL
)
_NUMBER = re.compile(r"[-+]?(?:[0-9][0-9A-Fa-f]*[hH]?|0[xX][0-9A-Fa-f]+|\$[0-9A-Fa-f]+|%[01]+|[01]+[bB])")
_WORD = re.compile(r"[A-Za-z_][\w.$?@]*")
# Texts, comments and what is only asked for are passed over.
_KEPT = r"'[^']*'|\"[^\"]*\"|;.*|//.*|\bdefined\s*\(?\s*[\w.$?@]+"


@dataclass(frozen=True, slots=True)
class Replacement:
    """A name and what stands for it; `parameters` are None where it takes no brackets."""

    name: str
    parameters: tuple[str, ...] | None
    text: str


@dataclass(slots=True)
class Replacements:
    """The names in force at the line that has been reached."""

    _known: dict[str, Replacement] = field(default_factory=dict)
    _pattern: re.Pattern[str] | None = None
    _last: str = ""
    _left: int = 0  # how many more names may be replaced in this line

    def __bool__(self) -> bool:
        return bool(self._known)

    def __contains__(self, name: str) -> bool:
        return name in self._known

    def define(self, written: str) -> bool:
        """Takes `NAME text` or `NAME(a,b) text`; false where it is no text but nothing or a number: a symbol then."""
        found = _DEFINED.fullmatch(written.strip())
        if found is None:
            return False
        name, parameters, text = found["name"], found["parameters"], found["text"].strip()
        self.forget(name)
        self._last = name
        if parameters is None and (not text or _NUMBER.fullmatch(text)):
            return False
        names = None if parameters is None else tuple(part.strip() for part in parameters.split(","))
        self._take(Replacement(name, names, text))
        return True

    def go_on(self, text: str) -> None:
        """More text for the name defined last."""
        former = self._known.get(self._last, Replacement(self._last, None, ""))
        if self._last:
            self._take(replace(former, text=f"{former.text} {text.strip()}"))

    def forget(self, name: str) -> None:
        """The name stands for itself again."""
        if self._known.pop(name, None):
            self._compile()

    def put_in(self, row: Row, names: frozenset[str]) -> Row:
        """The row with every name in it replaced; the same row where there is none."""
        whole = row.statement.whole
        if self._pattern is None or row.settled or not self._pattern.search(row.text, whole.start, whole.end):
            return row
        out: list[str] = []
        pieces: list[tuple[int, int, int]] = []
        length, position = 0, whole.start
        self._left = MOST
        for start, end, text in self._found(row.text, whole.start, whole.end, frozenset()):
            pieces.append((length, length + start - position, position))
            out += (row.text[position:start], text)
            length += start - position + len(text)
            position = end
        if not out or length > LONGEST:
            return row
        pieces.append((length, length + whole.end - position, position))
        out.append(row.text[position : whole.end])
        made = "".join(out)
        statement = split(made, row.statement.line, Span(0, len(made)), row.source.vocabulary, names)
        return Row(made, statement, row.source, row.written, literal(row, pieces), settled=True)

    def _take(self, replacement: Replacement) -> None:
        self._known[replacement.name] = replacement
        self._compile()

    def _compile(self) -> None:
        names = "|".join(re.escape(name) for name in sorted(self._known, key=len, reverse=True))
        found = rf"{_KEPT}|(?<![\w.$?@#])(?P<name>{names})(?![\w.$?@])"
        self._pattern = re.compile(found) if names else None

    def _found(
        self, text: str, position: int, end: int, inside: frozenset[str]
    ) -> list[tuple[int, int, str]]:
        """Where names stand in a text, and what to put there: start, end, new text."""
        assert self._pattern is not None
        found: list[tuple[int, int, str]] = []
        while match := self._pattern.search(text, position, end):
            position = match.end()
            name = match["name"]
            if name is None or name in inside or self._left == 0:
                continue
            self._left -= 1
            known = self._known[name]
            new = known.text
            if known.parameters is not None:
                arguments, behind = _arguments(text, position, end)
                if behind is None:
                    continue
                values = dict(zip(known.parameters, arguments, strict=False))
                new = _put_in(new, values)
                position = behind
            found.append((match.start(), position, self._again(new, inside | {name})))
        return found

    def _again(self, text: str, inside: frozenset[str]) -> str:
        """A text with the names in it replaced in turn, but none inside itself."""
        position = 0
        out: list[str] = []
        for start, end, new in self._found(text, 0, len(text), inside):
            out += (text[position:start], new)
            position = end
        made = "".join(out) + text[position:]
        return made if len(made) <= LONGEST else text


def _arguments(text: str, position: int, end: int) -> tuple[list[str], int | None]:
    """The arguments in the brackets that begin at `position`, and the place behind them; None without brackets."""
    while position < end and text[position] in " \t":
        position += 1
    if position == end or text[position] != "(":
        return [], None
    arguments, depth, start, quote = [], 0, position + 1, ""
    for index in range(position, end):
        character = text[index]
        if quote:
            quote = "" if character == quote else quote
        elif character in "'\"":
            quote = character
        elif character == "(":
            depth += 1
        elif character == "," and depth == 1:
            arguments.append(text[start:index].strip())
            start = index + 1
        elif character == ")":
            depth -= 1
            if depth == 0:
                return [*arguments, text[start:index].strip()], index + 1
    return [], None


def _put_in(text: str, values: Mapping[str, str]) -> str:
    """The text with the words that are parameters replaced by what was given for them."""
    return _WORD.sub(lambda word: values.get(word[0], word[0]), text)
