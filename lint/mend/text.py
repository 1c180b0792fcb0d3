"""Edits of source lines: a field replaced with the comment's column kept, a note added, lines put in between."""

from __future__ import annotations

from collections.abc import Iterator

from ..assemble import Instruction
from ..source import Edit, Source, Span, Statement
from .filler import Filler

_LINE_ENDS = (b"\r\n", b"\r", b"\n")
# Stands for text that keeps its case.
_KEPT = "\0"


def replaced(source: Source, span: Span, text: str) -> list[Edit]:
    """The span with other text; blanks before the line's comment give or take the difference where they can."""
    statement = source.statements[source.place(span.start).line - 1]
    made = [Edit(span.start, span.end, text.encode(source.encoding))]
    comment, last = statement.comment, statement.operand or statement.operation
    longer = len(made[0].text) - len(span)
    if comment is None or not longer or last is None:
        return made
    gap = source.data[last.end : comment.start]
    if gap.strip(b" "):
        return made
    if longer < 0:
        return [*made, Edit(last.end, last.end, b" " * -longer)]
    spare = min(longer, len(gap) - 1)
    if spare > 0:
        return [*made, Edit(comment.start - spare, comment.start, b"")]
    return made


def noted(source: Source, statement: Statement, note: str) -> Edit:
    """The line with `timing: note` at its end, in its comment where it has one."""
    text = f"timing: {note}"
    if statement.comment is None:
        end = _fields_end(source, statement)
        column = _comment_column(source, statement)
        blanks = " " * max(2, column - (end - statement.whole.start))
        return Edit(end, statement.whole.end, f"{blanks}; {text}".encode())
    end = statement.comment.start + len(source.data[statement.comment.start : statement.comment.end].rstrip())
    return Edit(end, end, f"; {text}".encode())


def _fields_end(source: Source, statement: Statement) -> int:
    """Where a line without a comment ends, the colon of a label that stands alone included."""
    whole = statement.whole
    return whole.start + len(source.data[whole.start : whole.end].rstrip(b" \t\f\v\x1a"))


def _comment_column(source: Source, statement: Statement) -> int:
    """Where the nearest line with code and a comment has its comment; without tabs, or they would not line up."""
    if b"\t" in source.data[statement.whole.start : statement.whole.end]:
        return 0
    near = sorted(
        (s for s in source.statements if s.comment is not None and s.operation is not None),
        key=lambda s: abs(s.line - statement.line),
    )
    for other in near[:1]:
        assert other.comment is not None
        if b"\t" not in source.data[other.whole.start : other.comment.start]:
            return other.comment.start - other.whole.start
    return 0


def inserted(instruction: Instruction, lines: list[tuple[str, str]], remark: str) -> Edit:
    """New instruction lines behind the instruction's own line, laid out like it; the first carries the remark."""
    source, statement = instruction.origin.source, instruction.origin.statement
    return _behind(source, statement, list(_lines(source, statement, lines, remark)))


def _behind(source: Source, statement: Statement, lines: list[bytes]) -> Edit:
    """New lines without a label behind the one of a statement."""
    whole = source.lines[statement.line - 1]
    end = _line_end(source, whole)
    newline = end or _usual_line_end(source)
    lead = _lead(source, statement)
    block = newline.join(lead + line for line in lines)
    return Edit(whole.end, whole.end, block + newline if end else newline + block)


def exchanged(instruction: Instruction, lines: list[tuple[str, str]], own: tuple[str, str]) -> list[Edit]:
    """Other instructions in place of one, on its line and new ones behind; labels and comment stay where they are.

    `own` is a mark in the operands, and the author's words to be written for it, as they are.
    """
    source, statement = instruction.origin.source, instruction.origin.statement
    operation = statement.operation
    assert operation is not None
    mark, words = (text.encode(source.encoding) for text in own)
    first, *others = (line.replace(mark, words) for line in _lines(source, statement, lines, ""))
    span = Span(operation.start, (statement.operand or operation).end)
    edits = replaced(source, span, first.decode(source.encoding))
    return [*edits, _behind(source, statement, others)] if others else edits


def put_before(instruction: Instruction, lines: list[tuple[str, str]], remark: str) -> Edit:
    """New instruction lines before the instruction; a label on its line comes to stand at the first of them."""
    source, statement = instruction.origin.source, instruction.origin.statement
    newline = _line_end(source, source.lines[statement.line - 1]) or _usual_line_end(source)
    lead = _lead(source, statement)
    first, *others = _lines(source, statement, lines, remark)
    assert statement.operation is not None
    block = newline.join([first, *(lead + line for line in (*others, b""))])
    return Edit(statement.operation.start, statement.operation.start, block)


