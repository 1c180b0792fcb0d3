"""One line on its way to the program: its text after macro substitution, and where it came from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..source import PlacedNote, Source, Span, Statement
from .program import Origin

Kind = Literal["label", "instruction", "directive", "opaque", "note"]


@dataclass(frozen=True, slots=True)
class Row:
    """A line as the flow of text delivers it. `pieces` are None for a line that stands literally in `source`.

    For a line with parameters put in, the fields of `statement` point into `text`; each piece is (start, end, place
    in the source) of a stretch that was not changed. `settled` where names that stand for text are replaced already.
    """

    text: str
    statement: Statement
    source: Source
    written: Statement
    pieces: tuple[tuple[int, int, int], ...] | None = None
    settled: bool = False

    def of(self, span: Span | None) -> str:
        """The text of a field, "" where there is none."""
        return self.text[span.start : span.end] if span else ""

    def in_source(self, span: Span) -> Span | None:
        """Where in the source a stretch of `text` stands literally; None when parameters touch it."""
        if self.pieces is None:
            return span
        for start, end, place in self.pieces:
            if start <= span.start and span.end <= end:
                return Span(span.start - start + place, span.end - start + place)
        return None


def literal(row: Row, pieces: Sequence[tuple[int, int, int]]) -> tuple[tuple[int, int, int], ...]:
    """Pieces of a row's text as they point into the source, for a row that was itself made of pieces, too."""
    found = []
    for start, end, place in pieces:
        span = row.in_source(Span(place, place + end - start))
        if span:
            found.append((start, end, span.start))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Locality:
    """What tells local labels of one spelling apart: macro use, ordinary label, blank line; innermost first.

    `scopes` are the procedures it stands in, outermost first, as they are spelled before a name ("TOLL::");
    `module` is the stretch of text that a MODULE begins.
    """

    use: int = 0
    label: int = 0
    blank: int = 0
    scopes: tuple[str, ...] = ()
    module: int = 0
    outer: "Locality | None" = None


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line that takes part in the program. `word` is the mnemonic, the kind of directive, or the cause.

    `lead` is how many characters of `operand` stand before what is written: a form named in the operation.
    """

    row: Row
    kind: Kind
    word: str
    label: str | None
    operand: str
    origin: Origin
    locality: Locality
    notes: tuple[PlacedNote, ...]
    lead: int = 0
