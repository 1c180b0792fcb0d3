"""Macros: bodies are text; parameters are put in before a line is cut into fields."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from ..source import Span, operands, split
from .line import Row, literal

# ~1~ ~@~ (all) ~#~ (how many) ~{:mloop}~ (that of the turn) :mloop (the turn) $$$ (number of the use)
# \1 \(10) \name \{name} \@ \? (number of the use) \# (how many arguments) \* (all) &1 &name {1} {name} name
_PARAMETER = (
    r"\\(?P<digit>[0-9])|\\\((?P<number>[0-9]+)\)|\\\{?(?P<name>[A-Za-z_]\w*)\}?|\\(?P<special>[@#*?])"
    r"|~(?P<tilde>[0-9]{1,2}|[@#]|\{:mloop\})~|(?P<counter>:mloop\b|\$\$\$)"
    r"|(?<![\w)])&(?P<and_digit>[0-9])|&(?P<and_name>[A-Za-z_]\w*)|\{(?P<braced>\w+)\}"
    r"|(?P<bare>\b[A-Za-z_]\w*)"
)
# %3 ?3 @3: only where the body can't mean a number by it.
_NUMBERED = r"|[%?@](?P<marked_digit>[0-9])(?!\w)"
_NO_NUMBER = re.compile(r"[%?](?:[2-9])(?!\w)|\?1(?!\w)|@[89](?!\w)")
_ORDINARY = re.compile(r"[A-Za-z_]\w*")
_ANGLED = re.compile(r"(?:(?<=,)|^)\s*<(?:[^<>]|<[^<>]*>)*>\s*(?=,|$)")

# A macro that uses itself with its argument twice would soon fill the memory.
LONGEST_LINE = 1 << 12
MOST_ARGUMENTS = 99


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter by name (marks that are part of it included), and what stands for it where no argument does."""

    name: str
    default: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Macro:
    """A macro as defined: named parameters (may be none) and the lines up to its end.

    `local` are names that are others in every use. `pattern` finds what may be a parameter.
    """

    name: str
    parameters: tuple[Parameter, ...]
    local: tuple[str, ...]
    body: tuple[Row, ...]
    first: int  # the number of the first argument: 0 where the body asks for \0, else 1
    pattern: re.Pattern[str]


@dataclass(slots=True)
class Call:
    """One use: what follows the macro's name after a dot, the arguments, and a number no other use has.

    The body may change its arguments (`put`) and go through lines again: `turn` is how often it has begun them,
    `again` where they begin.
    """

    extension: str
    arguments: tuple[str, ...]
    number: int
    at: int = 0  # the line of the body that comes next
    turn: int = 0
    again: int = 0

    def put(self, number: int, text: str) -> None:
        """Another text for an argument, counted from 1; those before it that are missing are empty."""
        if 0 < number <= MOST_ARGUMENTS:
            padded = [*self.arguments, *[""] * (number - len(self.arguments))]
            padded[number - 1] = text
            self.arguments = tuple(padded)

    def begin(self, turn: int) -> None:
        """The lines from here on are gone through, the first time as turn `turn`."""
        self.again, self.turn = self.at, turn

    def repeat(self, last: int) -> None:
        """Back to where they began, unless that was the last turn."""
        if self.again and self.turn < last:
            self.turn += 1
            self.at = self.again


def arguments(text: str) -> tuple[str, ...]:
    """The arguments of a macro call, blanks and <> around them left out; no text is no argument."""
    return tuple(map(_without_angles, written_arguments(text)))


def written_arguments(text: str) -> tuple[str, ...]:
    """The arguments as written: <A,B> is one."""
    if not text.strip():
        return ()
    covered = _ANGLED.sub(lambda found: "x" * len(found.group()), text) if "<" in text else text
    return tuple(text[part.start : part.end] for part in operands(covered, "values"))


def listed(texts: Sequence[str]) -> tuple[str, ...]:
    """What IRP goes through: the arguments behind the name, or those inside <>."""
    return arguments(_without_angles(texts[0])) if len(texts) == 1 else tuple(map(_without_angles, texts))


def _without_angles(text: str) -> str:
    return text[1:-1].strip() if text.startswith("<") and text.endswith(">") else text


def parameters(text: str) -> tuple[Parameter, ...]:
    """A macro's parameters; \\ and & before a name are no part of it, other marks are."""
    found = []
    for part in text.split(","):
        name, _, default = part.partition("=")
        name = name.strip().strip(":").removeprefix("\\").removeprefix("&")
        if name:
            found.append(Parameter(name, default.strip()))
    return tuple(found)


