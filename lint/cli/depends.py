"""`check --depends`: what a check rests on, as rules for make."""

import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import PurePath

from ..chain import Request, inputs, reader
from ..errors import Place, SourceError
from ..visible import visible
from .output import Output, refuse_file, store
from .recall import show

_READ_BY_MAKE = re.compile(r"([ #:%])")


def make_depends(
    requests: Iterable[Request], held: dict[str, bytes], target: str | None, output: Output
) -> int:
    """Prints or writes a rule for each source; with `target` one for all of them.

    A rule without a recipe for each file below lets make go on when a file that was included is gone.
    """
    rules: dict[str, dict[str, None]] = {}
    for request in requests:
        files = inputs(request, reader(request, held) if held else None)
        name = target or str(PurePath(request.source).with_suffix(".checked"))
        rules.setdefault(name, {}).update(dict.fromkeys(files))
    text = "".join(f"{line}\n" for line in _lines(rules))
    if output.path is None:
        show(text)
        return 0
    refuse_file(output.path, [file for files in rules.values() for file in files])
    store(output.path, text)
    return 0


def _lines(rules: dict[str, dict[str, None]]) -> Iterator[str]:
    for target, files in rules.items():
        yield f"{_target(target)}: {' '.join(map(_named, files))}"
    for file in dict.fromkeys(file for files in rules.values() for file in files):
        yield f"{_target(file)}:"


def _target(name: str) -> str:
    return _quoted(name, lambda found: f"\\{found[1]}")


def _named(name: str) -> str:
    # In a list of files the percent sign is one like any other.
    return _quoted(name, lambda found: found[1] if found[1] == "%" else f"\\{found[1]}")


def _quoted(name: str, quote: Callable[[re.Match[str]], str]) -> str:
    if name != visible(name) or "\t" in name or "\\" in name:
        raise SourceError("no rule of make can name this file; rename it", Place(name))
    return _READ_BY_MAKE.sub(quote, name.replace("$", "$$"))
