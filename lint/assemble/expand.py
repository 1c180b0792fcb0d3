"""The flow of text: includes, macros, repetitions and conditions, until only lines that count remain."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from os.path import dirname
from typing import Protocol

from .. import looked
from ..cpu import having
from ..errors import Place, SourceError
from ..source import PlacedNote, Source, Span, Vocabulary, split
from ..tree import inside, told
from . import include, macro
from .line import Kind, Line, Locality, Row
from .macro import Call, Macro
from .program import Inclusion, Origin, Problem, brief
from .replacement import Replacements

Reader = Callable[[str], Source]

DEEPEST = 200  # macros and includes inside each other
LONGEST = 250_000  # lines of all expansions, and of files that are included again
MOST_REPEATED = 131_072  # lines of all repetitions: twice as many as there are addresses

_BODIES = frozenset({"macro", "repeat", "for-each", "for-characters"})
_ENDS = frozenset({"end-macro", "end-repeat"})
_TEXTS = re.compile(r"""\s*(?P<left>"[^"]*"|'[^']*')\s*(?P<op>==?|<>|!=)\s*(?P<right>"[^"]*"|'[^']*')\s*$""")
# Directives whose operand is a name, not what it stands for.
_NAMING = ("define", "define-more", "undefine", "if-defined", "if-undefined")
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
class _Feed:
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


@dataclass(slots=True)
class _Condition:
    active: bool
    taken: bool
    place: Place
    both: bool = False  # what it asks is not understood: its branches all count


