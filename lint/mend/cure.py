"""What a part itself offers in place of a pad: a flag to poll, a mode in which it is quicker. Shown, never written."""

from __future__ import annotations

from collections.abc import Iterator

from ..board import Board, LeastGap, Part
from ..board.part import Fixed, LimitRow, Poll
from ..quantity import Duration
from ..rules import PadGoal


def cures(board: Board, goal: PadGoal, there: Duration) -> Iterator[str]:
    """Other ways to meet the limit of a pair, in words; `there` is the time that now lies between its accesses."""
    found = board.part_at(goal.first.access.address)
    if found is None or goal.limit is None:
        return
    part, _ = found
    if goal.limit.poll is not None:
        yield _polled(goal.limit, goal.limit.poll)
    own = next((row for row in part.family.limits if row.evidence is goal.limit.evidence), None)
    if own is not None:
        yield from _modes(part, own, there)


def _polled(limit: LeastGap, poll: Poll) -> str:
    ready = "the byte last written" if poll.ready is None else f"${poll.ready:02X}"
    return (
        f"or read {limit.whose} ({poll.port}) until it is {ready} in the bits ${poll.mask:02X}, its {poll.name}: "
        "that lasts as long as the part takes at every clock, and a read more"
    )


def _modes(part: Part, own: LimitRow, there: Duration) -> Iterator[str]:
    for row in part.family.limits:
        amount = row.amounts.get(part.grade.name)
        alike = row.kind == own.kind and row.first == own.first and row.then == own.then
        # A mode with another picture is no cure: only one that holds under another condition, such as the display off.
        alike = alike and row.evidence.condition != own.evidence.condition
        if (
            alike
            and part.mode.name not in row.modes
            and isinstance(amount, Fixed)
            and amount.duration <= there
        ):
            mode = " or ".join(sorted(row.modes))
            condition = f" ({row.evidence.condition})" if row.evidence.condition else ""
            yield f"or do it while {part.name} is {mode}{condition}: {amount.duration.text()} are enough there"
