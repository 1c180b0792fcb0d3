"""not-understood: part of the source, or a timing note in it, could not be read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from ..assemble import Origin, Program
from ..errors import Place
from .base import Case, Finding, Rule, Verdict
from .words import counted

_MOST_WORDS = 6


def judge(case: Case) -> Iterator[Verdict]:
    """Lines without a meaning (each cause once a file), problems of the text, and notes that were not understood."""
    alike: dict[tuple[str, str], list[Origin]] = {}
    for opaque in case.program.opaque:
        path = "" if opaque.cause == case.program.missing else opaque.origin.path
        alike.setdefault((path, opaque.cause), []).append(opaque.origin)
    for (_, cause), origins in alike.items():
        lines = {(origin.path, origin.line) for origin in origins}
        more = f", and {counted(len(lines) - 1, 'line')} more" if len(lines) > 1 else ""
        if more and cause == case.program.missing:
            more += f" that may need it ({_words(origins[1:])})"
        message = f"{cause}{more}; its size and time are unknown"
        first = origins[0]
        texts = (*first.uses[1:], first.text_place) if first.uses else ()
        notes = tuple(f"{place}: in the text of the macro" for place in texts)
        yield replace(_finding(first.place, message, cause, len(lines)), notes=notes)
    for problem in case.program.problems:
        yield _finding(problem.place, problem.message, problem.message)
    for bad in case.program.bad_notes:
        yield _finding(bad.place, bad.message, bad.message)
    if case.program.undefined:
        names = ", ".join(sorted(case.program.undefined))
        asked = ", ".join(_choices(case.program, name) for name in sorted(case.program.undefined))
        message = f"conditions ask for {asked}, which nothing defines; -D NAME=VALUE decides them"
        yield Finding("not-understood", "note", Place(case.program.path), message, names)


def _words(origins: Sequence[Origin]) -> str:
    """The operations of some lines, in order of appearance; a long list loses its end."""
    spans = ((origin.source, origin.statement.operation) for origin in origins)
    words = list(dict.fromkeys(source.of(span) for source, span in spans if span))
    return ", ".join(words[:_MOST_WORDS]) + (" ..." if len(words) > _MOST_WORDS else "")


def _choices(program: Program, name: str) -> str:
    """A name with what the conditions compare it with."""
    found = program.choices.get(name, ())
    if len(found) == 1 and found[0].isdigit():
        found = (found[0], f"not {found[0]}")
    return f"{name} ({' or '.join(found)})" if found else name


def _finding(place: Place, message: str, subject: str, count: int = 1) -> Finding:
    return Finding("not-understood", "warning", place, message, subject, count=count)


RULE = Rule(
    name="not-understood",
    summary="Part of the source could not be read",
    mend="",
    explanation="""
        What it finds: lines that are neither an instruction nor a directive nor a macro that is known, operands that
            don't parse, timing notes that say nothing; and, as a note, names that decide conditions and are
            defined nowhere.
        Why it matters: what such a line does and how long it takes is unknown, so totals across it are unknown too,
            and addresses behind it may be off.
        Example: BRAA LOOP, or an included file that is not there.
        Mend: none is made; correct the line, name the include folder, or define the symbol.
        When to leave it: the line is for another tool and makes no code.
    """,
    judge=judge,
)
