"""`clockhop explain`: the manual page of a finding."""

import shutil
import textwrap
from collections.abc import Iterator
from typing import Final

import click

from ..errors import ClockhopError
from ..rules import RULES
from ..rules.base import Rule
from ..tables import nearest
from .recall import show

_WIDEST: Final = 88


@click.command("explain", epilog="Example: clockhop explain access-too-soon")
@click.argument("name", required=False)
def command(name: str | None) -> int:
    """Show the manual page of the finding NAME; without NAME list them all."""
    rules = {rule.name: rule for rule in RULES}
    if name is None:
        width = max(map(len, rules))
        show("".join(f"{rule.name.ljust(width)}  {rule.summary}\n" for rule in RULES))
        return 0
    if name not in rules:
        raise ClockhopError(f'unknown finding "{name}"; {nearest(name, rules)}')
    show("".join(f"{line}\n" for line in page(rules[name], shutil.get_terminal_size().columns)))
    return 0


def page(rule: Rule, columns: int) -> Iterator[str]:
    """The page in lines of at most `columns`, each part with its continuation set in."""
    yield f"{rule.name}: {rule.summary}"
    for part in rule.parts:
        yield ""
        yield from textwrap.wrap(
            part, min(columns, _WIDEST), subsequent_indent="    ", break_on_hyphens=False
        )
