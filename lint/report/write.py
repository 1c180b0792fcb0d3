"""A report in the form that is asked for; every form only reads the report."""

import json
from collections.abc import Iterator
from typing import Literal, assert_never

from . import durations_json, durations_text
from .durations import Durations
from .table import Paint, plain

Form = Literal["text", "lines", "json"]
Report = Durations


def write(report: Report, form: Form, paint: Paint = plain) -> str:
    """The report in `form`, ending with a line end; only the text form is ever painted."""
    match form:
        case "text":
            return _joined(durations_text.text(report, paint))
        case "lines":
            return _joined(durations_text.lines(report))
        case "json":
            return json.dumps(durations_json.value(report), indent=2) + "\n"
    assert_never(form)


def _joined(lines: Iterator[str]) -> str:
    return "".join(f"{line}\n" for line in lines)
