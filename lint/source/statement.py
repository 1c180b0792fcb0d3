"""What a source file is made of: spans of its bytes. Nothing here copies text, so nothing can change it."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from ..errors import Place
from .note import BadNote, PlacedNote
from .vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class Span:
    """Half-open range of byte offsets into `Source.data`."""

    start: int
    end: int

    def __len__(self) -> int:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Statement:
    """One line cut into its fields. There is one for every line, blank lines and comments included.

    `label` is without its colons, `operation` as written (a leading dot or # included), `comment` from its
    marker to the end of the line, `whole` the line without its line end. A field that is not there is None. `more` is
    the next statement of the same line, for syntaxes that allow several.
    """

    line: int
    whole: Span
    label: Span | None = None
    operation: Span | None = None
    operand: Span | None = None
    comment: Span | None = None
    more: "Statement | None" = None

    def on_line(self) -> Iterator["Statement"]:
        """This statement and those behind it on its line."""
        statement: Statement | None = self
        while statement:
            yield statement
            statement = statement.more


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One source file as read: `data` is what stood on the disk, everything else points into it.

    `text` is `data` read as latin-1, so that an offset into one is an offset into the other; `encoding`
    ("utf-8" or "latin-1") is how names and reasons are shown to people. `statements[n]` is line n + 1.
    `vocabulary` is what its lines were cut with.
    `notes` are the timing notes understood, `bad_notes` those that were not; neither stops a run.
    """

    name: str
    data: bytes
    text: str
    encoding: str
    lines: tuple[Span, ...]  # each with its line end, one behind the other: they tile `data`
    statements: tuple[Statement, ...]
    vocabulary: Vocabulary
    notes: tuple[PlacedNote, ...] = ()
    bad_notes: tuple[BadNote, ...] = ()

    def print(self) -> bytes:
        """The file again, byte for byte."""
        return b"".join(self.data[line.start : line.end] for line in self.lines)

    def of(self, span: Span) -> str:
        """The text of a span, decoded for people."""
        return self.data[span.start : span.end].decode(self.encoding, errors="replace")

    def place(self, offset: int) -> Place:
        """Line and column (both from 1, a column is one byte) of an offset into `data`."""
        index = max(0, bisect_right(self.lines, offset, key=lambda line: line.start) - 1)
        start = self.lines[index].start if self.lines else 0
        return Place(self.name, index + 1, offset - start + 1)
