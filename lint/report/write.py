"""A report in the form that is asked for; every form only reads the report."""

import json
from collections.abc import Callable, Iterator
from typing import Literal, assert_never

from ..mend import Composition
from ..visible import visible
from . import (
    budget,
    check_json,
    check_text,
    composed,
    cycles_json,
    cycles_text,
    durations_json,
    durations_text,
    margin_table,
    mends_json,
    mends_text,
    sheet_json,
    sheet_text,
)
from .amount import Json
from .budget import Sums
from .check import Check
from .cycles import Cycles
from .durations import Durations
from .margin_table import Margins
from .mends import Mends
from .painter import Painter
from .sheet import Catalogue, Sheet
from .table import Paint, plain

Form = Literal["text", "lines", "json"]
Report = Check | Cycles | Durations | Mends | Composition | Catalogue | Sheet | Sums | Margins


def write(report: Report, form: Form, paint: Paint = plain) -> str:
    """The report in `form`, ending with a line end; only the text form is ever painted.

    What a terminal would obey in a text of the source stands there in words.
    """
    match form:
        case "text":
            return _painted(lambda paint: _text(report, paint), paint)
        case "lines":
            return "".join(f"{visible(line)}\n" for line in _lines(report))
        case "json":
            return json.dumps(_value(report), indent=2) + "\n"
    assert_never(form)


def _text(report: Report, paint: Paint) -> Iterator[str]:
    match report:
        case Check():
            return check_text.text(report, paint)
        case Cycles():
            return cycles_text.text(report, paint)
        case Durations():
            return durations_text.text(report, paint)
        case Mends():
            return mends_text.text(report, paint)
        case Composition():
            return composed.text(report)
        case Catalogue():
            return sheet_text.catalogue(report)
        case Sheet():
            return sheet_text.text(report, paint)
        case Sums():
            return budget.text(report, paint)
        case Margins():
            return margin_table.text(report, paint)
    assert_never(report)


def _lines(report: Report) -> Iterator[str]:
    match report:
        case Check():
            return check_text.lines(report)
        case Cycles():
            return cycles_text.lines(report)
        case Durations():
            return durations_text.lines(report)
        case Mends():
            return mends_text.lines(report)
        case Composition():
            return composed.lines(report)
        case Catalogue():
            return sheet_text.catalogue(report)
        case Sheet():
            return sheet_text.lines(report)
        case Sums():
            return budget.lines(report)
        case Margins():
            return margin_table.lines(report)
    assert_never(report)


def _value(report: Report) -> Json:
    match report:
        case Check():
            return check_json.value(report)
        case Cycles():
            return cycles_json.value(report)
        case Durations():
            return durations_json.value(report)
        case Mends():
            return mends_json.value(report)
        case Composition():
            return composed.value(report)
        case Catalogue():
            return sheet_json.catalogue(report)
        case Sheet():
            return sheet_json.value(report)
        case Sums():
            return budget.value(report)
        case Margins():
            return margin_table.value(report)
    assert_never(report)


def summarise(report: Check, paint: Paint = plain) -> str:
    """The summary of a check in text, without its findings."""
    return _painted(lambda paint: check_text.summary(report, paint), paint)


def _painted(lines: Callable[[Paint], Iterator[str]], paint: Paint) -> str:
    if paint is plain:
        return "".join(f"{visible(line)}\n" for line in lines(plain))
    painter = Painter(paint)
    return "".join(f"{painter.finish(line)}\n" for line in lines(painter.paint))
