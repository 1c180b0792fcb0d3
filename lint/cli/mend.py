"""`clockhop mend`: the least change that keeps a program's waits and gives slow parts their time."""

import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any, Final

import click

from ..chain import Asked, Chain, Request, requests, run, with_room
from ..errors import ClockhopError, Place, SourceError
from ..mend import Only, Options, Plan, harmed, merged, plan
from ..quantity import Clock
from ..report import Form, Mends, plan_report
from ..source import check_writable, write_atomic
from ..tree import inside, told, tree
from .option import asked, building, written
from .output import Output, deliver

_SHARE: Final = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?%")
_NO_CLOCK: Final = Clock(Fraction(1))


@click.command("mend", epilog="Example: clockhop mend main.asm --written-for 1MHz --clock 2MHz")
@building
@click.option("--write", is_flag=True, help="Make the changes that are proved in the files.")
@click.option(
    "--also-checked", is_flag=True, help="With --write: those as well that were only tried from named states."
)
@click.option("--only", type=click.Choice(("retime", "pad")), help="Change only waits, or only add pads.")
@click.option(
    "--keep-gaps",
    is_flag=True,
    help="Keep every gap between accesses as long in time as at the old clock; needs no part data.",
)
@click.option(
    "--gaps-at",
    metavar="ADDRESS",
    multiple=True,
    help="With --keep-gaps: addresses to keep gaps at; repeatable.",
)
@click.option(
    "--within",
    metavar="SHARE",
    help="How much longer a wait may be than it has to, such as 0.1%; 1% without it.",
)
@click.option(
    "--by-symbol",
    metavar="NAME",
    help="Write counts as expressions of this clock symbol, for every clock; at the old one no byte changes.",
)
@written
def command(
    form: Form,
    output: Output,
    write: bool,
    also_checked: bool,
    only: Only | None,
    keep_gaps: bool,
    within: str | None,
    by_symbol: str | None,
    **options: Any,
) -> int:
    """Show the least change to each SOURCE that keeps its waits and gives slow parts their time at --clock.

    A wait with a timing note is kept to the note; others last as long as at --written-for (or the project file's
    written_for). The change is a unified diff with the reason and the evidence above each hunk. Of several clocks the
    fastest is mended for.
    """
    what = asked(**options)
    how = Options(
        _NO_CLOCK, None, only, keep_gaps, also_checked, None if within is None else _share(within), by_symbol
    )
    return with_room(lambda: _mend(what, form, output, write, how))


def _mend(what: Asked, form: Form, output: Output, write: bool, how: Options) -> int:
    made: list[tuple[Chain, Plan]] = []
    for request in requests(what):
        chain = run(request)
        made.append((chain, plan(chain, _options(request, how))))
    files = merged(made)
    changed = None
    harm = harmed(made, {path: after for path, (_, after) in files.items()}) if write or len(made) > 1 else ""
    if harm:
        raise ClockhopError(
            f"{harm}; nothing is written: mend the builds one by one, or make the change by hand"
        )
    if write:
        for chain, each in made:
            _stay_inside(chain, each.after)
        _write(files)
        changed = tuple(files)
    deliver(
        Mends(tuple(plan_report(chain, each) for chain, each in made), changed),
        form,
        output,
        [chain for chain, _ in made],
    )
    return 0


def _share(text: str) -> Fraction:
    """0.1% as a fraction."""
    found = _SHARE.fullmatch(text.strip())
    if found is None:
        raise ClockhopError(f'--within "{text}" is no share; write it as 0.1%')
    return Fraction(found[1]) / 100


def _options(request: Request, how: Options) -> Options:
    if not request.clocks:
        raise ClockhopError("no clock to mend for; add --clock, such as --clock 2MHz")
    for wanted, option in ((how.keep_gaps, "--keep-gaps"), (how.by_symbol is not None, "--by-symbol")):
        if wanted and request.written_for is None:
            raise ClockhopError(f"{option} needs the old clock; add --written-for")
    clock = max(request.clocks).fastest
    return replace(how, clock=clock, written_for=request.written_for, clocks=request.clocks)


def _stay_inside(chain: Chain, files: Iterable[str]) -> None:
    """Files that -I let in from outside the tree are read and never written."""
    own = tree(chain.request.source, chain.request.project.path if chain.request.project else None)
    for path in files:
        if not inside(path, own):
            raise ClockhopError(
                f"is outside the tree of {told(own)} and is not written, nor is anything else; "
                "make its change by hand, or mend the program it belongs to",
                Place(path),
            )


def _write(files: dict[str, tuple[bytes, bytes]]) -> None:
    """Each file in one step; what can't be written is found out before anything is.

    Raises ClockhopError that names what is written already, where it comes to an end between two of them.
    """
    for path, (before, _) in files.items():
        check_writable(path, before)
    done: list[str] = []
    try:
        for path, (before, after) in files.items():
            write_atomic(path, after, before)
            done.append(path)
    except SourceError as fault:
        if not done:
            raise
        raise ClockhopError(
            f"{fault}; {', '.join(done)} written already; run it again for the rest"
        ) from None
