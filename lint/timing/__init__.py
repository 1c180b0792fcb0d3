"""Flow to timings: trip counts, totals, and gaps between accesses, in cycles."""

from .gap import Gap, Query, Site
from .result import Access, Context, Exact, Fact, Formula, Outcome, Poll, Range, Total, Unknown
from .timings import CallTiming, LoopTiming, RoutineTiming, Timings, count

__all__ = [
    "Access",
    "CallTiming",
    "Context",
    "Exact",
    "Fact",
    "Formula",
    "Gap",
    "LoopTiming",
    "Outcome",
    "Poll",
    "Query",
    "Range",
    "RoutineTiming",
    "Site",
    "Timings",
    "Total",
    "Unknown",
    "count",
]
