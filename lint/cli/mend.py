"""`clockhop mend`: the least change that keeps a program's waits and gives slow parts their time."""

from typing import Any

import click

from ..chain import Asked, Chain, Request, requests, run, with_room
from ..errors import ClockhopError
from ..mend import Only, Options, Plan, plan
from ..report import Form, Mends, plan_report
from ..source import check_writable, write_atomic
from .option import asked, building, written
from .output import Output, deliver


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
@written
def command(
    form: Form,
    output: Output,
    write: bool,
    also_checked: bool,
    only: Only | None,
    keep_gaps: bool,
    **options: Any,
) -> int:
    """Show the least change to each SOURCE that keeps its waits and gives slow parts their time at --clock.

    A wait with a timing note is kept to the note; others last as long as at --written-for (or the project file's
    written_for). The change is a unified diff with the reason and the evidence above each hunk. Of several clocks the
    fastest is mended for.
    """
    what = asked(**options)
    return with_room(lambda: _mend(what, form, output, write, only, keep_gaps, also_checked))


def _mend(
    what: Asked,
    form: Form,
    output: Output,
    write: bool,
    only: Only | None,
    keep_gaps: bool,
    also_checked: bool,
) -> int:
    made: list[tuple[Chain, Plan]] = []
    for request in requests(what):
        chain = run(request)
        made.append((chain, plan(chain, _options(request, only, keep_gaps, also_checked))))
    files = _files(made)
    changed = None
    if write:
        _write(files)
        changed = tuple(files)
    deliver(
        Mends(tuple(plan_report(chain, each) for chain, each in made), changed),
        form,
        output,
        [chain for chain, _ in made],
    )
    return 0


def _options(request: Request, only: Only | None, keep_gaps: bool, also_checked: bool) -> Options:
    if not request.clocks:
        raise ClockhopError("no clock to mend for; add --clock, such as --clock 2MHz")
    if keep_gaps and request.written_for is None:
        raise ClockhopError("--keep-gaps needs the old clock; add --written-for")
    return Options(max(request.clocks).fastest, request.written_for, only, keep_gaps, also_checked)


def _files(plans: list[tuple[Chain, Plan]]) -> dict[str, tuple[bytes, bytes]]:
    """What each file becomes, in the order to write them; builds must agree on a file they share."""
    files = {path: (each.before[path], after) for _, each in plans for path, after in each.after.items()}
    for chain, each in plans:
        for source in chain.program.files:
            path = source.name
            if path in files and each.after.get(path, source.data) != files[path][1]:
                raise ClockhopError(f"two builds ask for different changes of {path}; mend them one by one")
    return files


def _write(files: dict[str, tuple[bytes, bytes]]) -> None:
    """Each file in one step; what can't be written is found out before anything is."""
    for path, (before, _) in files.items():
        check_writable(path, before)
    for path, (before, after) in files.items():
        write_atomic(path, after, before)
