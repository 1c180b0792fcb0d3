"""Several statements on one line: where each begins."""

import re

from .statement import Span
from .vocabulary import Vocabulary

_MARK = re.compile(r"(?<![A-Za-z0-9])'[^']*'|\"[^\"]*\"|[;/\\!:]")
_STATEMENT = re.compile(
    r"[ \t]*(?:(?P<label>[A-Za-z_.@?][\w.@?$]*):[ \t]+)?(?P<operation>[.#]?[A-Za-z][\w.]*)(?![\w.:=(])"
)

_LABEL = re.compile(r"[A-Za-z_.@?][\w.@?$]*(?:(?P<colon>:)|[ \t]+(?P<operation>[.#]?[A-Za-z][\w.]*))")


def starts(text: str, span: Span, vocabulary: Vocabulary) -> tuple[int, ...]:
    """Where the statements of a line begin, but for the first: one character behind the mark that separates them.

    A mark is one where an operation follows it: behind a backslash between blanks any word, which may be a macro,
    else a known one.
    """
    syntax = vocabulary.syntax
    if not any(text.find(mark, span.start, span.end) >= 0 for mark in syntax.separators):
        return ()
    found: list[int] = []
    begin = text[span.start : span.end].lstrip()
    # A line for the preprocessor may put separators into other lines.
    if begin[:1] in ("#", *syntax.column_one_comments, *syntax.indented_comments):
        return ()
    for mark in _MARK.finditer(text, span.start, span.end):
        if mark.group() in syntax.separators:
            before = text[found[-1] if found else span.start : mark.start()]
            is_label = mark.group() == ":" and len(before.split()) <= 1
            if not is_label and _begins(text, mark.end(), span.end, mark.group(), before, vocabulary):
                found.append(mark.end())
        elif syntax.is_comment(text, mark.start()):
            break
    return tuple(found)


def _begins(text: str, position: int, end: int, mark: str, before: str, vocabulary: Vocabulary) -> bool:
    rest = text[position:end]
    word = _STATEMENT.match(rest)
    is_apart = rest[:1].isspace()
    if mark == "\\":
        # What follows without a blank stands in the first column: a label, or a comment.
        label = _LABEL.match(rest)
        if label and (label["colon"] or vocabulary.knows(label["operation"])):
            return True
        if vocabulary.syntax.trailing_comment == rest[:1] or (is_apart and not before.strip()):
            return True
        if word and is_apart and before[-1:].isspace():
            return True
    if word is None or (mark == "!" and not is_apart and not before[-1:].isspace()):
        return False
    return vocabulary.knows(word["operation"])
