"""One line cut into label, operation, operand and comment, by the habits of a syntax and nothing else."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from . import several
from .statement import Span, Statement
from .vocabulary import Shape, Vocabulary

# Ctrl-Z is CP/M's end-of-file padding; form feeds are page breaks of printers.
_BLANK = " \t\f\v\x1a"
_BLANKS = re.compile(f"[{_BLANK}]+")
_LABEL = re.compile(r"[A-Za-z0-9_.@?$\\&{}\x80-\xff~!]+")
_COLONS = re.compile(r":{1,2}(?!=)")
_ASSIGN = re.compile(r":?=(?!=)")
_OPERATION = re.compile(r"\*[ \t]*=(?!=)|:?=|#?[^\s;'\"#(=\x1a]+|[^\s\x1a]+")

# A comment that begins with a star and an equals sign goes on with words.
_COUNTER = re.compile(r"\*[ \t]*=[ \t]*[$%@*(0-9]")

_CONTROL = re.compile(r"[#$*][A-Za-z]+(?![A-Za-z0-9_.@?$:])")

_INFIX = re.compile(r"<<|>>|==|!=|<>|<=|>=|&&|\|\||[-+*/%&|^!<>=:]")
_INFIX_WORD = re.compile(r"\.?(?:and|x?or|eor|mod|sh[lr])\.?(?=[ \t])", re.IGNORECASE)
_ATOM = re.compile(r"(?:[$%&@]?[A-Za-z0-9_.@?$\\{}\x80-\xff~:]+|[*$.])")
_FORMED = re.compile(r"[A-Za-z0-9]+[#(),A-Za-z]*(?=[\s;]|$)")
_ANONYMOUS = re.compile(r"(?::|\++|-+)(?=[ \t\f\v\x1a]|$)", re.MULTILINE)
# hi TABLE: a byte of what follows, where no label has that name.
_BYTE_OPERAND = re.compile(r"[A-Za-z0-9_.@$%(*]")
_BYTE_OF = re.compile(r"(?:high|low|hi|lo|msb|lsb)$", re.IGNORECASE)
_AUTO_INCREMENT = re.compile(r"\+{1,2}(?=[\s,\];\x1a]|$)")
# .strlen (NAME): a function of the text, its brackets behind a blank.
_FUNCTION = re.compile(r"\.[A-Za-z]+")
_SHORT_NAME = re.compile(r"(?<![A-Za-z0-9_.@?$)])[A-Za-z]{1,2}$")
_DOUBLE_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|"[^"]*"')
_CHARACTER = re.compile(r"'\\?.'(?![A-Za-z0-9_])|'\\[A-Za-z0-9]|'.")
# A mark of numbers or parameters that can mean neither here: %bell%
_DELIMITER = re.compile(r"%(?![01]+\b)[^%]*%|\\(?![0-9@#*?])[^\\]* [^\\]*\\\s*$", re.MULTILINE)
_UNCLOSED = re.compile(r"'.(?=\s*(?:$|[,;+\-*/)&|]))")
_QUOTED = re.compile(r"'(?:[^']|'')*'")
_PLAIN = re.compile(r"'[^',]*'(?=\s*(?:$|[,;+\-*/)&|]))")
# A text with commas in it, alone between others: none of its apostrophes begins another character.
_SENTENCE = re.compile(r"'.\s*[-+*/&|)][^']{2,}'(?=\s*(?:$|[,;]))")
_CLOSED = re.compile(r"'.'(?!')")
_PLAIN_START = re.compile(r"[A-Za-z0-9_.@?$%&'\"(\[{<>#*+\-~!^\\,\x80-\xff]")
_NUMBER = re.compile(
    r"(?:\$[0-9A-Fa-f]+|0[xX][0-9A-Fa-f]+|[0-9][0-9A-Fa-f]*[hH]|[0-9]+|%[01]+)(?![\w.])|'.'?"
)
_WORD = re.compile(r"[A-Za-z_.@?$%][A-Za-z0-9_.@?$%]*|[0-9][0-9A-Za-z.]*")
_NAME = re.compile(r"[A-Za-z_.@?][A-Za-z0-9_.@?$]*")
_LETTERED = re.compile(r"[A-Z0-9_.@?$]")


def split(text: str, line: int, span: Span, vocabulary: Vocabulary, names: frozenset[str]) -> Statement:
    """The fields of `text[span.start:span.end]`, one line without its line end.

    `names` are words that stand in label position somewhere: they decide whether `A - B` behind a blank is an
    expression or the start of an unmarked comment.
    """
    made: Statement | None = None
    end = span.end
    for start in (*reversed(several.starts(text, span, vocabulary)), span.start):
        made = _Cut(text, line, Span(start, end), vocabulary, names, span, made).statement()
        end = start - 1
    assert made is not None
    return made


def operands(text: str, shape: Shape) -> tuple[Span, ...]:
    """The comma-separated parts of an operand text, blanks around them left out; quotes and brackets hold."""
    parts: list[Span] = []
    start = depth = 0
    for token in _tokens(text, 0, len(text), shape):
        if token.kind == "bracket":
            depth += 1 if text[token.start] in "([{" else -1
        elif token.kind == "comma" and depth == 0:
            parts.append(_stripped(text, start, token.start))
            start = token.end
    parts.append(_stripped(text, start, len(text)))
    return tuple(parts)


def _stripped(text: str, start: int, end: int) -> Span:
    while start < end and text[start] in _BLANK:
        start += 1
    while end > start and text[end - 1] in _BLANK:
        end -= 1
    return Span(start, end)


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str  # atom, string, prefix, infix, comma, bracket, blank
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class _Cut:
    text: str
    line: int
    span: Span
    vocabulary: Vocabulary
    names: frozenset[str]
    whole: Span
    more: Statement | None

    def statement(self) -> Statement:
        text, end = self.text, self.span.end
        start = self._skip(self.span.start)
        if start == end:
            return Statement(self.line, self.whole, more=self.more)
        first_column = start == self.span.start and (start == self.whole.start or text[start - 1] == "\\")
        if self._is_comment(start, first_column):
            return Statement(self.line, self.whole, comment=_stripped(text, start, end), more=self.more)
        label, position = self._label(start, first_column)
        position = self._skip(position)
        if position == end or self.vocabulary.syntax.is_comment(text, position):
            return self._made(label, None, None, position)
        # A star or a bare comment behind a label alone on its line; a real operation is a word.
        if label and text[position] in self.vocabulary.syntax.indented_comments:
            return self._made(label, None, None, position)
        found = _OPERATION.match(text, position, end)
        operation = Span(position, found.end() if found else end)
        if self.vocabulary.formed:
            operation = self._with_form(operation)
        return self._with_operand(label, self._joined(self._alone(operation)))

    def _with_form(self, operation: Span) -> Span:
        """The operation with what names its form: `STA(),Y PTR`."""
        whole = _FORMED.match(self.text, operation.start, self.span.end)
        long_one = whole and self.vocabulary.form(whole.group()) is not None
        return Span(operation.start, whole.end()) if whole and long_one else operation

    def _alone(self, operation: Span) -> Span:
        """Without a comma that belongs to the operand: `LDA, Y+`."""
        word = self.text[operation.start : operation.end]
        return Span(operation.start, operation.end - 1) if word.endswith(",") else operation

    def _joined(self, operation: Span) -> Span:
        """The operation with the second word that belongs to it, as in LDA A."""
        then = self._skip(operation.end)
        second = _OPERATION.match(self.text, then, self.span.end)
        if second is None or second.group().upper() not in self.vocabulary.syntax.split_operations:
            return operation
        both = Span(operation.start, second.end())
        return both if self.vocabulary.mnemonic(self.text[both.start : both.end]) else operation

    def _with_operand(self, label: Span | None, operation: Span) -> Statement:
        shape = self.vocabulary.shape(self.text[operation.start : operation.end])
        start = self._skip(operation.end)
        if shape == "none" or start == self.span.end:
            return self._made(label, operation, None, start)
        if shape == "rest":
            return self._made(label, operation, _stripped(self.text, start, self.span.end), self.span.end)
        operand_end = self._operand_end(start, shape)
        wanted = self.vocabulary.syntax.blank_separated.get(
            self.text[operation.start : operation.end].upper(), 0
        )
        while self._parts(start, operand_end) < wanted and (then := self._next_part(operand_end)):
            operand_end = self._operand_end(then, shape)
        # Not stripped: the character of LDA #' may be a blank.
        operand = Span(start, operand_end)
        return self._made(label, operation, operand if len(operand) else None, operand_end)

    def _operand_end(self, start: int, shape: Shape) -> int:
        if shape == "mixed":
            comment = self.text.find(self.vocabulary.syntax.trailing_comment, start, self.span.end)
            return _stripped(self.text, start, comment if comment > 0 else self.span.end).end
        end = start
        names = self.names if self.vocabulary.syntax.unmarked_comments else None
        marks = self.vocabulary.syntax.slash_comments
        for token in _tokens(self.text, start, self.span.end, shape, names, marked=True, slashes=marks):
            if token.kind != "blank":
                end = token.end
        return end

    def _parts(self, start: int, end: int) -> int:
        """The parts of an operand between commas and blanks; an index register belongs to the one before it."""
        words = re.split(r"[\s,]+", self.text[start:end].upper())
        return sum(word not in self.vocabulary.syntax.index_registers for word in words)

    def _next_part(self, end: int) -> int | None:
        """Where another part of the operand begins behind blanks."""
        then = self._skip(end)
        is_end = then == self.span.end or self.vocabulary.syntax.is_comment(self.text, then)
        return None if is_end or then == end else then

    def _made(self, label: Span | None, operation: Span | None, operand: Span | None, rest: int) -> Statement:
        comment = _stripped(self.text, rest, self.span.end)
        return Statement(
            self.line, self.whole, label, operation, operand, comment if len(comment) else None, self.more
        )

    def _skip(self, position: int) -> int:
        return _behind_blanks(self.text, position, self.span.end)

    def _is_comment(self, start: int, first_column: bool) -> bool:
        syntax = self.vocabulary.syntax
        mark = self.text[start]
        if mark == "*" and syntax.directive("*=") and _COUNTER.match(self.text, start, self.span.end):
            return False
        if mark in "#$*":
            word = _CONTROL.match(self.text, start, self.span.end)
            if word and syntax.directive(word.group()) not in (None, "constant", "variable"):
                return False
            # $EJECT is a control of the listing; $: and $1234 are none.
            if mark != "*":
                return (
                    first_column and mark in syntax.column_one_comments and (mark == "#" or word is not None)
                )
        if mark == "/" and syntax.is_comment(self.text, start):
            return True
        return mark in (syntax.column_one_comments if first_column else syntax.indented_comments)

    def _label(self, start: int, first_column: bool) -> tuple[Span | None, int]:
        """The label, if the line begins with one, and where to read on."""
        text, end = self.text, self.span.end
        word = _LABEL.match(text, start, end)
        if word is None:
            sign = (
                _ANONYMOUS.match(text, start, end)
                if first_column and self.vocabulary.syntax.anonymous
                else None
            )
            return (Span(start, sign.end()), sign.end()) if sign else (None, start)
        label = Span(start, word.end())
        colons = _COLONS.match(text, word.end(), end)
        if colons:
            return label, colons.end()
        if _ASSIGN.match(text, self._skip(word.end()), end):
            # "ASLB = twice" further in is an instruction and its comment.
            is_operation = not first_column and self.vocabulary.mnemonic(word.group()) is not None
            return (None, start) if is_operation else (label, word.end())
        if word.end() < end and text[word.end()] not in _BLANK + ";":
            return None, start
        colon = _COLONS.match(text, self._skip(word.end()), end)
        if first_column and colon and not self.vocabulary.knows(word.group()):
            return label, colon.end()
        if not first_column:
            return (label, word.end()) if self._is_named_indented(word.group(), word.end()) else (None, start)
        if self._is_operation(word.group(), self._skip(word.end())):
            return None, start
        return label, word.end()

    def _is_named_indented(self, word: str, end: int) -> bool:
        """Whether a word that is no operation stands before one that needs a name and a value: `   BELLS EQU 12`."""
        following = _OPERATION.match(self.text, self._skip(end), self.span.end)
        if following is None or following.group().upper() not in self.vocabulary.syntax.name_takers:
            return False
        return self._skip(following.end()) < self.span.end and not self.vocabulary.knows(word)

    def _is_operation(self, word: str, then: int) -> bool:
        """Whether a word in column 1 is the operation, although a label usually stands there."""
        vocabulary = self.vocabulary
        if not vocabulary.syntax.column_one_operations or not vocabulary.knows(word):
            return False
        next_word = _OPERATION.match(self.text, then, self.span.end)
        second = next_word.group().upper() if next_word else ""
        if second.lstrip(".") in vocabulary.syntax.name_takers:
            return False
        if vocabulary.syntax.directive(word) == "assign" and second:
            return True
        if vocabulary.syntax.directive(word) == "declare" and second:
            # Names of other files may be spelled like words of this syntax: EXTERN LIST.
            is_name = second not in vocabulary.bare and self._is_last(then + len(second))
            return is_name or not vocabulary.knows(second)
        if word.upper() in vocabulary.mnemonics:
            # An instruction with an operand is not followed by another instruction: then it is a label's name.
            return word.upper() in vocabulary.bare or second not in vocabulary.mnemonics
        # Labels are called PAGE, ERROR or NAME, too: such a word is a directive unless it looks like a label.
        if not second or second.startswith(";"):
            return word[0] == "." or vocabulary.shape(word) == "none"
        return not vocabulary.knows(second)

    def _is_last(self, position: int) -> bool:
        """Whether nothing but a comment follows."""
        position = self._skip(position)
        return position == self.span.end or self.vocabulary.syntax.is_comment(self.text, position)


def _tokens(
    text: str,
    start: int,
    end: int,
    shape: Shape,
    names: frozenset[str] | None = None,
    marked: bool = False,
    slashes: tuple[str, ...] = (),
) -> Iterator[_Token]:
    """The tokens of an operand; `marked` ends it at a comment's mark, `names` also where one begins without."""
    position = start
    depth = 0
    is_function = is_text = False
    expecting = True  # an operand is expected: after the start, an operator, a comma or an opening bracket
    while position < end:
        character = text[position]
        # FCC ;text; is a text all the same.
        is_mark = shape == "text" and position == start and text.find(";", start + 1, end) > 0
        if character == ";" and marked and not is_mark:
            return
        if character == "/" and slashes and text[position : position + 2] in slashes:
            return
        if character in _BLANK:
            blanks = _BLANKS.match(text, position, end)
            assert blanks
            after = blanks.end()
            if is_text and text[after : after + 1] != ",":
                return
            is_call = is_function and text[after : after + 1] == "("
            if (
                names is not None
                and not is_call
                and not _goes_on(text, after, end, expecting, depth, shape, names)
            ):
                return
            yield _Token("blank", position, after)
            position = after
            continue
        token = _operand(text, position, end, shape) if expecting else _operator(text, start, position, end)
        if token.kind == "atom" and names is not None and _is_byte_of(text, token, end, names):
            token = _Token("prefix", token.start, token.end)
        if token.kind == "bracket":
            depth += 1 if text[token.start] in "([{" else -1
        is_function = token.kind == "atom" and _FUNCTION.fullmatch(text, token.start, token.end) is not None
        # Behind a text in its own marks nothing but a comma goes on.
        is_text = token.kind == "string" and shape == "text" and names is not None and depth == 0
        expecting = token.kind in ("prefix", "infix", "comma") or (
            token.kind == "bracket" and text[token.start] in "([{"
        )
        yield token
        position = token.end


