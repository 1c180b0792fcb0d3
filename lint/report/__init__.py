"""What a command found, as one value, and the forms it is written in."""

from .durations import Durations, durations
from .table import Paint, Style, plain
from .write import Form, Report, write

__all__ = ["Durations", "Form", "Paint", "Report", "Style", "durations", "plain", "write"]
