"""One analysis at a time beside the conversation: what is asked for last is run, what it replaces is given up."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Iterable
from functools import partial
from typing import Final, Generic, TypeVar

from ..chain import with_room
from .analysis import Stop, Superseded

Result = TypeVar("Result")
Work = Callable[[Stop], Iterable[Result]]

# Editors send several changes for one keystroke.
PAUSE: Final = 0.02


class Worker(Generic[Result]):
    """Runs what `prepare` gives for the names asked for; its results go to `done`, in the thread of the loop.

    While one run goes on, all that is asked for is gathered for the next one. A run is given up at its next step as
    soon as something waits, and taken up anew together with that.
    """

    def __init__(
        self,
        prepare: Callable[[tuple[str, ...]], Work[Result]],
        done: Callable[[Result], None],
        failed: Callable[[BaseException], None],
    ) -> None:
        self._prepare = prepare
        self._done = done
        self._failed = failed
        self._waiting: dict[str, None] = {}
        self._running = False
        self._closed = False
        self._timer: asyncio.TimerHandle | None = None
        self._settled: list[asyncio.Future[None]] = []

    def ask(self, name: str, at_once: bool = False) -> None:
        """Has `name` worked on: at once, or when nothing more has come for a moment."""
        self._waiting[name] = None
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_later(0 if at_once else PAUSE, self._start)

    async def settled(self) -> None:
        """Comes back when nothing runs and nothing waits."""
        if self._waiting or self._running:
            future: asyncio.Future[None] = asyncio.get_running_loop().create_future()
            self._settled.append(future)
            await future

    def close(self) -> None:
        """Starts nothing more, and gives up what runs."""
        self._closed = True

    def _start(self) -> None:
        self._timer = None
        if self._running or self._closed or not self._waiting:
            return
        names = tuple(self._waiting)
        self._waiting = {}
        run = (asyncio.get_running_loop(), names, self._prepare(names))
        self._running = True
        # A daemon: a slow run does not keep the process alive when the editor is gone.
        threading.Thread(target=self._run, args=run, daemon=True).start()

    def _run(self, loop: asyncio.AbstractEventLoop, names: tuple[str, ...], work: Work[Result]) -> None:
        def go() -> None:
            for result in work(self._stop):
                loop.call_soon_threadsafe(self._done, result)

        end: Callable[[], object] = int
        try:
            with_room(go)
        except Superseded:
            end = partial(self._again, names)
        except BaseException as fault:  # handed over whatever it is: the conversation goes on
            end = partial(self._failed, fault)
        with contextlib.suppress(RuntimeError):  # the loop has been closed meanwhile
            loop.call_soon_threadsafe(self._ended, end)

    def _stop(self) -> None:
        # Asked in the other thread; whether something waits is one look.
        if self._waiting or self._closed:
            raise Superseded

    def _again(self, names: tuple[str, ...]) -> None:
        self._waiting = {**dict.fromkeys(names), **self._waiting}

    def _ended(self, end: Callable[[], object]) -> None:
        self._running = False
        end()
        if self._waiting and self._timer is None:
            self._start()
        if not self._waiting and not self._running:
            for future in self._settled:
                if not future.done():
                    future.set_result(None)
            self._settled = []
