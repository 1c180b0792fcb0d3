"""Mends offered at the pointer: worked out once for a text, in a process that ends when a newer text comes."""

from __future__ import annotations

import asyncio
import os
from asyncio import subprocess
from collections.abc import Iterator, Mapping, Sequence

from ..chain import Asked
from ..rules import RULES
from .diagnostic import Diagnostic
from .mending import COMMAND, Offer, asking, offers

_MENDABLE = frozenset(rule.name for rule in RULES if rule.mend)


class Mends:
    """The offers for the newest texts; of a text that is not the newest any more nothing is worked out to its end."""

    def __init__(self) -> None:
        self._task: asyncio.Task[tuple[Offer, ...]] | None = None

    def forget(self) -> None:
        """The texts have changed."""
        if self._task is not None:
            self._task.cancel()
        self._task = None

    async def offers(self, asked: Asked, texts: Mapping[str, bytes]) -> tuple[Offer, ...]:
        """The offers, once for all who ask; none where the texts change before they are worked out."""
        if self._task is None:
            self._task = asyncio.create_task(_worked_out(asked, texts))
        try:
            # One who asks and gives up does not take the answer from the others.
            return await asyncio.shield(self._task)
        except asyncio.CancelledError:
            if self._task is not None and not self._task.cancelled():
                raise
            return ()


async def _worked_out(asked: Asked, texts: Mapping[str, bytes]) -> tuple[Offer, ...]:
    process = await asyncio.create_subprocess_exec(
        *COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    try:
        answer, _ = await process.communicate(asking(asked, texts))
    finally:
        if process.returncode is None:
            process.kill()
    return offers(answer)


def mendable(shown: Sequence[Diagnostic], first: int, last: int) -> bool:
    """Whether a finding that some mend is for stands in the lines `first` to `last`, counted from 0."""
    return any(
        each.name in _MENDABLE and each.range.start.line <= last and each.range.end.line >= first
        for each in shown
    )


def offered_at(found: Sequence[Offer], path: str, first: int, last: int) -> Iterator[Offer]:
    """The offers at the lines `first` to `last`, counted from 0; that of all mends at once comes last."""
    here = [
        offer
        for offer in found
        if any(os.path.realpath(name) == path and first <= line - 1 <= last for name, line in offer.lines)
    ]
    yield from sorted(here, key=lambda offer: offer.title.startswith("make all "))
