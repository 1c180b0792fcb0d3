"""Read, assemble, trace, count in one call for one build."""

from .chain import Chain, run
from .depth import with_room
from .request import Asked, Request, number, requests

__all__ = ["Asked", "Chain", "Request", "number", "requests", "run", "with_room"]
