"""A file is put in place whole or not at all, and nothing else stays behind, whenever and however the process ends."""

import os
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path


def put(target: Path, data: bytes, last: Callable[[], None] = lambda: None) -> None:
    """Puts `data` in place of the file in one step; a link is followed.

    What is there keeps its permissions, and its owner where that may be; a device or pipe is written to. `last` is
    called right before the step and stops it by raising. Raises OSError for a file that can't be written.
    """
    target = Path(os.path.realpath(target))
    before = target.stat() if target.exists() else None
    if before is not None and not stat.S_ISREG(before.st_mode):
        target.write_bytes(data)
        return
    # Always the same name: what a run that was killed between two steps left there, the next one takes.
    name = target.parent / f".clockhop-{sha256(os.fsencode(target.name)).hexdigest()[:16]}"
    with _alone(target.parent) as folder:
        name.unlink(missing_ok=True)
        try:
            _write(folder, name, data, before)
            last()
            os.replace(name, target)
        finally:
            name.unlink(missing_ok=True)
        if folder is not None:
            os.fsync(folder)


@contextmanager
def _alone(folder: Path) -> Iterator[int | None]:
    """The folder, open, with nobody else in here who writes to it; None where a system has no such thing."""
    if sys.platform == "win32":
        yield None
        return
    from fcntl import LOCK_EX, flock

    handle = os.open(folder, os.O_RDONLY)
    try:
        flock(handle, LOCK_EX)
        yield handle
    finally:
        os.close(handle)


def _write(folder: int | None, name: Path, data: bytes, before: os.stat_result | None) -> None:
    """A new file with that name: it gets the name when it is whole, where the file system has files without one."""
    handle, named = _opened(folder, name)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        if before is not None:
            _own(handle, before)
        os.fsync(handle)
        if not named:
            # Only with a folder named does this follow to the file, as the manual of open(2) has it.
            os.link(f"/proc/self/fd/{handle}", name, src_dir_fd=folder, follow_symlinks=True)


def _opened(folder: int | None, name: Path) -> tuple[int, bool]:
    """A new file to write, and whether it has its name yet."""
    if sys.platform == "linux" and folder is not None and os.path.isdir("/proc/self/fd"):
        with suppress(OSError):
            return os.open(name.parent, os.O_TMPFILE | os.O_WRONLY, 0o666), False
    return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), True


def _own(handle: int, before: os.stat_result) -> None:
    if sys.platform == "win32":
        return
    for owner in ((before.st_uid, before.st_gid), (-1, before.st_gid)):
        with suppress(PermissionError):
            os.fchown(handle, *owner)
            break
    # Behind the owner: a change of that takes permissions away.
    os.fchmod(handle, before.st_mode & 0o7777)