def _is_byte_of(text: str, atom: _Token, end: int, names: frozenset[str]) -> bool:
    """Whether an atom is an operator before another operand: the hi of `hi TABLE`."""
    word = text[atom.start : atom.end]
    after = _behind_blanks(text, atom.end, end)
    is_before_operand = atom.end < after < end and _BYTE_OPERAND.match(text, after, end) is not None
    return is_before_operand and word not in names and _BYTE_OF.match(word) is not None


def _operand(text: str, position: int, end: int, shape: Shape) -> _Token:
    character = text[position]
    if character == "'":
        return _Token("string", position, _apostrophe(text, position, end, shape))
    if character == '"':
        quoted = _DOUBLE_QUOTED.match(text, position, end)
        return _Token("string", position, quoted.end() if quoted else min(end, position + 2))
    is_delimiter = character not in "$%@(,<_\\" or _DELIMITER.match(text, position, end)
    if shape == "text" and not character.isalnum() and is_delimiter:
        closing = text.find(character, position + 1, end)
        if closing > 0:
            return _Token("string", position, closing + 1)
    if character in "([{)]}":
        return _Token("bracket", position, position + 1)
    if character == ",":
        return _Token("comma", position, position + 1)
    atom = _ATOM.match(text, position, end)
    if atom:
        return _Token("atom", position, atom.end())
    return _Token("prefix", position, position + 1)


