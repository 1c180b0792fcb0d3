"""What a long run is at: one line on the standard error output, only where that is a terminal, gone when it ends."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final, TypeVar

from ..visible import visible

Item = TypeVar("Item")

# A run that is over sooner shows nothing.
_PATIENCE: Final = 1.0
_WIDEST: Final = 72


def shown_while(items: Sequence[Item], names: Sequence[str]) -> Iterator[Item]:
    """The items in order; while the caller is at one of them for long, the line says which."""
    for number, (item, name) in enumerate(zip(items, names, strict=True), 1):
        with _line(f"{number} of {len(items)}: {name}" if len(items) > 1 else name):
            yield item


@contextmanager
def _line(text: str) -> Iterator[None]:
    if not sys.stderr.isatty():
        yield
        return
    done = threading.Event()
    thread = threading.Thread(target=_tick, args=(visible(text)[:_WIDEST], done), daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def _tick(text: str, done: threading.Event) -> None:
    start = time.monotonic()
    if done.wait(_PATIENCE):
        return
    while True:
        sys.stderr.write(f"\r\x1b[K{text}, {time.monotonic() - start:.0f} s")
        sys.stderr.flush()
        if done.wait(_PATIENCE):
            break
    sys.stderr.write("\r\x1b[K")
    sys.stderr.flush()
