"""The tree a program lives in: what it includes lies there, or in a folder that was named on the command line."""

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

# Folders that version control keeps at the top of a tree; common practice.
_TOPS = (".git", ".hg", ".svn")


def tree(source: str, project: Path | None = None) -> tuple[str, ...]:
    """Folders of the tree that `source` is part of; its own folder always is.

    The top is the folder under version control, else that of the project file, else the one the command runs in where
    the source lies in it.
    """
    own = os.path.dirname(os.path.realpath(source))
    for folder in (Path(own), *Path(own).parents):
        if any((folder / top).exists() for top in _TOPS):
            return str(folder), own
    here = str(project.parent.resolve()) if project else os.path.realpath(os.curdir)
    return (here, own) if project or inside(own, (here,)) else (own,)


def inside(path: str, folders: Iterable[str]) -> bool:
    """Whether the file that the path leads to, links followed, lies in one of the folders or below it."""
    real = os.path.realpath(path)
    return any(os.path.commonpath((real, top)) == top for top in map(os.path.realpath, folders))


def told(folders: Sequence[str]) -> str:
    """The widest of the folders, as short as it can be said from here."""
    return os.path.relpath(min(folders, key=len))
