"""Program to flow: edges, calls, routines and their loops."""

from .graph import Call, Edge, Entry, Graph, connect
from .liveness import FirstReads, Liveness, liveness, names_of
from .loop import Item, Loop, LoopKey, Routine, components, fragment, routine, sources
from .stack import distance, frames, is_free, stack_pointers

__all__ = [
    "Call",
    "Edge",
    "Entry",
    "FirstReads",
    "Graph",
    "Item",
    "Liveness",
    "Loop",
    "LoopKey",
    "Routine",
    "components",
    "connect",
    "distance",
    "fragment",
    "frames",
    "is_free",
    "liveness",
    "names_of",
    "routine",
    "sources",
    "stack_pointers",
]