def around(
    instruction: Instruction, load: Filler, label: str, inner: tuple[Span, str] | None, remark: str
) -> list[Edit]:
    """Another load in place of an instruction, which then stands behind it with a label and the remark.

    `inner` is other text for a part of its operand. Labels and the comment of its line stay where they are.
    """
    source, statement = instruction.origin.source, instruction.origin.statement
    operation, operand = statement.operation, statement.operand
    assert operation is not None
    assert operand is not None
    whole = source.lines[statement.line - 1]
    end = _line_end(source, whole)
    newline = end or _usual_line_end(source)
    if source.data[operation.start : operation.end].islower():
        label = label.lower()
    (first,) = _lines(source, statement, [(load.mnemonic, load.operand)], "")
    old = source.data[operation.start : operand.end]
    if inner is not None:
        span, text = inner
        start, behind = span.start - operation.start, span.end - operation.start
        old = old[:start] + text.encode(source.encoding) + old[behind:]
    lead = _lead(source, statement)
    mark = label.encode() + _label_mark(source, statement)
    mark = mark + lead if lead == b"\t" else mark.ljust(max(len(lead), len(mark) + 1))
    line = mark + old
    if remark:
        line = line.ljust(max(_comment_column(source, statement), len(line) + 2)) + f"; {remark}".encode()
    return [
        *replaced(source, Span(operation.start, operand.end), first.decode(source.encoding)),
        Edit(whole.end, whole.end, line + newline if end else newline + line),
    ]


def instead(
    instruction: Instruction, lines: list[tuple[str, str, str, str]], kept: tuple[Span, str] | None
) -> list[Edit]:
    """Other instructions in place of one: each a word and its operand in three parts, the second of which is not cased.

    With `kept` the instruction stays, with other text for that part of its operand, and they stand behind it. Labels
    and the comment of its line stay where they are.
    """
    source, statement = instruction.origin.source, instruction.origin.statement
    operation, operand = statement.operation, statement.operand
    assert operation is not None
    assert operand is not None
    written = [
        next(_lines(source, statement, [(word, before + _KEPT + behind)], "")).replace(
            _KEPT.encode(), given.encode(source.encoding)
        )
        for word, before, given, behind in lines
    ]
    if kept is not None:
        edits = replaced(source, *kept)
    else:
        edits = replaced(source, Span(operation.start, operand.end), written.pop(0).decode(source.encoding))
    if written:
        whole = source.lines[statement.line - 1]
        end = _line_end(source, whole)
        newline = end or _usual_line_end(source)
        block = newline.join(_lead(source, statement) + line for line in written)
        edits.append(Edit(whole.end, whole.end, block + newline if end else newline + block))
    return edits


def _label_mark(source: Source, near: Statement) -> bytes:
    """What stands behind the nearest label."""
    labelled = sorted(
        (s for s in source.statements if s.label is not None and s.operation is not None),
        key=lambda s: abs(s.line - near.line),
    )
    for other in labelled[:1]:
        assert other.label is not None
        return b":" if source.data[other.label.end : other.label.end + 1] == b":" else b""
    return b""


def _line_end(source: Source, whole: Span) -> bytes:
    line = source.data[whole.start : whole.end]
    return next((e for e in _LINE_ENDS if line.endswith(e)), b"")


def _lines(source: Source, near: Statement, lines: list[tuple[str, str]], remark: str) -> Iterator[bytes]:
    """Operations and operands laid out and cased as in a statement nearby, without what stands before them."""
    operation = near.operation
    assert operation is not None
    lower = source.data[operation.start : operation.end].islower()
    column, tab = _operand_column(source, near)
    for number, (word, operand) in enumerate(lines):
        if lower:
            word, operand = word.lower(), operand.lower()
        text = (word + tab if tab else f"{word} ".ljust(column)) + operand if operand else word
        if number == 0 and remark:
            wide = _comment_column(source, near) - len(_lead(source, near))
            text = text.ljust(max(wide, len(text) + 2)) + f"; {remark}"
        yield text.encode(source.encoding)


def _lead(source: Source, statement: Statement) -> bytes:
    """What stands before the operation on a line without a label, after the manner of this one."""
    operation = statement.operation
    assert operation is not None
    before = source.data[statement.whole.start : operation.start]
    if not before.strip():
        return before or b"        "
    label = before[: len(before.rstrip())]
    blanks = before[len(label) :]
    if b"\t" in blanks:
        return b"\t"
    return b" " * len(before)


def _operand_column(source: Source, statement: Statement) -> tuple[int, str]:
    """Where the nearest line with an operand has it, from the operation on; a tab where one leads to it."""
    near = sorted(source.statements, key=lambda other: abs(other.line - statement.line))
    for other in near:
        if other.operation is not None and other.operand is not None:
            blanks = source.data[other.operation.end : other.operand.start].decode("latin-1")
            return other.operand.start - other.operation.start, "\t" if "\t" in blanks else ""
    return 0, ""


def _usual_line_end(source: Source) -> bytes:
    for line in source.lines:
        text = source.data[line.start : line.end]
        for end in _LINE_ENDS:
            if text.endswith(end):
                return end
    return b"\n"
