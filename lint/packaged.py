"""The tool's own data: its texts, and parsers for its grammars, whose tables are worked out once for each user."""

from functools import cache
from importlib.resources import files
from typing import Any, Final

import lark
from lark import Lark
from lark.exceptions import LarkError
from lark.grammar import Rule
from lark.lexer import TerminalDef

from .cache import keep, key, load

_KIND: Final = "grammars"


def text(package: str, path: str) -> str:
    """What stands in a file of the data packages `grammar` or `shared`."""
    return files(f"{__package__}.{package}").joinpath(path).read_text(encoding="utf-8")


@cache
def parser(grammar: str, *start: str, positions: bool = False) -> Lark:
    """The LALR parser of grammar/`grammar`.lark that begins with one of the rules `start`."""
    written = text("grammar", f"{grammar}.lark")
    name = key(lark.__version__, written, *start, str(positions))
    found = _restored(load(_KIND, name))
    if found is None:
        found = Lark(written, parser="lalr", start=[*start], propagate_positions=positions)
        keep(_KIND, name, found.memo_serialize([TerminalDef, Rule]))
    return found


def _restored(kept: object) -> Lark | None:
    """The parser whose tables were kept; None where they are none, whatever somebody wrote there."""
    match kept:
        case [dict(data), dict(memo)]:
            pass
        case _:
            return None
    try:
        made = Lark._load_from_dict(_numbered(data), _numbered(memo))  # type: ignore[no-untyped-call]
    except (AssertionError, AttributeError, LarkError, LookupError, TypeError, ValueError):
        return None
    return made if isinstance(made, Lark) else None


def _numbered(value: Any) -> Any:
    """JSON's keys are text: states and symbols are numbers again."""
    if isinstance(value, dict):
        return {int(name) if name.isdecimal() else name: _numbered(each) for name, each in value.items()}
    return [_numbered(each) for each in value] if isinstance(value, list) else value
