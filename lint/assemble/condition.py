"""Conditions of the text: which lines take part in the program."""

import re
from dataclasses import dataclass
from typing import Protocol

from . import macro
from .feed import Condition, Feeds
from .line import Line, Row
from .replacement import Replacements

_TEXTS = re.compile(r"""\s*(?P<left>"[^"]*"|'[^']*')\s*(?P<op>==?|<>|!=)\s*(?P<right>"[^"]*"|'[^']*')\s*$""")
_NOTHING = re.compile(r"\bNUL\b[ \t]*(\S*)", re.IGNORECASE)
_DEFINED = re.compile(r"(?:\.def|\.?\bdefined)\b\s*\(?\s*([\w.$?@]+)\s*\)?", re.IGNORECASE)

_CONDITIONS = {
    "if": lambda value: value != 0,
    "if-not-equal": lambda value: value != 0,
    "if-equal": lambda value: value == 0,
    "if-greater": lambda value: value > 0,
    "if-greater-equal": lambda value: value >= 0,
    "if-less": lambda value: value < 0,
    "if-less-equal": lambda value: value <= 0,
}


class Values(Protocol):
    """What conditions ask, at the place in the program that has been reached."""

    def number(self, line: Line, text: str) -> int | None:
        """The value of an expression; a name without one is noted as deciding."""

    def is_defined(self, line: Line, name: str) -> bool:
        """Whether a symbol has been defined above."""


@dataclass(slots=True)
class Conditions:
    """Opens, turns and closes the conditions of the text."""

    text: Feeds
    values: Values
    replacements: Replacements

    def skip(self, row: Row, kind: str | None) -> None:
        """A line of a branch not taken: only conditions count."""
        if kind is None:
            return
        if kind.startswith("if"):
            self.text.conditions.append(Condition(False, True, self.text.origin(row).place))
        elif kind in ("else", "else-if", "endif"):
            self.condition(row, kind)

    def condition(self, row: Row, kind: str) -> None:
        place = self.text.origin(row).place
        if kind.startswith("if"):
            holds = self._holds(row, kind)
            self.text.conditions.append(Condition(holds, holds, place))
            return
        condition = self.text.conditions[-1]
        if kind == "endif":
            self.text.conditions.pop()
        elif condition.both:
            pass
        elif condition.taken:
            condition.active = False
        else:
            condition.active = condition.taken = kind == "else" or self._holds(row, "if")

    def _holds(self, row: Row, kind: str) -> bool:
        line = self.text.line(row, "directive", kind)
        match kind:
            case "if-defined" | "if-undefined":
                name = line.operand.split(None, 1)[0].strip("()") if line.operand else ""
                return self._is_defined(line, name) == (kind == "if-defined")
            case "if-pass":
                return True
            case "if-not-pass":
                return False
            case "if-blank" | "if-not-blank":
                return (line.operand.strip() == "") == (kind == "if-blank")
            case "if-argument" | "if-no-argument":
                left, is_compared, right = map(str.strip, line.operand.partition("="))
                holds = left.upper() == right.upper() if is_compared else left != ""
                return holds == (kind == "if-argument")
            case "if-alike" | "if-unlike":
                parts = macro.arguments(line.operand) or ("",)
                return (parts[0] == parts[-1] if len(parts) > 1 else parts[0] == "") == (kind == "if-alike")
        texts = _TEXTS.match(line.operand)
        if texts and kind == "if":
            return (texts["left"][1:-1] == texts["right"][1:-1]) == (texts["op"] in ("=", "=="))
        text = _NOTHING.sub(lambda found: str(-int(not found[1])), line.operand)
        text = _DEFINED.sub(lambda found: str(int(self._is_defined(line, found[1]))), text)
        value = self.values.number(line, text)
        return value is not None and _CONDITIONS[kind](value)

    def _is_defined(self, line: Line, name: str) -> bool:
        return name in self.replacements or self.values.is_defined(line, name)
