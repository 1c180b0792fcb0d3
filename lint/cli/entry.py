"""The door: finds the command, says every error in one line, and ends with the exit status.

Nothing heavy is imported here: each command's module is imported when that command is asked for.
"""

import os
import traceback
from collections.abc import Sequence
from importlib import import_module
from typing import Final

import click

from .. import __version__
from ..errors import ClockhopError
from ..visible import shortened, visible
from .recall import plain_streams

TRACE: Final = "CLOCKHOP_TRACE"
FAILED: Final = 2

# The line of each command in a list; the commands themselves are in modules of the same name.
_COMMANDS: Final = {
    "draft": "Write a first project file for a source.",
    "check": "Say what breaks at the clocks of the board, and exit 1 if something does.",
    "margins": "List every requirement with its margin at each clock, and say what gives first.",
    "cycles": "Print the source with the cycles of each line, loop and routine.",
    "durations": "List every routine and loop with its cycles and its time.",
    "mend": "Show or make the least change that keeps waits and gives slow parts their time.",
    "budget": "Print the time each memory gets to answer, as sums with their sources.",
    "compose": "Write code that lasts a given time.",
    "explain": "Show the manual page of a finding.",
    "parts": "List the parts there are data for, or show one with its limits and their sources.",
    "editor": "Talk to an editor: a language server at standard input and output.",
    "cpus": "List the processors there are tables for.",
}


class _Commands(click.Group):
    """Commands whose modules are imported only when they are run."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, _ctx: click.Context, name: str) -> click.Command | None:
        if name not in _COMMANDS:
            return None
        command = import_module(f".{name}", __package__).command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: clockhop durations main.asm --cpu 6809 --clock 1MHz --clock 2MHz",
)
@click.version_option(__version__, prog_name="clockhop")
@click.pass_context
def commands(ctx: click.Context) -> None:
    """Reads 8-bit assembly source, works out its exact timing, says what breaks when the clock changes, and mends it.

    For a program of your own begin with clockhop draft.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def run(arguments: Sequence[str]) -> int:
    """Runs one command line and returns its exit status.

    0: nothing at or above the failing level; 1: findings; 2: it could not do its work.
    """
    plain_streams()
    if any("\0" in argument for argument in arguments):
        return _fail("an argument has a NUL character; take it out")
    try:
        os.getcwd()
    except FileNotFoundError:
        return _fail("the folder this runs in is gone; change to another one")
    try:
        status = commands.main(list(arguments), "clockhop", standalone_mode=False)
    except ClockhopError as fault:
        return _fail(str(fault))
    except click.UsageError as fault:
        return _fail(_usage(fault))
    except click.ClickException as fault:
        return _fail(fault.format_message())
    except (KeyboardInterrupt, click.Abort):
        return _fail("interrupted; run it again")
    except BrokenPipeError:
        return FAILED
    except Exception as fault:
        if os.environ.get(TRACE):
            traceback.print_exc()
        what = f"{type(fault).__name__}: {fault}".splitlines()[0]
        return _fail(
            f"this is a bug in clockhop ({what}); set {TRACE}=1, run again and report what it prints"
        )
    return status if isinstance(status, int) else 0


def _usage(fault: click.UsageError) -> str:
    path = fault.ctx.command_path if fault.ctx else "clockhop"
    message = " ".join(fault.format_message().split()).rstrip(".")
    return f"{message}; see {path} --help"


def _fail(message: str) -> int:
    click.echo(f"clockhop: {visible(shortened(message))}", err=True)
    return FAILED