def _apostrophe(text: str, position: int, end: int, shape: Shape) -> int:
    """Where the text that begins with an apostrophe ends: 'A  'A'  and, among values, 'several'."""
    tries = [_CHARACTER]
    if shape == "text":
        tries = [_QUOTED, _CHARACTER]
    elif shape == "values":
        # 'A,'B are two characters, 'AB,C' is a string; a string whose second character is a comma is rarer.
        tries = [_CLOSED, _PLAIN, _SENTENCE, _UNCLOSED, _QUOTED, _CHARACTER]
    for pattern in tries:
        found = pattern.match(text, position, end)
        if found:
            return found.end()
    return position + 1


def _operator(text: str, start: int, position: int, end: int) -> _Token:
    increment = _AUTO_INCREMENT.match(text, position, end)
    # Three characters hold a register's name and what must stand before it.
    if increment and _SHORT_NAME.search(text, max(start, position - 3), position):
        return _Token("atom", position, increment.end())
    if text[position] == ",":
        return _Token("comma", position, position + 1)
    if text[position] in "([{)]}":
        return _Token("bracket", position, position + 1)
    infix = _INFIX.match(text, position, end) or _INFIX_WORD.match(text, position, end)
    if infix:
        return _Token("infix", position, infix.end())
    return _Token("atom", position, position + 1)


