"""`clockhop explain`: the manual page of a finding."""

import shutil
import textwrap
from collections.abc import Iterator
from typing import Final

import click

from ..errors import ClockhopError
from ..report.remark import REMARKS
from ..rules import RULES, Page
from ..tables import nearest
from .recall import show

_WIDEST: Final = 88


@click.command("explain", epilog="Example: clockhop explain access-too-soon")
@click.argument("name", required=False)
def command(name: str | None) -> int:
    """Show the manual page of the finding NAME; without NAME list them all."""
    pages: dict[str, Page] = {each.name: each for each in (*RULES, *REMARKS)}
    if name is None:
        width = max(map(len, pages))
        show("".join(f"{each.name.ljust(width)}  {each.summary}\n" for each in pages.values()))
        return 0
    if name not in pages:
        raise ClockhopError(f'unknown finding "{name}"; {nearest(name, pages)}')
    show("".join(f"{line}\n" for line in page(pages[name], shutil.get_terminal_size().columns)))
    return 0


def page(of: Page, columns: int) -> Iterator[str]:
    """The page in lines of at most `columns`, each part with its continuation set in."""
    yield f"{of.name}: {of.summary}"
    for part in of.parts:
        yield ""
        yield from textwrap.wrap(
            part, min(columns, _WIDEST), subsequent_indent="    ", break_on_hyphens=False
        )
