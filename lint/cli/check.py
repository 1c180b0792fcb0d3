"""`clockhop check`: what breaks at the clocks of the board."""

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import click

from ..board import FailOn
from ..chain import (
    Asked,
    Chain,
    Comparison,
    Request,
    compare_build,
    judge,
    number,
    read_image,
    reader,
    requests,
    run,
    with_room,
)
from ..errors import Place, SourceError
from ..mend import Plan
from ..report import Check, Form, Judged, check, mended, planned, summarise
from ..rules import Finding
from ..source import LARGEST
from .option import asked, building, written_in_all
from .output import Output, deliver, refuse_file, send
from .progress import shown_while
from .recall import repeatable

_MOST_PLANNED = 200
_LEVELS: tuple[FailOn, ...] = ("error", "warning", "note", "never")


@dataclass(frozen=True, slots=True)
class _Manner:
    """How the findings are told, and from which level on they fail (None: as the project file says)."""

    form: Form | Literal["sarif", "html"]
    output: Output
    fail_on: FailOn | None
    quiet: bool
    summary_only: bool
    known: str | None
    image: str | None
    origin: int | None
    held: Mapping[str, bytes]

    @property
    def told(self) -> bool:
        """Whether anybody reads the report."""
        return not self.quiet or self.output.path is not None

    def run(self, request: Request) -> Chain:
        """The build, with what came from the standard input in place of its file."""
        return run(request, reader(request, self.held) if self.held else None)


@click.command("check", epilog="Example: clockhop check main.asm --clock 2MHz --written-for 1MHz")
@building
@click.option(
    "--fail-on", type=click.Choice(_LEVELS), help="Exit 1 from this level on; else as the project file says."
)
@click.option("-q", "--quiet", is_flag=True, help="Print nothing; the exit status tells.")
@click.option("--summary-only", is_flag=True, help="Of the text form, only the summary.")
@click.option(
    "--known", metavar="FILE", help="Leave out the findings recorded there; name those that are gone."
)
@click.option("--record", metavar="FILE", help="Record today's findings there as known, and report nothing.")
@click.option("--grow", is_flag=True, help="With --record: also take in what the file there has not got yet.")
@click.option("--stdin", is_flag=True, help="Read the text of --stdin-name from the standard input.")
@click.option(
    "--stdin-name",
    metavar="FILE",
    help="The source, or a file it includes, that the standard input stands for.",
)
@click.option(
    "--image", metavar="FILE", help="Compare with the bytes that were burned: Intel hex, S-records, plain."
)
@click.option("--origin", metavar="ADDRESS", help="With --image: where the first of plain bytes lies.")
@click.option("--depends", is_flag=True, help="Print rules for make instead: what each SOURCE rests on.")
@click.option(
    "--target", metavar="NAME", help="With --depends: what make makes, instead of SOURCE as .checked."
)
@written_in_all
def command(
    form: Form | Literal["sarif", "html"],
    output: Output,
    fail_on: FailOn | None,
    quiet: bool,
    summary_only: bool,
    known: str | None,
    record: str | None,
    grow: bool,
    stdin: bool,
    stdin_name: str | None,
    image: str | None,
    origin: str | None,
    depends: bool,
    target: str | None,
    **options: Any,
) -> int:
    """Say what breaks in each SOURCE at the clocks of its board, and exit 1 if something does.

    The project file is the nearest clockhop.yaml from the source upward; without SOURCE every build it names is
    checked. Each finding says where, what, the cycles, the time at the clock, the limit and whose limit it is; clockhop
    explain has a page about each. An editor can give the text it holds with --stdin; of an included file it names the
    main one as SOURCE.

    Exit status: 0 nothing at or above the failing level (warning, if nothing else is said), 1 findings, or too much was
    not understood, 2 it could not do its work.
    """
    if record and known:
        raise click.UsageError("--record and --known are both given; keep one")
    if grow and not record:
        raise click.UsageError("--grow without --record; add --record FILE or remove it")
    if target and not depends:
        raise click.UsageError("--target without --depends; add --depends or remove it")
    if depends and (record or known):
        raise click.UsageError("--depends checks nothing; remove --record and --known")
    if stdin != (stdin_name is not None):
        raise click.UsageError("--stdin and --stdin-name FILE belong together; give both")
    if stdin and record:
        raise click.UsageError("--record and --stdin are both given; record what is in the files")
    if origin is not None and (image is None or number(origin) is None):
        raise click.UsageError("--origin says where --image FILE begins; write --origin $F000")
    what = asked(**options)
    held: dict[str, bytes] = {}
    if stdin_name is not None:
        held = {stdin_name: sys.stdin.buffer.read(LARGEST + 1)}
        what = replace(what, sources=what.sources or (stdin_name,))
    first = number(origin) if origin is not None else None
    manner = _Manner(form, output, fail_on, quiet, summary_only, known, image, first, held)
    if depends:
        from .depends import make_depends

        return with_room(lambda: make_depends(requests(what), held, target, output))
    if record:
        from .known import make_record

        return with_room(lambda: make_record(what, record, grow))
    return with_room(lambda: _check(what, manner))


