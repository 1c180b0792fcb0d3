"""What an edited text has that the given one had not: a reason not to make the edit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..chain import Chain
from ..errors import Place


def new_problem(before: Chain, after: Chain) -> str:
    """What the edited text has that the given one had not: a branch out of reach, code over code."""
    known = Counter(message for _, message in _problems(before))
    for place, message in _problems(after):
        known[message] -= 1
        if known[message] < 0:
            return f"the edited text would not do: {place}: {message}"
    if _overlaps(after) > _overlaps(before):
        return "the code would grow over what stands behind it"
    return ""


def _problems(chain: Chain) -> Iterator[tuple[Place, str]]:
    for problem in chain.program.problems:
        yield problem.place, problem.message
    for opaque in chain.program.opaque:
        yield opaque.origin.place, opaque.cause


def _overlaps(chain: Chain) -> int:
    """Bytes that two instructions, or an instruction and data, both claim."""
    program = chain.program
    claimed: set[int] = set(program.data)
    twice = 0
    for instruction in program.instructions:
        for address in range(instruction.address, instruction.end):
            twice += address in claimed
            claimed.add(address)
    return twice
