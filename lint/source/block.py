"""Comments of several lines: where one begins and which lines it takes."""

from dataclasses import dataclass

from .statement import Span, Statement
from .vocabulary import Syntax

_OPENS, _CLOSES = "/*", "*/"


@dataclass(slots=True)
class Block:
    """The comment that is open while the lines of a file are read in order; `end` is the mark that closes it."""

    syntax: Syntax
    end: str = ""
    words: frozenset[str] = frozenset()  # those that begin one

    def __post_init__(self) -> None:
        kinds = self.syntax.directives.items()
        self.words = frozenset(word for word, kind in kinds if kind == "comment")

    def comment(self, text: str, line: int, whole: Span) -> Statement | None:
        """A line inside a comment as a statement; None outside. What follows the closing mark belongs to it."""
        if not self.end:
            return None
        if text.find(self.end, whole.start, whole.end) >= 0:
            self.end = ""
        return Statement(line, whole, comment=whole if len(whole) else None)

    def enter(self, text: str, statement: Statement) -> None:
        """Opens a comment where a statement leaves one open: with a mark, or with a word and the mark behind it."""
        if self.end:
            return
        comment = statement.comment
        if comment and _OPENS in self.syntax.slash_comments and text.startswith(_OPENS, comment.start):
            is_open = text.find(_CLOSES, comment.start + 2, comment.end) < 0
            self.end = _CLOSES if is_open else ""
        elif statement.operation and _of(text, statement.operation).upper().lstrip(".") in self.words:
            operand = _of(text, statement.operand).strip() if statement.operand else ""
            is_open = operand[:1] not in operand[1:]
            self.end = operand[:1] if is_open else ""


def _of(text: str, span: Span) -> str:
    return text[span.start : span.end]
