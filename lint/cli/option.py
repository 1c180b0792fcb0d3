"""The options that several commands share, and the values they stand for."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from ..chain import Asked
from ..quantity import Clock, parse_clock
from .output import Colour, Output

_Command = TypeVar("_Command", bound=Callable[..., Any])


class ClockType(click.ParamType[Clock]):
    """A clock with its unit; what is none raises QuantityError, which says what would be accepted."""

    name = "CLOCK"

    def convert(self, value: object, _param: object, _ctx: object) -> Clock:
        return value if isinstance(value, Clock) else parse_clock(str(value))


def building(command: _Command) -> _Command:
    """The options that say what is built, how and at which clocks; `asked` joins them."""
    for option in reversed(_BUILDING):
        command = option(command)
    return command


def written(command: _Command) -> _Command:
    """The options that say in which form the report is written, and where to."""
    return _form("text", "lines", "json")(_output(command))


def written_in_all(command: _Command) -> _Command:
    """The same with a form for services, and one that is a page."""
    return _form("text", "lines", "json", "sarif", "html")(_output(command))


def _output(command: _Command) -> _Command:
    return _FILE(_COLOUR(command))


def _joined(ctx: click.Context, _param: click.Parameter, path: str | None) -> Output:
    return Output(path, ctx.meta[_COLOUR_KEY])


def _keep(ctx: click.Context, _param: click.Parameter, colour: Colour) -> None:
    ctx.meta[_COLOUR_KEY] = colour


def _form(*forms: str) -> Callable[[_Command], _Command]:
    return click.option(
        "--form",
        type=click.Choice(forms),
        default="text",
        show_default=True,
        help="For people, one line each for a build log, or for machines.",
    )


def asked(
    sources: tuple[str, ...],
    clock: tuple[Clock, ...],
    crystal: tuple[str, ...],
    written_for: Clock | None,
    cpu: str | None,
    syntax: str | None,
    habit: tuple[str, ...],
    project: str | None,
    define: tuple[str, ...],
    include: tuple[str, ...],
    gaps_at: tuple[str, ...] = (),
) -> Asked:
    """What the options of `building` ask for."""
    return Asked(
        sources, cpu, clock, written_for, project, define, include, gaps_at, crystal, syntax or "", habit
    )


_BUILDING = (
    click.argument("sources", nargs=-1, metavar="[SOURCE]..."),
    click.option(
        "--clock", type=ClockType(), multiple=True, help="A bus clock to judge, such as 2MHz; repeatable."
    ),
    click.option(
        "--crystal",
        metavar="[NAME=]FREQ",
        multiple=True,
        help="Turn an oscillator of the project file (its only one without NAME); all that hangs on it follows.",
    ),
    click.option("--written-for", type=ClockType(), help="The clock the source is known to work at."),
    click.option("--cpu", metavar="NAME", help="The processor; see clockhop cpus."),
    click.option(
        "--syntax", metavar="NAME", help="Whose words the source has, such as intel; else a file shows it."
    ),
    click.option(
        "--habit",
        metavar="NAME[=no]",
        multiple=True,
        help="A way of writing that all files have, or have not; repeatable.",
    ),
    click.option("--project", metavar="FILE", help="The project file, instead of the nearest clockhop.yaml."),
    click.option("-D", "define", metavar="NAME=VALUE", multiple=True, help="Define a symbol; repeatable."),
    click.option(
        "-I",
        "include",
        metavar="DIR",
        multiple=True,
        help="Search includes there too, outside the tree as well; repeatable.",
    ),
)

_COLOUR_KEY = f"{__name__}.colour"
_FILE = click.option(
    "-o", "output", metavar="FILE", callback=_joined, help="Write there instead of the terminal."
)
_COLOUR = click.option(
    "--colour",
    "--color",
    type=click.Choice(("auto", "always", "never")),
    default="auto",
    show_default=True,
    is_eager=True,  # -o is read behind it and takes it along
    expose_value=False,
    callback=_keep,
    help="Paint the text form; auto: on a terminal, unless NO_COLOR or TERM says no.",
)
