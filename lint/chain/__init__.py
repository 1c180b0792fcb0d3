"""Read, assemble, trace, count (and judge) in one call for one build."""

from .buffer import reader
from .candidate import candidates, likely_entries
from .chain import Chain, run
from .depth import with_room
from .image import Comparison, compare_build, read_image
from .inputs import inputs
from .judgement import judge, margins_of, paces_of
from .request import Asked, Request, defined, number, requests, stated

__all__ = [
    "Asked",
    "Chain",
    "Comparison",
    "Request",
    "candidates",
    "compare_build",
    "defined",
    "inputs",
    "judge",
    "likely_entries",
    "margins_of",
    "number",
    "paces_of",
    "read_image",
    "reader",
    "requests",
    "run",
    "stated",
    "with_room",
]
