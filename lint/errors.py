"""What stops a run and what the user can put right: one base class, one subclass for each kind of thing at fault."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """A position in a file a person can open: path as the user gave it, line and column from 1 (0 where unknown)."""

    path: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        parts = [self.path]
        if self.line:
            parts.append(str(self.line))
            if self.column:
                parts.append(str(self.column))
        return ":".join(parts)


class ClockhopError(Exception):
    """Base of everything the tool says in one line and then ends with exit status 2."""

    def __init__(self, message: str, place: Place | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.place = place

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class TableError(ClockhopError):
    """A processor table, part file or syntax file of the tool itself is wrong."""


class SourceError(ClockhopError):
    """A source file that can't be read or written at all."""


class BoardError(ClockhopError):
    """A project file that is wrong: place, what was found, what would be accepted."""


class RecordError(ClockhopError):
    """A file of recorded findings that is wrong: place, what was found, what would be accepted."""


class QuantityError(ClockhopError):
    """A frequency or a time that is not one: what was found, which units are accepted."""
