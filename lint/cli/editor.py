"""`clockhop editor`: a language server at standard input and output."""

import click

from ..errors import ClockhopError


@click.command("editor", epilog="Example: an editor runs it; see its README section for how to tell yours")
def command() -> int:
    """Talk to an editor that speaks the language server protocol, at standard input and output.

    It shows what check finds while you type, cycles and times under the pointer and beside the lines, and offers
    mends. Its settings are those of the command line: clock, crystal, writtenFor, cpu, project, define,
    include, syntax, habit.
    """
    try:
        from ..editor.server import serve
    except ModuleNotFoundError as fault:
        if (fault.name or "").partition(".")[0] not in ("pygls", "lsprotocol"):
            raise
        raise ClockhopError(
            "the language server needs pygls 2; install it with pip install 'clockhop[editor]'"
        ) from None
    return serve()
