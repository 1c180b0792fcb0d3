"""The waits of a program, as mends see them."""

from ..timing import Wait, waits

__all__ = ["Wait", "waits"]
