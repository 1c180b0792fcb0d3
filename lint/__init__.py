"""Timing of 8-bit assembly source: what it is, what a clock change breaks, and how to mend it."""

__version__ = "0.1.0"