def _check(what: Asked, manner: _Manner) -> int:
    wanted = requests(what)
    chains = [manner.run(request) for request in shown_while(wanted, [_title(each) for each in wanted])]
    _refuse_unread(chains, manner.held)
    plans: dict[Chain, Plan | None] = {}
    judged = (
        _judged(chain, manner, plans)
        for chain in shown_while(chains, [_title(chain.request) for chain in chains])
    )
    report = check(list(judged))
    if manner.known:
        from .known import without_known

        if manner.output.path is not None:
            refuse_file(manner.output.path, [manner.known])
        report = without_known(report, manner.known)
    if manner.image:
        report = replace(report, image=_compared(chains, manner.image, manner.origin))
    if plans:
        from ..report.page import html, page_of

        send(html(page_of(report, list(plans.items()))), manner.output, chains)
    elif manner.told:
        _tell(report, chains, manner)
    if manner.output.path is None and not manner.held:
        repeatable()
    return int(report.fails(manner.fail_on))


def _title(request: Request) -> str:
    return f"{request.source}, build {request.build.name}" if request.build else request.source


def _compared(chains: list[Chain], path: str, origin: int | None) -> Comparison:
    if len(chains) != 1:
        raise click.UsageError(f"--image is of one build and {len(chains)} are checked; name its SOURCE")
    return compare_build(chains[0], read_image(path, origin))


def _refuse_unread(chains: list[Chain], held: Mapping[str, bytes]) -> None:
    """A text that no build reads would be passed over in silence."""
    files = {os.path.realpath(source.name) for chain in chains for source in chain.program.files}
    for name in held:
        if os.path.realpath(name) not in files:
            raise SourceError(
                "is read by no source that is checked; name the one that includes it", Place(name)
            )


def _judged(chain: Chain, manner: _Manner, plans: dict[Chain, Plan | None]) -> Judged:
    """The build judged; for a page also planned, where it has not too many findings to read one by one."""
    judgement = judge(chain)
    # Few forms tell how far findings can be mended, and finding out takes longer than all the rest.
    wanted = manner.form == "json" and not manner.quiet
    plan = None
    if manner.form == "html" and manner.told:
        wanted = sum(isinstance(verdict, Finding) for verdict in judgement.verdicts) <= _MOST_PLANNED
        plan = plans[chain] = planned(chain) if wanted else None
    mends = mended(chain, judgement.verdicts, plan) if wanted else ()
    return Judged(chain, judgement.verdicts, judgement.accepted, mends)


def _tell(report: Check, chains: list[Chain], manner: _Manner) -> None:
    if manner.summary_only and manner.form == "text":
        send(summarise(report, manner.output.paint), manner.output, chains)
    elif manner.form == "sarif":
        # Most runs are of another form, and start sooner without what this one needs.
        from ..report.check_sarif import sarif

        send(sarif(report), manner.output, chains)
    elif manner.form != "html":
        deliver(report, manner.form, manner.output, chains)
