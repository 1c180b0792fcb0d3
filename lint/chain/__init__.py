"""Read, assemble, trace, count (and judge) in one call for one build."""

from .buffer import reader
from .candidate import candidates, likely_entries
from .chain import Chain, run
from .depth import with_room
from .inputs import inputs
from .judgement import judge, margins_of, paces_of
from .request import Asked, Request, defined, number, requests, stated

__all__ = [
    "Asked",
    "Chain",
    "Request",
    "candidates",
    "defined",
    "inputs",
    "judge",
    "likely_entries",
    "margins_of",
    "number",
    "paces_of",
    "reader",
    "requests",
    "run",
    "stated",
    "with_room",
]
