"""Room for programs whose calls are nested deeply: routines are counted inside each other, callee before caller."""

import gc
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Final, TypeVar

T = TypeVar("T")

_FRAMES: Final = 200_000
# Only reserved: the system gives out the pages when a program really is that deep.
_STACK: Final = 512 * 1024 * 1024
# What an analysis makes is kept or goes by itself: looking for cycles among it would take a fourth of the time.
_COLLECTED: Final = (1_000_000, 20, 20)


def with_room(work: Callable[[], T]) -> T:
    """What `work` returns or raises, run where calls nested thousands deep don't end in a RecursionError."""
    done: Future[T] = Future()
    frames, stack, collected = sys.getrecursionlimit(), threading.stack_size(_STACK), gc.get_threshold()
    gc.set_threshold(*_COLLECTED)
    sys.setrecursionlimit(max(frames, _FRAMES))
    try:
        thread = threading.Thread(target=_fill, args=(done, work), daemon=True)
        thread.start()
        return done.result()
    finally:
        threading.stack_size(stack)
        sys.setrecursionlimit(frames)
        gc.set_threshold(*collected)


def _fill(done: "Future[T]", work: Callable[[], T]) -> None:
    try:
        done.set_result(work())
    except BaseException as fault:  # handed to the caller's thread whatever it is, and raised there
        done.set_exception(fault)
