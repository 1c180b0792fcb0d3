"""Files that take part in a program: those that are read as text, and those that go into memory as they are."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from os.path import dirname

from .. import looked
from ..errors import Place, SourceError
from ..source import Source
from ..tree import inside, told
from . import include, macro
from .condition import Values
from .feed import Feeds
from .line import Line, Row
from .program import Inclusion, brief

Reader = Callable[[str], Source]

DEEPEST = 200  # macros and includes inside each other
MOST_INCLUDED = 10_000  # how often files are included in all


@dataclass(slots=True)
class Files:
    """Finds and opens what a program includes."""

    text: Feeds
    reader: Reader
    include_paths: Sequence[str]
    values: Values
    written: set[str]
    within: Sequence[str]
    files: list[Source] = field(default_factory=list)
    included_bytes: list[str] = field(default_factory=list)
    inclusions: list[Inclusion] = field(default_factory=list)
    too_many: bool = False
    missing: str = ""  # why the first that was not found was not

    def open(self, source: Source, place: Place | None) -> None:
        is_first = all(source is not each for each in self.files)
        if is_first:
            self.files.append(source)
        rows = (Row(source.text, each, source, each) for each in source.statements)
        self.text.feed(rows, "file", source.name, place)
        self.text.feeds[-1].names = _names(source)
        self.text.feeds[-1].is_first = is_first
        self.written |= self.text.feeds[-1].names

    def include(self, row: Row) -> Iterator[Line]:
        name, _ = include.file_name(_operand_for_people(row))
        place = self.text.origin(row).place
        paths = self._paths(name, row)
        source = self._found(paths)
        if source is None:
            cause = brief(f'include file "{name}" {self._missing(paths)}; its symbols are unknown')
            self.missing = self.missing or cause
            yield self.text.line(row, "opaque", cause)
        elif any(feed.kind == "file" and feed.name == source.name for feed in self.text.feeds):
            self.text.problem(place, f'"{source.name}" includes itself; passed over')
        elif len(self.text.feeds) > DEEPEST:
            self.text.problem(place, f"includes are more than {DEEPEST} deep; passed over")
        elif len(self.inclusions) >= MOST_INCLUDED:
            if not self.too_many:
                self.text.problem(place, f"more than {MOST_INCLUDED} includes; passed over from here on")
            self.too_many = True
        else:
            self.inclusions.append(Inclusion(self.text.origin(row).text_place, source.name))
            self.open(source, self.text.origin(row).text_place)

    def _found(self, paths: Iterable[str]) -> Source | None:
        for path in paths:
            if not self._is_let_in(path):
                continue
            try:
                return self.reader(path)
            except SourceError:
                continue
        return None

    def _is_let_in(self, path: str) -> bool:
        return not self.within or inside(path, self.within)

    def _missing(self, paths: Sequence[str]) -> str:
        """Why none of the paths is read."""
        outside = next((path for path in paths if not self._is_let_in(path) and looked.is_file(path)), None)
        if outside is not None:
            return f"is outside the tree of {told(self.within)}; -I {dirname(outside)} lets its folder in"
        near = include.alike(list(filter(self._is_let_in, paths)))
        offer = f'; "{near}" is there, only its case differs' if near else ""
        return f"was not found or can't be read{offer}"

    def _paths(self, name: str, row: Row) -> tuple[str, ...]:
        """Where a file may be: beside the one that names it, in the folders given, beside the main file, as written."""
        folders = (dirname(row.source.name), *self.include_paths, dirname(self.files[0].name), "")
        return include.places(name, folders, row.source.vocabulary.syntax.include_endings) if name else ()

    def included_bytes_of(self, row: Row) -> Line:
        """A file that goes into memory as it is, or a stretch of it: only its length counts."""
        line = self.text.line(row, "directive", "include-bytes")
        name, stretch = include.file_name(_operand_for_people(row))
        paths = self._paths(name, row)
        bounds = [self.values.number(line, part) for part in macro.arguments(stretch) if part]
        known = [bound for bound in bounds if bound is not None]
        for path in paths if known == bounds else ():
            if self._is_let_in(path) and looked.is_file(path):
                self.included_bytes.append(path)
                self.inclusions.append(Inclusion(line.origin.text_place, path))
                return replace(line, operand=str(include.length(looked.size(path), known)))
        cause = f'how long the bytes of "{name}" are is not known: the file {self._missing(paths)}'
        return replace(line, kind="opaque", word=cause)


def _operand_for_people(row: Row) -> str:
    """The operand in the encoding of its file: names of files are more than ASCII."""
    text = row.of(row.statement.operand)
    return text.encode("latin-1", errors="replace").decode(row.source.encoding, errors="replace")


def _names(source: Source) -> frozenset[str]:
    labels = (each.label for statement in source.statements for each in statement.on_line())
    return frozenset(source.text[label.start : label.end] for label in labels if label)
