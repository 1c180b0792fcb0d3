"""Where the lines of a program come from at the moment: files, macros and repetitions inside each other."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..errors import Place
from ..source import PlacedNote
from .line import Kind, Line, Locality, Row
from .macro import Call
from .program import Origin, Problem, brief


@dataclass(slots=True)
class Feed:
    """Where lines come from at the moment: a file, a macro's body or a repetition."""

    rows: Iterator[Row]
    kind: str  # file, macro, repeat
    name: str
    place: Place | None
    names: frozenset[str]
    conditions: int
    return_to: Locality
    is_first: bool = (
        False  # lines of a file that is met for the first time: no more of them than were written
    )
    call: Call | None = None  # the use of a macro


@dataclass(slots=True)
class Condition:
    active: bool
    taken: bool
    place: Place
    both: bool = False  # what it asks is not understood: its branches all count


@dataclass(slots=True)
class Feeds:
    """The feeds that are open, innermost last, with the conditions open in them, and what is known of each line."""

    problems: list[Problem] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    conditions: list[Condition] = field(default_factory=list)
    locality: Locality = field(default_factory=Locality)
    notes: dict[int, dict[int, tuple[PlacedNote, ...]]] = field(default_factory=dict)
    serial: int = 0

    @property
    def active(self) -> bool:
        """Whether lines count here: no condition that fails is open."""
        return not self.conditions or self.conditions[-1].active

    def feed(self, rows: Iterator[Row], kind: str, name: str, place: Place | None) -> None:
        names = self.feeds[-1].names if self.feeds else frozenset()
        self.feeds.append(Feed(rows, kind, name, place, names, len(self.conditions), self.locality))

    def close(self) -> None:
        feed = self.feeds[-1]
        for condition in self.conditions[feed.conditions :]:
            self.problem(condition.place, "IF has no end in this file")
        self.drop()

    def drop(self) -> None:
        feed = self.feeds.pop()
        del self.conditions[feed.conditions :]
        if feed.kind == "macro":
            self.locality = feed.return_to

    def call(self) -> Call | None:
        """The innermost use of a macro."""
        return next((feed.call for feed in reversed(self.feeds) if feed.call), None)

    def next(self) -> int:
        self.serial += 1
        return self.serial

    def problem(self, place: Place, message: str) -> None:
        self.problems.append(Problem(place, brief(message)))

    def origin(self, row: Row) -> Origin:
        written = row.written
        first = written.operation or written.label or written.whole
        uses = tuple(feed.place for feed in self.feeds if feed.kind == "macro" and feed.place)
        includes = tuple(feed.place for feed in self.feeds if feed.kind == "file" and feed.place)
        column = first.start - written.whole.start + 1
        return Origin(row.source, written, row.source.name, written.line, column, uses, includes)

    def line(self, row: Row, kind: Kind, word: str) -> Line:
        statement = row.statement
        return Line(
            row=row,
            kind=kind,
            word=word,
            label=row.of(statement.label) or None,
            operand=row.source.vocabulary.syntax.operand(row.of(statement.operand)),
            origin=self.origin(row),
            locality=self.locality,
            notes=self.notes_of(row),
        )

    def notes_of(self, row: Row) -> tuple[PlacedNote, ...]:
        source = row.source
        if not source.notes:
            return ()
        by_line = self.notes.get(id(source))
        if by_line is None:
            by_line = {}
            for note in source.notes:
                by_line[note.line] = (*by_line.get(note.line, ()), note)
            self.notes[id(source)] = by_line
        return by_line.get(row.written.line, ())
