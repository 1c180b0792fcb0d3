"""Flow to timings: trip counts, totals, and gaps between accesses, in cycles."""

from .even import Even, Ways, called, even, ways
from .gap import Gap, Query, Site
from .handler import Handler, handlers
from .interrupt import Crossing, crossings
from .remembered import Remembered
from .result import Access, Context, Exact, Fact, Formula, Outcome, Poll, Range, Total, Unknown
from .timings import CallTiming, LoopTiming, RoutineTiming, Timings, count
from .wait import Wait, open_waits, ranged_waits, timed_loops, waits
from .waitstate import Region, WaitStates

__all__ = [
    "Access",
    "CallTiming",
    "Context",
    "Crossing",
    "Even",
    "Exact",
    "Fact",
    "Formula",
    "Gap",
    "Handler",
    "LoopTiming",
    "Outcome",
    "Poll",
    "Query",
    "Range",
    "Region",
    "Remembered",
    "RoutineTiming",
    "Site",
    "Timings",
    "Total",
    "Unknown",
    "Wait",
    "WaitStates",
    "Ways",
    "called",
    "count",
    "crossings",
    "even",
    "handlers",
    "open_waits",
    "ranged_waits",
    "timed_loops",
    "waits",
    "ways",
]
