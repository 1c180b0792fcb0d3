"""rate-off: a serial line runs at another bit rate than the other side expects."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from ..quantity import Clock, Duration
from .base import Case, Finding, Holds, Open, Rule, Severity, Verdict
from .changes import keeping, per_cent, rests
from .follow import Followed, Unfollowed, followed, goal, place, written_at

# Share of each side, and what a receiver that takes 16 samples a bit stands in all: 8 data bits, no parity. Microchip
# AVR USART documentation, "Recommended maximum receiver baud rate error, normal speed": -4.64 to +4.58 %, 2.0 % for
# each side (-4.54 is printed; 16 * 9 / (15 + 16 * 8 + 8) is -4.64).
TOLERANCE: Final = Fraction(2, 100)
SLOWEST: Final = Fraction(144, 151) - 1
FASTEST: Final = Fraction(160, 153) - 1

_USUAL: Final = (
    *(
        Fraction(rate)
        for rate in (50, 75, 110, 150, 300, 600, 1200, 1800, 2000, 2400, 3600, 4800, 7200, 9600, 14400)
    ),
    *(Fraction(rate) for rate in (19200, 28800, 31250, 38400, 57600, 76800, 115200, 230400, 460800, 921600)),
    Fraction(269, 2),  # 134.5
)


def judge(case: Case) -> Iterator[Verdict]:
    """One verdict for each bit rate a program sets, at the clock at which it is furthest off."""
    found = [each for each in followed(case) if each.output.kind == "rate"]
    for each in found:
        if isinstance(each, Unfollowed):
            if each.moves and case.clocks:
                line = case.program.instructions[each.index].origin.place
                yield Open(f"{each.part.name} {each.output.name} at {line.path}:{line.line}", each.reason)
            continue
        want = wanted(case, each, [other for other in found if isinstance(other, Followed)])
        if want is None:
            yield Open(each.name, "state baud: to know which rate it is meant to have")
        elif case.clocks:
            yield _verdict(case, each, want)


def wanted(case: Case, each: Followed, all_: list[Followed]) -> Fraction | None:
    """The rate it is meant to have: the baud: of the part where it sets but one, else the usual one that it is near to
    at the clock it was written for, else what it is there. None where nothing tells it."""
    own = [other for other in all_ if other.part.name == each.part.name]
    if each.part.baud is not None and len(own) == 1:
        return Fraction(each.part.baud)
    old = written_at(case, each)
    if old is None:
        return None
    rate = 1 / each.before(old).seconds
    near = min(_USUAL, key=lambda usual: abs(usual / rate - 1))
    return near if SLOWEST < rate / near - 1 < FASTEST else rate


def error(rate: Fraction, want: Fraction) -> Fraction:
    """How much too fast a rate is, as a share; below zero too slow."""
    return rate / want - 1


def _verdict(case: Case, each: Followed, want: Fraction) -> Verdict:
    clock = max(
        (side for clock in case.clocks for side in (clock.slowest, clock.fastest)),
        key=lambda clock: abs(error(1 / each.at(clock).seconds, want)),
    )
    off = error(1 / each.at(clock).seconds, want)
    if abs(off) <= TOLERANCE:
        return Holds(each.name, each.at(clock), Duration(1 / want), None)
    lost = not SLOWEST <= off <= FASTEST
    severity: Severity = "error" if lost and each.part.baud is not None else "warning"
    counter, kept = each.keep(1 / (want * each.at(clock).seconds))
    allowed = "no receiver takes more than 4.6 %" if lost else "2 % is the share of one side"
    old = written_at(case, each)
    before = old is not None and abs(error(1 / each.before(old).seconds, want)) > TOLERANCE
    return Finding(
        name=RULE.name,
        severity=severity,
        place=place(case, counter),
        message=(
            f"{each.name}: {each.said()} makes {rate_text(each.at(clock))} at "
            f"{clock.text()}, {per_cent(off)} {'fast' if off > 0 else 'slow'} for {number(want)}; {allowed}; "
            f"{keeping(each, counter, kept)}"
        ),
        subject=each.name,
        index=counter.index,
        notes=(*rests(case, each), *["off at the old clock as well"] * before),
        measured=each.at(clock),
        limit=Duration(1 / want),
        clock=clock,
        short_before=before,
        goal=goal(case, counter, kept) if kept is not None and kept.error <= TOLERANCE else None,
    )


def rate_text(bit: Duration) -> str:
    """The bit rate of a bit that lasts so long."""
    return f"{number(1 / bit.seconds)} baud"


def number(rate: Fraction) -> str:
    """A rate with as many digits as it needs, six at most."""
    return Clock(rate).text(6).removesuffix(" Hz") if rate < 1000 else f"{float(rate):.6g}"


RULE = Rule(
    name="rate-off",
    summary="A serial line runs at another bit rate than the other side expects",
    mend="retime",
    explanation="""
        What it finds: the bit rate that the program sets, from the part's clock, its dividers and the bytes written to
            it, where it is off by more than 2 % at a clock that is judged. What is expected is the baud: of the part,
            else the usual rate that it has at the clock the source was written for.
        Why it matters: both sides may be off by 4.6 % together before the last bit of a character is read wrong; 2 % is
            the share of each. A line made from the bus clock moves with it.
        Example: a 6850 that divides a bus of 0.6144 MHz by 64 runs at 9600 baud; at 1.2288 MHz it runs at 19200.
        Mend: `retime` writes the divider that is named where it stands in one place; else give the part a clock of
            its own.
        When to leave it: the other side follows. Accept it with that reason.
    """,
    judge=judge,
)
