"""Findings to edits, and edits to evidence: the least change that keeps waits and gives parts their time."""

from .model import Change, Evidence, Grade, Left, Mend, Plan
from .plan import Only, Options, plan

__all__ = ["Change", "Evidence", "Grade", "Left", "Mend", "Only", "Options", "Plan", "plan"]