@dataclass(slots=True)
class Expander:
    """Working state of one expansion; `lines` may be called once."""

    vocabulary: Vocabulary
    reader: Reader
    include_paths: Sequence[str]
    values: Values
    written: set[str]  # all words in label position, macro bodies and branches not taken included
    within: Sequence[str] = ()  # folders that what is included has to lie in
    problems: list[Problem] = field(default_factory=list)
    files: list[Source] = field(default_factory=list)
    included_bytes: list[str] = field(default_factory=list)
    inclusions: list[Inclusion] = field(default_factory=list)
    defined: dict[str, Origin] = field(default_factory=dict)
    statements: int = 0
    missing_include: str = ""  # the first that was not found
    _macros: dict[str, Macro] = field(default_factory=dict)
    _structures: set[str] = field(default_factory=set)
    _replacements: Replacements = field(default_factory=Replacements)
    _feeds: list[_Feed] = field(default_factory=list)
    _conditions: list[_Condition] = field(default_factory=list)
    _locality: Locality = field(default_factory=Locality)
    _notes: dict[int, dict[int, tuple[PlacedNote, ...]]] = field(default_factory=dict)
    _serial: int = 0
    _delivered: int = 0
    _repeated: int = 0

    def lines(self, source: Source) -> Iterator[Line]:
        """Every line that takes part, in order. Asks `values` while it goes, so each line must be placed at once."""
        self._open(source, None)
        while self._feeds:
            feed = self._feeds[-1]
            row = next(feed.rows, None)
            if row is None:
                self._close()
                continue
            if self._replacements and self._active and self._kind_of(row) not in _NAMING:
                row = self._replacements.put_in(row, feed.names)
            if row.statement.more:
                feed.rows = chain([_next_on_line(row)], feed.rows)
            self._delivered += not feed.is_first
            if self._delivered > LONGEST:
                self._problem(
                    self._origin(row).place, f"more than {LONGEST} lines after expansion; stopped here"
                )
                return
            yield from self._row(row)

    # ---- one line

    def _row(self, row: Row) -> Iterator[Line]:
        statement = row.statement
        if statement.label is None and statement.operation is None:
            if statement.comment is None:
                self._locality = replace(self._locality, blank=self._next())
            elif self._active and self._notes_of(row):
                yield self._line(row, "note", "")
            return
        self.statements += 1
        word = row.of(statement.operation)
        kind = self._kind(word, row)
        if kind and not statement.operand:
            kind = row.source.vocabulary.syntax.alone.get(word.upper().lstrip(".#"), kind)
        if not self._active:
            self._skip(row, kind)
            return
        if statement.label:
            self._enter(row.of(statement.label), kind)
        found = self._macro(word)
        if found is not None:
            yield from self._use(row, found, word)
        elif not word:
            yield self._line(row, "label", "")
        elif kind is None and (mnemonic := row.source.vocabulary.mnemonic(word)):
            yield self._line(row, "instruction", mnemonic)
        elif kind is None and (form := row.source.vocabulary.form(word)):
            line = self._line(row, "instruction", form[0])
            yield replace(line, operand=form[1].replace("{}", line.operand), lead=max(0, form[1].find("{}")))
        elif word.upper() in self._structures:
            yield replace(self._line(row, "directive", "structure-use"), operand=word)
        elif kind is None and (again := self._behind_label(row)):
            yield from self._row(again)
        elif kind is None or kind == "if-unknown":
            yield self._line(row, "opaque", self._strange(row, word))
            if kind:
                self._conditions.append(_Condition(True, False, self._origin(row).place, both=True))
        else:
            yield from self._directive(row, kind)

    def _behind_label(self, row: Row) -> Row | None:
        """A line whose first word is nothing that is known and whose second is an instruction: a label further in."""
        statement = row.statement
        if statement.label or not statement.operation:
            return None
        inner = Span(statement.operation.start, statement.whole.end)
        vocabulary = row.source.vocabulary
        again = split(row.text, statement.line, inner, vocabulary, self._feeds[-1].names)
        if not again.label or not vocabulary.mnemonic(row.of(again.operation)):
            return None
        self.statements -= 1  # it is one line all the same
        return replace(row, statement=replace(again, whole=statement.whole))

    def _strange(self, row: Row, word: str) -> str:
        others = having(word.upper(), row.source.vocabulary.syntax.name)
        if others:
            return f'"{word}" is an instruction of {_or(others)}, not of this processor'
        maybe = (
            f'; "{self.missing_include}", which was not found, may have it' if self.missing_include else ""
        )
        return f'"{word}" is no instruction, directive or macro{maybe}'

    def _kind_of(self, row: Row) -> str | None:
        return row.source.vocabulary.syntax.directive(row.of(row.statement.operation))

    def _kind(self, word: str, row: Row) -> str | None:
        """The kind of directive; a strange word that begins with IF opens a condition all the same."""
        upper = word.upper()
        vocabulary = row.source.vocabulary
        kind = vocabulary.syntax.directive(word)
        if vocabulary.mnemonic(word):
            # SET is an instruction for two operands; behind a name and before one value it is none.
            is_value = kind == "variable" and row.statement.label and len(macro.arguments(_operand(row))) == 1
            return kind if is_value else None
        return "if-unknown" if kind is None and upper.startswith("IF") and upper not in self._macros else kind

    def _enter(self, label: str, kind: str | None) -> None:
        """An ordinary label begins a new stretch for local ones; a constant's name does not."""
        syntax = self.vocabulary.syntax
        is_local = syntax.local_by_label.of(label) or syntax.local_by_blank.of(label)
        if (
            not is_local
            and not label.isdigit()
            and label.strip(":+-")
            and kind not in ("constant", "variable", "macro")
        ):
            self._locality = replace(self._locality, label=self._next())

    def _directive(self, row: Row, kind: str) -> Iterator[Line]:
        if kind.startswith("if") or kind in ("else", "else-if", "endif"):
            if kind.startswith("if") or len(self._conditions) > self._feeds[-1].conditions:
                yield from self._label_of(row)
                self._condition(row, kind)
            else:
                yield from self._unopened(row)
            return
        match kind:
            case "macro":
                self._define_macro(row)
            case "repeat" | "for-each" | "for-characters":
                yield from self._label_of(row)
                yield from self._repeat(row, kind)
            case "include":
                yield from self._label_of(row)
                yield from self._include(row)
            case "include-bytes":
                yield self._included_bytes(row)
            case "define" | "define-more" | "undefine":
                yield from self._label_of(row)
                yield from self._replacement(row, kind)
            case "exit-macro":
                self._exit_macro()
            case "end-macro" | "end-repeat":
                self._problem(
                    self._origin(row).place, f"{row.of(row.statement.operation)} without a beginning"
                )
            case "end" if row.of(row.statement.operand).upper().startswith("STRUCT"):
                yield self._line(row, "directive", "end-structure")
            case "end":
                yield self._line(row, "directive", kind)
                self._end()
            case "begin-module":
                self._locality = replace(self._locality, module=self._next())
                yield from self._label_of(row)
            case "scope" | "end-scope":
                yield from self._scope(row, kind)
            case "structure":
                name = row.of(row.statement.label) or row.of(row.statement.operand).partition(" ")[0]
                self._structures.add(name.upper())
                yield self._line(row, "directive", kind)
            case _:
                yield self._line(row, "directive", kind)

    def _scope(self, row: Row, kind: str) -> Iterator[Line]:
        """A procedure's name is seen outside, what it defines is not."""
        scopes = self._locality.scopes
        if kind == "end-scope":
            yield from self._label_of(row)
            self._locality = replace(self._locality, scopes=scopes[:-1])
            return
        label = row.of(row.statement.label)
        name = label or row.of(row.statement.operand).partition(" ")[0].strip("\"'")
        yield replace(self._line(row, "label", ""), label=name or None)
        self._locality = replace(self._locality, scopes=(*scopes, f"{name or self._next()}::"))

    def _replacement(self, row: Row, kind: str) -> Iterator[Line]:
        """A name for a text; where the text is a number it is a symbol like any other."""
        operand, comment = _operand(row), row.statement.comment
        if operand.endswith("\\") and comment and comment.start == len(row.text[: comment.start].rstrip()):
            operand += row.text[comment.start]  # \; makes a comment of all that follows the name
        if kind == "undefine":
            self._replacements.forget(operand.strip())
        elif kind == "define-more":
            self._replacements.go_on(operand)
        elif not self._replacements.define(operand):
            yield self._line(row, "directive", kind)

    def _label_of(self, row: Row) -> Iterator[Line]:
        if row.statement.label:
            yield self._line(row, "label", "")
        elif self._notes_of(row):
            yield self._line(row, "note", "")

    # ---- conditions

    @property
    def _active(self) -> bool:
        return not self._conditions or self._conditions[-1].active

    def _skip(self, row: Row, kind: str | None) -> None:
        """A line of a branch not taken: only conditions count."""
        if kind is None:
            return
        if kind.startswith("if"):
            self._conditions.append(_Condition(False, True, self._origin(row).place))
        elif kind in ("else", "else-if", "endif"):
            self._condition(row, kind)

    def _condition(self, row: Row, kind: str) -> None:
        place = self._origin(row).place
        if kind.startswith("if"):
            holds = self._holds(row, kind)
            self._conditions.append(_Condition(holds, holds, place))
            return
        condition = self._conditions[-1]
        if kind == "endif":
            self._conditions.pop()
        elif condition.both:
            pass
        elif condition.taken:
            condition.active = False
        else:
            condition.active = condition.taken = kind == "else" or self._holds(row, "if")

    def _unopened(self, row: Row) -> Iterator[Line]:
        """ELSE or ENDIF with no IF open; in column 1 with nothing behind, the word is somebody's label."""
        statement = row.statement
        if (
            statement.operation
            and statement.operation.start == statement.whole.start
            and not statement.operand
        ):
            label = replace(row, statement=replace(statement, label=statement.operation, operation=None))
            self._enter(row.of(statement.operation), None)
            yield self._line(label, "label", "")
        else:
            self._problem(self._origin(row).place, f"{row.of(statement.operation)} without IF")

    def _holds(self, row: Row, kind: str) -> bool:
        line = self._line(row, "directive", kind)
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
        return name in self._replacements or self.values.is_defined(line, name)

    # ---- macros and repetitions

    def _macro(self, word: str) -> Macro | None:
        name, _, _ = word.partition(".")
        found = self._macros.get(word.upper()) or self._macros.get(name.upper())
        if found is None:
            return None
        # A macro that redefines an instruction may use that instruction inside.
        inside = any(feed.kind == "macro" and feed.name == found.name for feed in self._feeds)
        return None if inside and found.name in self.vocabulary.mnemonics else found

    def _define_macro(self, row: Row) -> None:
        statement = row.statement
        name, rest = row.of(statement.label), row.of(statement.operand)
        rest = rest.partition(self.vocabulary.syntax.trailing_comment)[0]
        if not name:
            name, rest = [*re.split(r"[\s,]+", rest, maxsplit=1), ""][:2]
        body = self._body(row)
        if body is not None:
            directive = self.vocabulary.syntax.directive
            self._macros[name.upper()] = macro.define(name, macro.parameters(rest), body, directive)
            self.defined[name.upper()] = self._origin(row)

    def _repeat(self, row: Row, kind: str) -> Iterator[Line]:
        """A body several times: so often, or once for each of several texts or characters that a name stands for."""
        line = self._line(row, "directive", kind)
        first, *others = macro.written_arguments(line.operand) or ("",)
        count = self.values.number(line, first) if kind == "repeat" else None
        body = self._body(row)
        if body is None:
            return
        match kind:
            case "for-each":
                name, texts = first, macro.listed(others) if others else ()
            case "for-characters":
                name, texts = first, tuple("".join(macro.arguments(",".join(others))))
            case _ if count is None:
                yield self._line(row, "opaque", f"how often it repeats is not known: {line.operand}")
                return
            case _ if self._repeated + count * len(body) > MOST_REPEATED:
                cause = (
                    f"{count} times {len(body)} lines would be more than {MOST_REPEATED} lines of repetitions"
                )
                yield self._line(row, "opaque", cause)
                return
            case _:
                self._repeated += max(count, 0) * len(body)
                name, texts = ",".join(others), tuple(map(str, range(min(count, MOST_REPEATED))))
        self._feed(self._turns(name, texts, body), "repeat", "", None)

    def _turns(self, name: str, texts: Sequence[str], body: tuple[Row, ...]) -> Iterator[Row]:
        """The rows of each turn; where a name is given, what it stands for put in."""
        if not name:
            for _ in texts:
                yield from body
            return
        turn = macro.define("", macro.parameters(name), body, self.vocabulary.syntax.directive)
        names = self._feeds[-1].names
        for text in texts:
            yield from macro.expand(turn, Call("", (text,), self._next()), names)

    def _body(self, row: Row) -> tuple[Row, ...] | None:
        """The lines up to the matching end, which is passed over; None, and a problem, when there is none.

        Every end closes what was opened last: some people end a repetition as they end a macro.
        """
        directive = self.vocabulary.syntax.directive
        body: list[Row] = []
        depth = 1
        for each in self._feeds[-1].rows:
            kind = directive(each.of(each.statement.operation))
            self.statements += bool(each.statement.operation or each.statement.label)
            depth += (kind in _BODIES) - (kind in _ENDS)
            if depth == 0:
                return tuple(body)
            body.append(each)
        self._problem(self._origin(row).place, f"{row.of(row.statement.operation)} has no end in this file")
        return None

    def _use(self, row: Row, found: Macro, word: str) -> Iterator[Line]:
        yield from self._label_of(row)
        place = self._origin(row).text_place
        if len(self._feeds) > DEEPEST:
            self._problem(
                self._origin(row).place,
                f"macro {found.name} is used more than {DEEPEST} deep; uses it itself",
            )
            while self._feeds[-1].kind != "file":
                self._close()
            return
        self._serial += 1
        call = Call(word.partition(".")[2], macro.arguments(row.of(row.statement.operand)), self._serial)
        names = self._feeds[-1].names
        rows = macro.expand(found, call, names)
        self._feed(rows, "macro", found.name, place)
        self._locality = replace(self._locality, use=self._next(), label=0, blank=0, outer=self._locality)

    def _exit_macro(self) -> None:
        if not any(feed.kind == "macro" for feed in self._feeds):
            return
        while self._feeds[-1].kind != "macro":
            self._drop()
        self._drop()

    # ---- files

    def _include(self, row: Row) -> Iterator[Line]:
        name, _ = include.file_name(_operand_for_people(row))
        place = self._origin(row).place
        paths = self._paths(name, row)
        source = self._found(paths)
        if source is None:
            self.missing_include = self.missing_include or name
            cause = f'include file "{name}" {self._missing(paths)}; its symbols are unknown'
            yield self._line(row, "opaque", cause)
        elif any(feed.kind == "file" and feed.name == source.name for feed in self._feeds):
            self._problem(place, f'"{source.name}" includes itself; passed over')
        elif len(self._feeds) > DEEPEST:
            self._problem(place, f"includes are more than {DEEPEST} deep; passed over")
        else:
            self.inclusions.append(Inclusion(self._origin(row).text_place, source.name))
            self._open(source, self._origin(row).text_place)

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

    def _included_bytes(self, row: Row) -> Line:
        """A file that goes into memory as it is, or a stretch of it: only its length counts."""
        line = self._line(row, "directive", "include-bytes")
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

    def _open(self, source: Source, place: Place | None) -> None:
        is_first = all(source is not each for each in self.files)
        if is_first:
            self.files.append(source)
        rows = (Row(source.text, each, source, each) for each in source.statements)
        self._feed(rows, "file", source.name, place)
        self._feeds[-1].names = _names(source)
        self._feeds[-1].is_first = is_first
        self.written |= self._feeds[-1].names

    def _end(self) -> None:
        """END: nothing of this file counts any more."""
        while self._feeds[-1].kind != "file":
            self._drop()
        self._drop()

    # ---- bookkeeping

    def _feed(self, rows: Iterator[Row], kind: str, name: str, place: Place | None) -> None:
        names = self._feeds[-1].names if self._feeds else frozenset()
        self._feeds.append(_Feed(rows, kind, name, place, names, len(self._conditions), self._locality))

    def _close(self) -> None:
        feed = self._feeds[-1]
        for condition in self._conditions[feed.conditions :]:
            self._problem(condition.place, "IF has no end in this file")
        self._drop()

    def _drop(self) -> None:
        feed = self._feeds.pop()
        del self._conditions[feed.conditions :]
        if feed.kind == "macro":
            self._locality = feed.return_to

    def _next(self) -> int:
        self._serial += 1
        return self._serial

    def _problem(self, place: Place, message: str) -> None:
        self.problems.append(Problem(place, brief(message)))

    def _origin(self, row: Row) -> Origin:
        written = row.written
        first = written.operation or written.label or written.whole
        uses = tuple(feed.place for feed in self._feeds if feed.kind == "macro" and feed.place)
        includes = tuple(feed.place for feed in self._feeds if feed.kind == "file" and feed.place)
        column = first.start - written.whole.start + 1
        return Origin(row.source, written, row.source.name, written.line, column, uses, includes)

    def _line(self, row: Row, kind: Kind, word: str) -> Line:
        statement = row.statement
        return Line(
            row=row,
            kind=kind,
            word=word,
            label=row.of(statement.label) or None,
            operand=row.source.vocabulary.syntax.operand(row.of(statement.operand)),
            origin=self._origin(row),
            locality=self._locality,
            notes=self._notes_of(row),
        )

    def _notes_of(self, row: Row) -> tuple[PlacedNote, ...]:
        source = row.source
        if not source.notes:
            return ()
        by_line = self._notes.get(id(source))
        if by_line is None:
            by_line = {}
            for note in source.notes:
                by_line[note.line] = (*by_line.get(note.line, ()), note)
            self._notes[id(source)] = by_line
        return by_line.get(row.written.line, ())


def _or(names: Sequence[str]) -> str:
    return " or ".join(f"the {name.upper()}" for name in names)


def _next_on_line(row: Row) -> Row:
    more = row.statement.more
    assert more is not None
    return replace(row, statement=more, written=more if row.written is row.statement else row.written)


def _operand_for_people(row: Row) -> str:
    """The operand in the encoding of its file: names of files are more than ASCII."""
    text = row.of(row.statement.operand)
    return text.encode("latin-1", errors="replace").decode(row.source.encoding, errors="replace")


def _operand(row: Row) -> str:
    return row.of(row.statement.operand)


def _names(source: Source) -> frozenset[str]:
    labels = (each.label for statement in source.statements for each in statement.on_line())
    return frozenset(source.text[label.start : label.end] for label in labels if label)
