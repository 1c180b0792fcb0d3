"""What a command found, as one value, and the forms it is written in."""

from .budget import Sums, sums
from .check import Check, Judged, check
from .cycles import Cycles, cycles
from .durations import Durations, durations
from .margin_table import Margins, margins
from .mended import mended, planned
from .mends import Mends, plan_report
from .sheet import Catalogue, Sheet
from .table import Paint, Style, plain
from .write import Form, Report, summarise, write

__all__ = [
    "Catalogue",
    "Check",
    "Cycles",
    "Durations",
    "Form",
    "Judged",
    "Margins",
    "Mends",
    "Paint",
    "Report",
    "Sheet",
    "Style",
    "Sums",
    "check",
    "cycles",
    "durations",
    "margins",
    "mended",
    "plain",
    "plan_report",
    "planned",
    "summarise",
    "sums",
    "write",
]
