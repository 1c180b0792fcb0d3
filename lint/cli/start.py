"""Where the process begins: what was told before is told again at once, anything else goes through the door."""

import sys
from typing import Final, NoReturn

from . import recall

# These read and print, as a rule; each says itself whether it did no more.
_TELLING: Final = ("check", "durations", "margins")


def main() -> NoReturn:
    """Runs the command line of this process and exits with its status."""
    arguments = sys.argv[1:]
    recall.begin()
    known = recall.name(arguments) if arguments[:1] and arguments[0] in _TELLING else ""
    if known:
        recall.plain_streams()
        told = recall.repeat(known)
        if told is not None:
            sys.exit(told)
    # Heavier than all that stands above.
    from .entry import run

    status = run(arguments)
    if known and status in (0, 1):
        recall.remember(known, status)
    sys.exit(status)
