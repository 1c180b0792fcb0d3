"""The command line."""

from .entry import main

__all__ = ["main"]
