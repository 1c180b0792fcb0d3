"""claim-off: a comment or label names a time that the wait beside it does not take."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ..assemble import Instruction
from ..quantity import Clock
from ..timing import Wait, waits
from .base import Case, Finding, Rule, Verdict
from .claim import Claim, clock_in, in_comment, in_label, is_bare
from .stated import left_alone
from .words import counted, lasting

_OFF: Final = Fraction(2, 100)
_OFF_ABOUT: Final = Fraction(5, 100)
# How many lines of comment above a wait speak of it.
_LINES_ABOVE: Final = 4
# How many instructions around a wait tell whether its code is marked with running times. Common practice.
_NEARBY: Final = 8


def judge(case: Case) -> Iterator[Verdict]:
    """Waits whose nearest claim is off at the clock it names, else the one the source was written for."""
    clock = case.written_for or next(iter(case.clocks), None)
    found = waits(case.timings) if clock is not None else ()
    waiting = {index for wait in found for index in (wait.index, *wait.part.nodes)}
    for wait in found:
        if not left_alone(case, wait):
            for said in _said(case, wait):
                assert clock is not None
                if said.bare and _marked(case, wait, waiting):
                    break
                yield from _finding(case, wait, said, said.clock or clock)
                break


@dataclass(frozen=True, slots=True)
class _Said:
    """The claims that stand in one place, and the clock they name; `bare` where nothing else stands there."""

    claims: list[Claim]
    clock: Clock | None
    bare: bool = False


def _marked(case: Case, wait: Wait, waiting: Collection[int]) -> bool:
    """Whether instructions close by that do not wait bear nothing but a time as well.

    Then they all are marked with when they run, or what is due there, not with how long they take.
    """
    around = range(
        max(0, wait.index - _NEARBY), min(len(case.program.instructions), wait.index + _NEARBY + 1)
    )
    return any(
        index not in waiting and is_bare(_comment(case.program.instructions[index])) for index in around
    )


def _said(case: Case, wait: Wait) -> Iterator[_Said]:
    """What is claimed about the wait, the nearest first: its label, its lines, the comment above it, its calls."""
    instructions = case.program.instructions
    first = instructions[wait.index]
    labels = [] if wait.kind == "call" else [claim for label in first.labels for claim in in_label(label)]
    if labels:
        yield _Said(labels, None)
    own = [first, *(instructions[index] for index in sorted(wait.part.nodes) if index != wait.index)]
    texts = [*map(_comment, own), *_above(first)]
    if wait.kind == "routine":
        calls = (c.source for c in case.timings.graph.calls.values() if c.target == wait.index)
        texts += [_comment(instructions[source]) for source in calls]
    for text in texts:
        claims = in_comment(text)
        if claims:
            yield _Said(claims, clock_in(text), is_bare(text))


def _comment(instruction: Instruction) -> str:
    span = instruction.origin.statement.comment
    return instruction.origin.source.of(span) if span is not None else ""


def _above(instruction: Instruction) -> Iterator[str]:
    """The lines of comment directly above an instruction, from the nearest up."""
    source = instruction.origin.source
    line = instruction.origin.statement.line
    for statement in reversed(source.statements[max(0, line - 1 - _LINES_ABOVE) : line - 1]):
        if statement.operation is not None or statement.comment is None:
            return
        yield source.of(statement.comment)


def _finding(case: Case, wait: Wait, said: _Said, clock: Clock) -> Iterator[Finding]:
    lasts = clock.duration(wait.cycles)
    nearest = min(said.claims, key=lambda claim: abs(claim.time(clock).seconds - lasts.seconds))
    claimed = nearest.time(clock)
    allowed = claimed.seconds * (_OFF_ABOUT if nearest.about else _OFF)
    if abs(claimed.seconds - lasts.seconds) <= allowed:
        return
    instruction = case.program.instructions[wait.index]
    verb = "called here takes" if wait.kind == "call" else "takes"
    yield Finding(
        name="claim-off",
        severity="warning",
        place=instruction.origin.place,
        message=(
            f"{wait.name} {verb} {counted(wait.cycles, 'cycle')}, {lasting(wait.cycles, clock)}; "
            f'"{nearest.text}" is written beside it'
        ),
        subject=wait.name,
        index=wait.index,
        measured_cycles=wait.cycles,
        measured=lasts,
        limit=claimed,
        clock=clock,
    )


RULE = Rule(
    name="claim-off",
    summary="A comment or label names a time that the code does not take",
    mend="",
    explanation="""
        What it finds: a wait with a time or a number of cycles in its label, on its lines, in the comment above it or
            at its calls, off by more than 2 % (5 % after "about" or "~") at the clock the comment names, else at the
            clock the source was written for. Cycles of single instructions are not meant.
        Why it matters: the comment or the code is wrong, or they were written for another clock. Whoever rescales by
            the comment makes it worse.
        Example: DELAY10MS that takes 8000 cycles at 1 MHz lasts 8 ms.
        Mend: none is made: a comment is never taken as the time that is meant. A timing note is.
        When to leave it: the comment counts something else in, such as the call around it. Where instructions close by
            that do not wait bear bare times too, they tell when things are due, and nothing is said.
    """,
    judge=judge,
)
