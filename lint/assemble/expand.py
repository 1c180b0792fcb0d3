"""The flow of text: includes, macros, repetitions and conditions, until only lines that count remain."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

from ..cpu import having
from ..source import Source, Span, Vocabulary, split
from . import macro
from .condition import Conditions, Values
from .feed import Condition, Feeds
from .files import DEEPEST, Files, Reader
from .line import Line, Row
from .macro import Call, Macro
from .program import Origin, Problem
from .replacement import Replacements

LONGEST = 250_000  # lines of all expansions, and of files that are included again
MOST_REPEATED = 131_072  # lines of all repetitions: twice as many as there are addresses

_BODIES = frozenset({"macro", "repeat", "for-each", "for-characters"})
_ENDS = frozenset({"end-macro", "end-repeat"})
# Directives that no operand begins with: what stands before them is a label.
_BEHIND_LABELS = frozenset({"reserve-1", "reserve-2", "reserve-4", "bytes", "words", "text"})
# Directives whose operand is a name, not what it stands for.
_NAMING = ("define", "define-more", "undefine", "if-defined", "if-undefined")


@dataclass(slots=True)
class Expander:
    """Working state of one expansion; `lines` may be called once."""

    vocabulary: Vocabulary
    reader: Reader
    include_paths: Sequence[str]
    values: Values
    written: set[str]  # all words in label position, macro bodies and branches not taken included
    within: Sequence[str] = ()  # folders that what is included has to lie in
    defined: dict[str, Origin] = field(default_factory=dict)
    statements: int = 0
    _macros: dict[str, Macro] = field(default_factory=dict)
    _structures: set[str] = field(default_factory=set)
    _replacements: Replacements = field(default_factory=Replacements)
    _delivered: int = 0
    _repeated: int = 0
    _text: Feeds = field(default_factory=Feeds)
    texts: Files = field(init=False)
    _asked: Conditions = field(init=False)

    def __post_init__(self) -> None:
        self.texts = Files(
            self._text, self.reader, self.include_paths, self.values, self.written, self.within
        )
        self._asked = Conditions(self._text, self.values, self._replacements)

    @property
    def problems(self) -> list[Problem]:
        """What is wrong with the text, as far as it was expanded."""
        return self._text.problems

    def lines(self, source: Source) -> Iterator[Line]:
        """Every line that takes part, in order. Asks `values` while it goes, so each line must be placed at once."""
        self.texts.open(source, None)
        while self._text.feeds:
            feed = self._text.feeds[-1]
            row = next(feed.rows, None)
            if row is None:
                self._text.close()
                continue
            if self._replacements and self._text.active and self._kind_of(row) not in _NAMING:
                row = self._replacements.put_in(row, feed.names)
            if row.statement.more:
                feed.rows = chain([_next_on_line(row)], feed.rows)
            self._delivered += not feed.is_first
            if self._delivered > LONGEST:
                self._text.problem(
                    self._text.origin(row).place, f"more than {LONGEST} lines after expansion; stopped here"
                )
                return
            yield from self._row(row)

    # ---- one line

    def _row(self, row: Row) -> Iterator[Line]:
        statement = row.statement
        if statement.label is None and statement.operation is None:
            if statement.comment is None:
                self._text.locality = replace(self._text.locality, blank=self._text.next())
            elif self._text.active and self._text.notes_of(row):
                yield self._text.line(row, "note", "")
            return
        self.statements += 1
        word = row.of(statement.operation)
        kind = self._kind(word, row)
        if kind and not statement.operand:
            kind = row.source.vocabulary.syntax.alone.get(word.upper().lstrip(".#"), kind)
        if not self._text.active:
            self._asked.skip(row, kind)
            return
        if statement.label:
            self._enter(row.of(statement.label), kind)
        found = self._macro(word)
        if found is not None:
            yield from self._use(row, found, word)
        elif not word:
            yield self._text.line(row, "label", "")
        elif kind is None and (mnemonic := row.source.vocabulary.mnemonic(word)):
            yield self._text.line(row, "instruction", mnemonic)
        elif kind is None and (form := row.source.vocabulary.form(word)):
            line = self._text.line(row, "instruction", form[0])
            yield replace(line, operand=form[1].replace("{}", line.operand), lead=max(0, form[1].find("{}")))
        elif word.upper() in self._structures:
            yield replace(self._text.line(row, "directive", "structure-use"), operand=word)
        elif kind is None and (again := self._behind_label(row)):
            yield from self._row(again)
        elif kind is None or kind == "if-unknown":
            yield self._text.line(row, "opaque", self._strange(row, word))
            if kind:
                self._text.conditions.append(Condition(True, False, self._text.origin(row).place, both=True))
        else:
            yield from self._directive(row, kind)

    def _behind_label(self, row: Row) -> Row | None:
        """A line whose first word is nothing that is known and whose second is an operation: a label further in."""
        statement = row.statement
        if statement.label or not statement.operation:
            return None
        inner = Span(statement.operation.start, statement.whole.end)
        vocabulary = row.source.vocabulary
        again = split(row.text, statement.line, inner, vocabulary, self._text.feeds[-1].names)
        word = row.of(again.operation)
        is_operation = vocabulary.mnemonic(word) or vocabulary.syntax.directive(word) in _BEHIND_LABELS
        if not again.label or not is_operation:
            return None
        self.statements -= 1  # it is one line all the same
        return replace(row, statement=replace(again, whole=statement.whole))

    def _strange(self, row: Row, word: str) -> str:
        others = having(word.upper(), row.source.vocabulary.syntax.name)
        if others:
            return f'"{word}" is an instruction of {_or(others)}, not of this processor'
        # The file that is missing may have it.
        return self.texts.missing or f'"{word}" is no instruction, directive or macro'

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
            self._text.locality = replace(self._text.locality, label=self._text.next())

    def _directive(self, row: Row, kind: str) -> Iterator[Line]:
        if kind.startswith("if") or kind in ("else", "else-if", "endif"):
            if kind.startswith("if") or len(self._text.conditions) > self._text.feeds[-1].conditions:
                yield from self._label_of(row)
                self._asked.condition(row, kind)
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
                yield from self.texts.include(row)
            case "include-bytes":
                yield self.texts.included_bytes_of(row)
            case "define" | "define-more" | "undefine":
                yield from self._label_of(row)
                yield from self._replacement(row, kind)
            case "exit-macro":
                self._exit_macro()
            case "set-argument" | "begin-turns" | "end-turns":
                self._turn(row, kind)
            case "end-macro" | "end-repeat":
                self._text.problem(
                    self._text.origin(row).place, f"{row.of(row.statement.operation)} without a beginning"
                )
            case "end" if row.of(row.statement.operand).upper().startswith("STRUCT"):
                yield self._text.line(row, "directive", "end-structure")
            case "end":
                yield self._text.line(row, "directive", kind)
                self._end()
            case "begin-module":
                self._text.locality = replace(self._text.locality, module=self._text.next())
                yield from self._label_of(row)
            case "scope" | "end-scope":
                yield from self._scope(row, kind)
            case "structure":
                name = row.of(row.statement.label) or row.of(row.statement.operand).partition(" ")[0]
                self._structures.add(name.upper())
                yield self._text.line(row, "directive", kind)
            case _:
                yield self._text.line(row, "directive", kind)

    def _scope(self, row: Row, kind: str) -> Iterator[Line]:
        """A procedure's name is seen outside, what it defines is not."""
        scopes = self._text.locality.scopes
        if kind == "end-scope":
            yield from self._label_of(row)
            self._text.locality = replace(self._text.locality, scopes=scopes[:-1])
            return
        label = row.of(row.statement.label)
        name = label or row.of(row.statement.operand).partition(" ")[0].strip("\"'")
        yield replace(self._text.line(row, "label", ""), label=name or None)
        self._text.locality = replace(self._text.locality, scopes=(*scopes, f"{name or self._text.next()}::"))

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
            yield self._text.line(row, "directive", kind)

    def _label_of(self, row: Row) -> Iterator[Line]:
        if row.statement.label:
            yield self._text.line(row, "label", "")
        elif self._text.notes_of(row):
            yield self._text.line(row, "note", "")

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
            yield self._text.line(label, "label", "")
        else:
            self._text.problem(self._text.origin(row).place, f"{row.of(statement.operation)} without IF")

    # ---- macros and repetitions

    def _macro(self, word: str) -> Macro | None:
        name, _, _ = word.partition(".")
        found = self._macros.get(word.upper()) or self._macros.get(name.upper())
        if found is None and word[:1] == "@":  # @RING uses the macro RING
            found = self._macros.get(word[1:].upper())
        if found is None:
            return None
        # A macro that redefines an instruction may use that instruction inside.
        inside = any(feed.kind == "macro" and feed.name == found.name for feed in self._text.feeds)
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
            self.defined[name.upper()] = self._text.origin(row)

    def _repeat(self, row: Row, kind: str) -> Iterator[Line]:
        """A body several times: so often, or once for each of several texts or characters that a name stands for."""
        line = self._text.line(row, "directive", kind)
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
                yield self._text.line(row, "opaque", f"how often it repeats is not known: {line.operand}")
                return
            case _ if self._repeated + count * len(body) > MOST_REPEATED:
                cause = (
                    f"{count} times {len(body)} lines would be more than {MOST_REPEATED} lines of repetitions"
                )
                yield self._text.line(row, "opaque", cause)
                return
            case _:
                self._repeated += max(count, 0) * len(body)
                name, texts = ",".join(others), tuple(map(str, range(min(count, MOST_REPEATED))))
        self._text.feed(self._turns(name, texts, body), "repeat", "", None)

    def _turns(self, name: str, texts: Sequence[str], body: tuple[Row, ...]) -> Iterator[Row]:
        """The rows of each turn; where a name is given, what it stands for put in."""
        if not name:
            for _ in texts:
                yield from body
            return
        turn = macro.define("", macro.parameters(name), body, self.vocabulary.syntax.directive)
        names = self._text.feeds[-1].names
        for text in texts:
            yield from macro.expand(turn, Call("", (text,), self._text.next()), names)

    def _body(self, row: Row) -> tuple[Row, ...] | None:
        """The lines up to the matching end, which is passed over; None, and a problem, when there is none.

        Every end closes what was opened last: some people end a repetition as they end a macro.
        """
        directive = self.vocabulary.syntax.directive
        body: list[Row] = []
        depth = 1
        feed = self._text.feeds[-1]
        for each in feed.rows:
            self._delivered += not feed.is_first  # what a turn takes in for turns inside it is work, too
            kind = directive(each.of(each.statement.operation))
            self.statements += bool(each.statement.operation or each.statement.label)
            depth += (kind in _BODIES) - (kind in _ENDS)
            if depth == 0:
                return tuple(body)
            body.append(each)
        self._text.problem(
            self._text.origin(row).place, f"{row.of(row.statement.operation)} has no end in this file"
        )
        return None

    def _use(self, row: Row, found: Macro, word: str) -> Iterator[Line]:
        yield from self._label_of(row)
        place = self._text.origin(row).text_place
        if len(self._text.feeds) > DEEPEST:
            self._text.problem(
                self._text.origin(row).place,
                f"macro {found.name} is used more than {DEEPEST} deep; uses it itself",
            )
            while self._text.feeds[-1].kind != "file":
                self._text.close()
            return
        self._text.serial += 1
        call = Call(word.partition(".")[2], macro.arguments(row.of(row.statement.operand)), self._text.serial)
        names = self._text.feeds[-1].names
        rows = macro.expand(found, call, names)
        self._text.feed(rows, "macro", found.name, place)
        self._text.feeds[-1].call = call
        self._text.locality = replace(
            self._text.locality, use=self._text.next(), label=0, blank=0, outer=self._text.locality
        )

    def _turn(self, row: Row, kind: str) -> None:
        """A macro's text that changes an argument, or goes through lines again."""
        call = self._text.call()
        if call is None:
            self._text.problem(
                self._text.origin(row).place, f"{row.of(row.statement.operation)} outside a macro"
            )
            return
        line = self._text.line(row, "directive", kind)
        first, _, rest = line.operand.partition(",")
        number = self.values.number(line, first) if first.strip() not in ("", "#") else None
        match kind:
            case "set-argument" if number is not None:
                call.put(number, rest.strip())
            case "begin-turns":
                call.begin(1 if number is None else number)
            case "end-turns":
                call.repeat(len(call.arguments) if number is None else number)

    def _exit_macro(self) -> None:
        if not any(feed.kind == "macro" for feed in self._text.feeds):
            return
        while self._text.feeds[-1].kind != "macro":
            self._text.drop()
        self._text.drop()

    def _end(self) -> None:
        """END: nothing of this file counts any more."""
        while self._text.feeds[-1].kind != "file":
            self._text.drop()
        self._text.drop()


def _or(names: Sequence[str]) -> str:
    return " or ".join(f"the {name.upper()}" for name in names)


def _next_on_line(row: Row) -> Row:
    more = row.statement.more
    assert more is not None
    return replace(row, statement=more, written=more if row.written is row.statement else row.written)


def _operand(row: Row) -> str:
    return row.of(row.statement.operand)
