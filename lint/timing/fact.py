"""What one instruction does, over all the times control comes by, and what a test of a port's bits tells."""

from __future__ import annotations

from ..cpu import term
from ..cpu.stepper import stepper
from ..cpu.term import Seen, Term
from .result import Access, Context, Fact, Poll


def of_both(a: Fact, b: Fact) -> Fact:
    """What an instruction does in either of two turns or states."""
    ways = dict(a.ways)
    for way, (low, high) in b.ways.items():
        if way in ways:
            least, most = ways[way]
            low, high = min(low, least), None if high is None or most is None else max(high, most)
        ways[way] = (low, high)
    seen = {(x.way, x.address): x for x in a.accesses}
    for x in b.accesses:
        other = seen.get((x.way, x.address))
        seen[x.way, x.address] = x if other is None else _access_of_both(other, x)
    masked = {flag: state if b.masked.get(flag) == state else None for flag, state in a.masked.items()}
    callee = a.callee if a.callee == b.callee else _wider(a, b)
    return Fact(ways, tuple(seen.values()), callee, masked, a.reads | b.reads, a.writes | b.writes)


def _wider(a: Fact, b: Fact) -> Context | None:
    """One context for two calls from the same place with different values."""
    callee = a.callee or b.callee
    return None if callee is None else Context(callee.entry)


def _access_of_both(a: Access, b: Access) -> Access:
    values = None if a.values is None or b.values is None else a.values | b.values
    beyond = a.beyond if a.beyond == b.beyond else None
    return Access(a.instruction, a.way, a.address, min(a.first, b.first), max(a.last, b.last), values, beyond)


def beyond(written: Term) -> int | None:
    """The number of two bytes by which what is written is more than what a port gave; None where it is none."""
    seen = term.inputs([written])
    if not seen or not all(isinstance(given.origin, Seen) for given in seen):
        return None

    def with_each(byte: int) -> int | None:
        found = written
        for given in seen:
            found = term.put(found, given, term.number(byte if given.high < 256 else byte * 257))
        return found.value

    least, more = with_each(0), with_each(1)
    return least if least is not None and more is not None and (more - least) & 0xFFFF == 0x0101 else None


def poll_of(guard: Term) -> Poll | None:
    """(value & mask) == result for a test of bits of one port read."""
    seen = term.inputs([guard])
    if len(seen) != 1:
        return None
    (given,) = seen
    if not isinstance(given.origin, Seen):
        return None
    holds = stepper((guard,), given)
    if holds is None:
        return None
    ready = {value for value in range(256) if holds(value)[0]}
    if not ready or len(ready) == 256:
        return None
    ones = min(ready)
    for value in ready:
        ones &= value
    zeros = 255
    for value in ready:
        zeros &= ~value
    mask = ones | zeros
    if not mask or len(ready) != 1 << (8 - mask.bit_count()):
        return None
    return Poll(given.origin.address, mask, ones)
