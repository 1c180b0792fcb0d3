"""handler-too-long: an interrupt's handler takes longer than the time until the next one."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import Interrupt
from ..timing import Context, Exact, Formula, Handler, Range, Unknown
from ..timing.wording import total
from .base import Case, Finding, Holds, Open, Rule, Verdict
from .words import lasting


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each interrupt with a period: longest handler, entry and return included, at each clock."""
    handlers = {handler.name: handler for handler in case.handlers}
    for interrupt in case.board.interrupts:
        if interrupt.period is not None and interrupt.name in handlers and case.clocks:
            yield _verdict(case, interrupt, handlers[interrupt.name])


def _verdict(case: Case, interrupt: Interrupt, handler: Handler) -> Verdict:
    period = interrupt.period
    assert period is not None
    name = case.timings.graph.name(handler.entry)
    outcome = case.timings.analysis.outcome(Context(handler.entry))
    if handler.most is None or outcome.cost is None:
        return Open(name, outcome.reason or f"the processor has no interrupt called {interrupt.name}")
    spent = total(outcome.cost, case.timings.graph)
    clock = min(clock.slowest for clock in case.clocks)
    match spent:
        case Exact(cycles=most) | Range(most=most):
            sure = True
        case Formula(most=most):
            sure = False
        case Unknown(reason=reason):
            return Open(name, reason)
    cycles = case.timings.analysis.between(handler.entry).most(handler.most + most)
    if clock.duration(cycles + case.stretched) <= period:
        return Holds(name, clock.duration(cycles), period, None)
    takes = f"takes up to {cycles} cycles with its entry, {lasting(cycles, clock)}"
    comes = f"{interrupt.name} comes every {period.text()}"
    if not sure:
        return Open(name, f"{takes}, as {', '.join(_inputs(spent))} has it; {comes}")
    return Finding(
        name="handler-too-long",
        severity="error",
        place=case.program.instructions[handler.entry].origin.place,
        message=f"{name} {takes}; {comes}",
        subject=name,
        index=handler.entry,
        measured_cycles=cycles,
        measured=clock.duration(cycles),
        limit=period,
        clock=clock,
        short_before=case.written_for is not None and case.written_for.duration(cycles) > period,
    )


def _inputs(spent: object) -> tuple[str, ...]:
    return spent.inputs if isinstance(spent, Formula) else ()


RULE = Rule(
    name="handler-too-long",
    summary="An interrupt's handler takes longer than its period",
    mend="",
    explanation="""
        What it finds: an interrupt of the project file with a period, whose handler can take longer than that at a
            clock that is judged: accepting the interrupt, the longest way through, and the return.
        Why it matters: interrupts are lost, or the program never gets on between two of them.
        Example: a handler of 30000 cycles for an interrupt every 20 ms is too long at 1 MHz, and fits at 2 MHz.
        Mend: none is made; shorten the handler or make the period longer.
        When to leave it: the longest way is run once, and a lost interrupt then does no harm.
    """,
    judge=judge,
)
