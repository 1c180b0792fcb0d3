"""page-crossing-changes: where a timed loop or its table lies decides what it costs."""

from __future__ import annotations

from collections.abc import Iterator

from ..assemble import Instruction
from ..cpu import Number, elsewhere, varying
from ..timing import Exact, Fact, LoopTiming, Range, timed_loops
from .base import Case, Finding, Rule, Verdict
from .words import counted, subject


def judge(case: Case) -> Iterator[Verdict]:
    """One note for each timed loop that has another cost at another address, by its first instruction that does."""
    for loop in timed_loops(case.timings):
        for node, fact in _facts(case, loop):
            told = _told(case, loop, case.program.instructions[node], fact)
            if told:
                yield Finding(
                    name="page-crossing-changes",
                    severity="note",
                    place=case.program.instructions[loop.head].origin.place,
                    message=f"{loop.name} {told}",
                    subject=loop.name,
                    index=loop.head,
                    measured_cycles=loop.total.cycles if isinstance(loop.total, Exact) else None,
                )
                break


def _facts(case: Case, loop: LoopTiming) -> Iterator[tuple[int, Fact]]:
    """What each instruction of the loop did, in the first routine that has it."""
    for routine in case.timings.routines_at(loop.head)[:1]:
        facts = routine.outcome.facts
        yield from ((node, facts[node]) for node in sorted(loop.key.nodes) if node in facts)


def _told(case: Case, loop: LoopTiming, instruction: Instruction, fact: Fact) -> str:
    """What its place does to an instruction, as the rest of a sentence; nothing where it does nothing."""
    program = case.program
    action = instruction.action
    moving = program.moving(instruction)
    asked = varying(program.cpu, action, moving)
    line = f"{instruction.mnemonic} in line {instruction.origin.line}"
    open_ = any(most is not None and fewest != most for fewest, most in fact.ways.values())
    if not asked:
        return ""
    if not (instruction.placed and instruction.certain):
        if not open_:
            return ""
        return f"takes {_cycles(loop)}: nothing says where it lies, and {line} takes more across a page; align it"
    if any(_crosses(case, instruction, name) for name in asked) and "taken" in fact.ways:
        return f"lies across a page, where {line} takes more; an edit above it changes its time, align it"
    if open_:
        held = (action.fields[hole] for hole in sorted(moving))
        table = next((subject(program, place) for place in held if isinstance(place, int)), "its table")
        return f"reads {table} across a page, where {line} takes more in some turns; align {table}"
    return ""


def _crosses(case: Case, instruction: Instruction, name: str) -> bool:
    """Whether the place alone decides the condition, and it holds here but not everywhere."""
    here = instruction.action.conditions[name]
    others = elsewhere(case.program.cpu, instruction.action, case.program.moving(instruction))
    return (
        isinstance(here, Number)
        and here.value != 0
        and any(moved.action.conditions[name] == Number(0) for moved in others)
    )


def _cycles(loop: LoopTiming) -> str:
    match loop.total:
        case Exact(cycles):
            return counted(cycles, "cycle")
        case Range(fewest, most):
            return f"{fewest} to {most} cycles"
        case _:
            return "a time that varies"


RULE = Rule(
    name="page-crossing-changes",
    summary="Where a timed loop or its table lies decides what it costs",
    mend="",
    explanation="""
        What it finds: a loop that waits, or accesses a part in time with its turns, on a processor that takes more
            for a branch into another page of 256 bytes or for a table that lies across one: where the loop does so,
            or where nothing in the source says at which address it lies.
        Why it matters: the next edit above it, or another origin, moves it, and its time changes without a change
            in its text.
        Example: WAIT: DEX / BNE WAIT takes 5 cycles a turn within a page, and 6 where WAIT is at $02FF.
        Mend: none is made. Align the loop so that it stays within a page, or state its origin.
        When to leave it: some cycles more or less don't matter there. Accept it with that reason.
    """,
    judge=judge,
)
