"""Which files the judgement on a build rests on."""

from __future__ import annotations

from ..assemble import Reader, assemble
from . import buffer
from .request import Request


def inputs(request: Request, reader: Reader | None = None) -> tuple[str, ...]:
    """The source first, then all it includes in the order they are met, bytes included as they are, the project file.

    An include that is not there is left out. Raises SourceError for a source that can't be read.
    """
    project = request.project
    reading = reader or buffer.reader(request, {})
    program = assemble(
        request.source, request.cpu(), request.defines, request.include, reading, request.within
    )
    files = [*(source.name for source in program.files), *program.included_bytes]
    return tuple(dict.fromkeys([*files, *([str(project.path)] if project else [])]))
