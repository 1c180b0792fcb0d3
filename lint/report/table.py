"""Plain columns, and the styles a terminal may paint them with."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Final, Literal

from ..visible import shortened

_WIDEST: Final = 300  # characters of a cell: one name of a megabyte would widen every row

Style = Literal["", "head", "error", "warning", "note", "good", "dim"]
Paint = Callable[[str, Style], str]


def plain(text: str, _style: Style) -> str:
    """The text as it is: for pipes, files and terminals without colour."""
    return text


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of one line of a table, its style, and lines to print below it."""

    cells: tuple[str, ...]
    style: Style = ""
    below: tuple[str, ...] = ()


def table(head: Sequence[str], rows: Sequence[Row], paint: Paint) -> Iterator[str]:
    """The lines of a table, columns two blanks apart; a column without a cell in any row is left out."""
    rows = [replace(row, cells=tuple(shortened(cell, _WIDEST) for cell in row.cells)) for row in rows]
    columns = list(zip_longest(*(row.cells for row in rows), fillvalue=""))
    used = [number for number, column in enumerate(columns) if any(column)]
    widths = {number: max(len(head[number]), *map(len, columns[number])) for number in used}

    def line(cells: Sequence[str]) -> str:
        return "  ".join(cells[number].ljust(widths[number]) for number in used).rstrip()

    yield paint(line(head), "head")
    for row in rows:
        yield paint(line(row.cells), row.style)
        for text in row.below:
            yield paint(text, "dim")
