"""Program to flow: edges, calls, routines and their loops."""

from .graph import Call, Edge, Entry, Graph, connect
from .loop import Item, Loop, Routine, components, routine

__all__ = ["Call", "Edge", "Entry", "Graph", "Item", "Loop", "Routine", "components", "connect", "routine"]
