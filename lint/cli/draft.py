"""`clockhop draft`: a first project file, so that nobody starts from an empty page."""

import os
from dataclasses import dataclass
from pathlib import Path

import click

from ..assemble import assemble
from ..board import FILE_NAME, draft
from ..chain import Chain, Request, candidates, defined, likely_entries, run, with_room
from ..cpu import generation, is_known, load, names
from ..errors import ClockhopError, Place, SourceError
from ..quantity import Clock
from ..tables import nearest
from ..tree import tree
from ..visible import visible
from .option import ClockType
from .output import store
from .recall import show


@dataclass(frozen=True, slots=True)
class _Wish:
    """What the person said; `output` is "-" for the terminal, None for the usual file beside the source."""

    source: str
    cpu: str | None
    clock: Clock | None
    defines: dict[str, int]
    include: tuple[str, ...]
    output: str | None

    @property
    def within(self) -> tuple[str, ...]:
        return (*tree(self.source), *self.include)


@click.command("draft", epilog="Example: clockhop draft main.asm --cpu 6809 --clock 1MHz")
@click.argument("source")
@click.option(
    "--cpu", metavar="NAME", help="The processor; without it the one that understands most is taken."
)
@click.option("--clock", type=ClockType(), help="The bus clock, such as 1MHz.")
@click.option("-D", "define", metavar="NAME=VALUE", multiple=True, help="Define a symbol; repeatable.")
@click.option(
    "-I",
    "include",
    metavar="DIR",
    multiple=True,
    help="Search includes there too, outside the tree as well; repeatable.",
)
@click.option(
    "-o", "output", metavar="FILE", help="Write there; - prints it. An existing file is never touched."
)
def command(
    source: str,
    cpu: str | None,
    clock: Clock | None,
    define: tuple[str, ...],
    include: tuple[str, ...],
    output: str | None,
) -> int:
    """Write a first clockhop.yaml beside SOURCE.

    It names the entries found, and lists the addresses that look like parts with the families there are, as comments
    to choose from. What could not be known stands there as a comment, not as a guess.
    """
    wish = _Wish(source, cpu, clock, defined(define), include, output)
    return with_room(lambda: _draft(wish))


def _draft(wish: _Wish) -> int:
    target = wish.output or str(Path(wish.source).parent / FILE_NAME)
    if target != "-" and os.path.lexists(target):
        raise SourceError(
            "is there already and stays as it is; move it or name another with -o", Place(target)
        )
    cpu, note = (_stated(wish.cpu), "") if wish.cpu else _fitting(wish)
    chain = run(Request(wish.source, cpu, defines=wish.defines, include=wish.include, within=wish.within))
    text = _text(chain, wish, note, Path(wish.source).parent if target == "-" else Path(target).parent)
    if target == "-":
        show("".join(f"{visible(line)}\n" for line in text.split("\n")[:-1]))
        return 0
    store(target, text)
    named = "" if Path(target).name == FILE_NAME else f" --project {target}"
    show(f"{target} written; edit it, then run: clockhop check {wish.source}{named}\n")
    return 0


def _text(chain: Chain, wish: _Wish, note: str, folder: Path) -> str:
    def relative(path: str) -> str:
        return Path(os.path.relpath(path, folder)).as_posix()

    return draft(
        chain.request.processor,
        relative(wish.source),
        wish.clock,
        likely_entries(chain),
        candidates(chain),
        note,
        wish.defines,
        tuple(relative(path) for path in wish.include),
    )


def _stated(name: str) -> str:
    if not is_known(name):
        raise ClockhopError(f'--cpu: unknown processor "{name}"; {nearest(name, names())}')
    return name


def _fitting(wish: _Wish) -> tuple[str, str]:
    """Of those that understand most of the source one that extends no other, the smallest, and words for it."""
    found = []
    for name in names():
        cpu = load(name)
        program = assemble(wish.source, cpu, wish.defines, wish.include, within=wish.within)
        found.append((-program.understood, generation(name), len(cpu.mnemonics), name, program.statements))
    understood, *_, name, statements = min(found)
    return name, f"understands {-understood} of {statements} statements; check that it is the one"