def define(
    name: str, given: tuple[Parameter, ...], body: Sequence[Row], directive: Callable[[str], str | None]
) -> Macro:
    """The macro of that name; lines that say which names are local are no part of its body."""
    local: list[str] = []
    kept: list[Row] = []
    for row in body:
        if directive(row.of(row.statement.operation)) == "local":
            local += (each.strip() for each in row.of(row.statement.operand).split(",") if each.strip())
        else:
            kept.append(row)
    texts = [row.of(row.statement.whole) for row in kept]
    counts_from_zero = any("\\0" in text for text in texts)
    names = [*(parameter.name for parameter in given), *local]
    # Names with a mark of their own: "L  %I  .loop  ?again
    marked = sorted((name for name in names if not _ORDINARY.fullmatch(name)), key=len, reverse=True)
    own = "".join(rf"(?P<own>{'|'.join(map(re.escape, marked))})(?!\w)|" for _ in marked[:1])
    numbered = _NUMBERED if not given and any(map(_NO_NUMBER.search, texts)) else ""
    pattern = re.compile(own + _PARAMETER + numbered)
    return Macro(name.upper(), given, tuple(local), tuple(kept), 0 if counts_from_zero else 1, pattern)


def expand(macro: Macro, call: Call, names: frozenset[str]) -> Iterator[Row]:
    """The lines of one use, parameters put in; `call` tells which comes next."""
    while call.at < len(macro.body):
        row = macro.body[call.at]
        call.at += 1
        yield _substituted(row, macro, call, names)


def _substituted(row: Row, macro: Macro, call: Call, names: frozenset[str]) -> Row:
    whole = row.statement.whole
    out: list[str] = []
    pieces: list[tuple[int, int, int]] = []
    length = 0
    position = whole.start

    def keep(end: int) -> None:
        nonlocal length
        if end > position:
            out.append(row.text[position:end])
            pieces.append((length, length + end - position, position))
            length += end - position

    for found in macro.pattern.finditer(row.text, whole.start, whole.end):
        value = _value(found.groupdict(), macro, call)
        if value is None:
            continue
        if length + len(value) > LONGEST_LINE:
            break  # what is left stands as it was written, and is not understood
        keep(found.start())
        out.append(value)
        length += len(value)
        position = found.end()
    if not out:
        return row
    keep(whole.end)
    text = "".join(out)
    statement = split(text, row.statement.line, Span(0, len(text)), row.source.vocabulary, names)
    return Row(text, statement, row.source, row.written, literal(row, pieces))


def _value(found: dict[str, str | None], macro: Macro, call: Call) -> str | None:
    """What stands for a parameter; None when the text is no parameter of this macro."""
    for group in ("digit", "number", "and_digit", "marked_digit"):
        digits = found.get(group)
        if digits is not None:
            return _argument(macro, call, int(digits))
    if found["counter"]:
        return f"_{call.number}" if found["counter"] == "$$$" else str(call.turn)
    if found["tilde"] and found["tilde"].isdigit():
        return _argument(macro, call, int(found["tilde"]))
    if found["tilde"] == "{:mloop}":
        return _argument(macro, call, call.turn)
    match found["special"] or found["tilde"]:
        case "@" if found["tilde"]:
            return ",".join(call.arguments)
        case "@" | "?":
            return f"_{call.number}"
        case "#":
            return str(len(call.arguments))
        case "*":
            return ",".join(call.arguments)
    braced = found["braced"]
    if braced is not None and braced.isdigit():
        return _argument(macro, call, int(braced))
    name = found.get("own") or found["name"] or found["and_name"] or braced or found["bare"]
    for index, parameter in enumerate(macro.parameters):
        if parameter.name == name:
            return _argument(macro, call, index + macro.first) or parameter.default
    if name and found["name"] and len(name) == 1 and name.isupper() and not macro.parameters:
        return _argument(macro, call, int(name, 36))  # behind \\9 comes \\A
    return f"{name}_m{call.number}" if name in macro.local else None


def _argument(macro: Macro, call: Call, number: int) -> str:
    """An argument by its number; where arguments count from 1 and the call has a suffix (MOVE.B), \0 is that."""
    if number == 0 and call.extension:
        return call.extension
    index = number - macro.first
    return call.arguments[index] if 0 <= index < len(call.arguments) else ""