def _goes_on(
    text: str, after: int, end: int, expecting: bool, depth: int, shape: Shape, names: frozenset[str]
) -> bool:
    """Whether the operand goes on at `after`, behind blanks."""
    if after == end or text[after] == ";":
        return False
    if expecting:
        return _PLAIN_START.match(text, after, end) is not None
    if text[after] == ",":
        return _PLAIN_START.match(text, _behind_blanks(text, after + 1, end), end) is not None
    if depth and text[after] in ")]}":
        return True
    infix = _INFIX.match(text, after, end) or _INFIX_WORD.match(text, after, end)
    if infix is None or (shape == "plain" and infix.group() == "="):
        return False
    if depth and _closes(text, after, end, depth):
        return True
    return _can_follow(text, infix.end(), end, infix.group(), names)


def _closes(text: str, position: int, end: int, depth: int) -> bool:
    """Whether the brackets that are open are closed on the line: no comment begins inside them."""
    for character in text[position:end]:
        depth += (character in "([{") - (character in ")]}")
        if depth == 0:
            return True
        if character == ";":
            return False
    return False


def _can_follow(text: str, position: int, end: int, infix: str, names: frozenset[str]) -> bool:
    """Whether behind a spaced operator stands an operand: a number or name, and then no further words."""
    position = _behind_blanks(text, position, end)
    if position < end and text[position] in "([":
        closing = text.find(")" if text[position] == "(" else "]", position, end)
        words = _WORD.findall(text, position, closing)
        return closing > 0 and all(word in names or _NUMBER.fullmatch(word) for word in words)
    number = _NUMBER.match(text, position, end)
    name = _NAME.match(text, position, end)
    operand = number or name
    if operand is None:
        return False
    # Behind these, a comment is as likely: "LDA COUNT * what is left", "LDA COUNT and go on".
    is_doubtful = infix in ("*", "=") or infix[-1].isalpha()
    if name and name.group() not in names and (is_doubtful or not _LETTERED.search(name.group())):
        return False
    rest = _behind_blanks(text, operand.end(), end)
    return rest == end or text[rest] in ",;)]" or _INFIX.match(text, rest, end) is not None


def _behind_blanks(text: str, position: int, end: int) -> int:
    blanks = _BLANKS.match(text, position, end)
    return blanks.end() if blanks else position
