"""The figures of one build by file and line: cycles, and what a part needs at an access."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ..board import Board, LeastGap, Limit, MostGap, Operation, Part, Requirement
from ..chain import Chain
from ..quantity import Clock
from ..report import cycles
from ..report.cycles import FileCycles
from ..rules.use import Use, uses
from ..rules.words import needed

_BOUNDS: Final = (LeastGap, MostGap)


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """What a build takes: its files and the limits of parts, by path with every link followed, and by line."""

    chain: Chain
    files: Mapping[str, FileCycles]
    limits: Mapping[tuple[str, int], tuple[str, ...]]

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks to show times at, the chosen one first; there may be none."""
        return self.chain.board.clocks


def figures(chain: Chain) -> Figures:
    """The figures of a build that has been run."""
    files = {os.path.realpath(file.source.name): file for file in cycles(chain).files}
    limits: dict[tuple[str, int], dict[str, None]] = {}
    found = uses(chain.timings, chain.board, chain.timings.handlers)
    told: dict[object, tuple[str, ...]] = {}
    for use in (use for own in found.values() for use in own):
        place = chain.program.instructions[use.site.access.instruction].origin.place
        texts = limits.setdefault((os.path.realpath(place.path), place.line), {})
        same = use.part.name, use.operations
        if same not in told:
            told[same] = tuple(_limits(chain.board, use))
        texts.update(dict.fromkeys(told[same]))
    return Figures(chain, files, {line: tuple(texts) for line, texts in limits.items() if texts})


def _limits(board: Board, use: Use) -> Iterator[str]:
    """What has to lie behind the access; where nothing has to, what before it."""
    every = use.part.family.operations
    behind = [
        _strictest(board, use.part, (each,), every, bound) for bound in _BOUNDS for each in use.operations
    ]
    before = [_strictest(board, use.part, every, use.operations, bound) for bound in _BOUNDS]
    for bound in _BOUNDS:
        own = [need for need in behind if need is not None and isinstance(need.limit, bound)]
        own = own or [need for need in before if need is not None and isinstance(need.limit, bound)]
        if own:
            yield _by_value(board, use.part, own)


def _strictest(
    board: Board,
    part: Part,
    firsts: tuple[Operation, ...],
    thens: tuple[Operation, ...],
    bound: type[LeastGap] | type[MostGap],
) -> Requirement | None:
    clock = board.clocks[0] if board.clocks else None
    needs = board.requirements(part, firsts, thens, clock)
    return next((need for need in needs if isinstance(need.limit, bound)), None)


def _by_value(board: Board, part: Part, needs: Sequence[Requirement]) -> str:
    """What is needed; where that hangs on a value that is not known, the mildest and the strictest it may be."""
    mildest = min(needs, key=lambda need: _seconds(need.limit))
    strictest = max(needs, key=lambda need: _seconds(need.limit))
    if _amount(mildest.limit) == _amount(strictest.limit):
        return _said(board, part, strictest)
    more = f"{_amount(strictest.limit)} from {strictest.first.name} on, if the value is that of it"
    return f"{_said(board, part, mildest)}; {more}"


def _said(board: Board, part: Part, need: Requirement) -> str:
    limit = need.limit
    every = part.family.operations
    clock = board.clocks[0] if board.clocks else None
    thens = [each for each in every if limit in board.limits(part, need.first, each, clock)]
    firsts = [each for each in every if limit in board.limits(part, each, need.then, clock)]
    start = need.first.name if len(thens) > 1 or len(firsts) == 1 else "what comes before"
    end = need.then.name if len(thens) == 1 else "what comes next"
    provided = f", {limit.provided}" if limit.provided else ""
    return f"{limit.whose}: {_amount(limit)} from {start} to {end}{provided}: {limit.source}"


def _amount(limit: Limit) -> str:
    match limit:
        case LeastGap(least=least):
            return f"at least {needed(least)}"
        case MostGap(most=most):
            return f"at most {most.text()}"


def _seconds(limit: Limit) -> Fraction:
    return (limit.least if isinstance(limit, LeastGap) else limit.most).seconds
