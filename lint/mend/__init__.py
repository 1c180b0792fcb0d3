"""Findings to edits, and edits to evidence: the least change that keeps waits and gives parts their time.

`compose` makes new code of a given time.
"""

from .composition import Composition, Wanted, compose
from .merge import harmed, merged
from .model import Change, Evidence, Grade, Left, Mend, Plan
from .options import Only, Options
from .plan import plan

__all__ = [
    "Change",
    "Composition",
    "Evidence",
    "Grade",
    "Left",
    "Mend",
    "Only",
    "Options",
    "Plan",
    "Wanted",
    "compose",
    "harmed",
    "merged",
    "plan",
]
