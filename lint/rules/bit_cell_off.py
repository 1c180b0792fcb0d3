"""bit-cell-off: the bits of a serial line made by the program do not last as long as the other side expects."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..quantity import Clock, Duration
from .base import Case, Finding, Holds, Open, Rule, Verdict
from .frame import LOST, Sent, frames
from .rate_off import number


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each frame that is sent and received, at the clock at which it is furthest off."""
    for each in frames(case):
        if isinstance(each, Open):
            yield each
        elif case.clocks:
            yield _verdict(case, each)


def _verdict(case: Case, each: Sent) -> Verdict:
    clock = max(
        (side for clock in case.clocks for side in (clock.slowest, clock.fastest)),
        key=lambda clock: abs(each.worst(clock)[1]),
    )
    edge, off = each.worst(clock)
    name = f"{each.part.name} {each.way}"
    if abs(off) <= each.share:
        return Holds(
            name, clock.duration(edge.most), Duration(each.bit.seconds * edge.bits), each.lines()[0].highest
        )
    right = each.bit.cycles(clock)
    old = case.written_for
    before = old is not None and abs(each.worst(old)[1]) > each.share
    lost = abs(off) > LOST
    what = "its edge" if each.way == "sent" else "the look"
    return Finding(
        name=RULE.name,
        severity="error" if lost else "warning",
        place=case.program.instructions[each.index].origin.place,
        message=(
            f"{name} with {_cell(each)} a bit: after {_bits(edge.bits)} bits {what} is {_off(off)} at "
            f"{clock.text()} for {number(1 / each.bit.seconds)} baud; "
            f"{'half a bit loses it' if lost else f'{float(each.share):.2g} bit is the share of one side'}; "
            f"{float(right):.5g} cycles are a bit"
        ),
        subject=name,
        index=each.index,
        notes=(*_rests(each, clock), *["off at the old clock as well"] * before),
        measured_cycles=each.cell[1],
        measured=clock.duration(each.cell[1]),
        limit=each.bit,
        clock=clock,
        holds_up_to=each.lines()[0].highest,
        short_before=before,
    )


def _cell(each: Sent) -> str:
    fewest, most = each.cell
    return f"{fewest} cycles" if fewest == most else f"{fewest} to {most} cycles"


def _bits(bits: Fraction) -> str:
    return f"{float(bits):g}"


def _off(off: Fraction) -> str:
    return f"{float(abs(off)):.2f} bit {'late' if off > 0 else 'early'}"


def _rests(each: Sent, clock: Clock) -> Iterator[str]:
    frame = each.part.family.frame
    assert frame is not None
    yield f"a frame of {frame.bits} bits: {frame.evidence.text}"
    for edge in each.edges:
        early, late = edge.off(clock, each.bit)
        off = late if abs(late) >= abs(early) else -early
        cycles = (
            f"{edge.fewest} cycles" if edge.fewest == edge.most else f"{edge.fewest} to {edge.most} cycles"
        )
        yield f"{_bits(edge.bits)} bits: {cycles}, {_off(off)}"


RULE = Rule(
    name="bit-cell-off",
    summary="The bits of a serial line made by the program do not last as they should",
    mend="",
    explanation="""
        What it finds: a line of the family softserial whose bits the program counts itself. The cycles from one bit to
            the next are added up over the whole frame, sending and receiving, with the turn of the loop that waits for
            a start bit; a finding is made where a bit begins, or is looked at, further from its place than 0.19 bit,
            which is 2 % over a frame of 10.
        Why it matters: half a bit off, the neighbour is read. The errors of all bits of a frame add up, so what looks
            near enough for one bit need not be for ten.
        Example: 52 cycles a bit are 9615 baud at 500 kHz; at 1 MHz they are 19231, and the third bit of 9600 is lost.
        Mend: none is made; the number of cycles that is named is what a bit has to take, best with a wait that is
            retimed.
        When to leave it: the other side follows. Accept it with that reason.
    """,
    judge=judge,
)
