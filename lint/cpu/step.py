"""Bus steps: what a processor does in each cycle of an instruction, written as one short word a step."""

import re
from dataclasses import dataclass
from enum import StrEnum

from ..errors import TableError
from .meaning import Expr


class Kind(StrEnum):
    """What happens on the bus in one cycle."""

    FETCH = "f"
    READ = "r"
    WRITE = "w"
    DUMMY = "d"  # a read at a real address whose value nobody wants
    IDLE = "i"
    STRETCH = "s"  # the access that follows waits a cycle; a fact of the board, in no table
    WAIT = "z"  # no cycle up to any number of them, until an interrupt comes


@dataclass(frozen=True, slots=True)
class Guard:
    """A named condition that must be true, or with `wanted` false must not."""

    name: str
    wanted: bool = True


@dataclass(frozen=True, slots=True)
class Step:
    """One cycle. Not `placed`: no source says where it comes. It comes if all guards hold."""

    kind: Kind
    placed: bool = True
    guards: tuple[Guard, ...] = ()


@dataclass(frozen=True, slots=True)
class Repeated:
    """A group of steps that comes `count` times, a value from 0 to `high` that only running it tells."""

    steps: tuple[Step, ...]
    count: Expr
    high: int
    guards: tuple[Guard, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Steps as the table writes them: a group with its number of repetitions, a number or a name."""

    steps: tuple[Step, ...]
    count: int | str
    guards: tuple[Guard, ...]


_WORD = re.compile(
    r"\s*(?:\((?P<group>[^()]*)\)|(?P<kind>[frwdiz?]))"
    r"(?:\*(?P<count>[0-9]+|[A-Za-z_]\w*))?(?:\?(?P<guards>!?\w+(?:&!?\w+)*))?(?=\s|$)"
)


def read(text: str) -> tuple[Group, ...]:
    """The steps of a table entry: letters with `*count` and `?condition&!condition`, groups in brackets.

    `?` alone is an idle cycle of unknown place. Raises TableError for anything else.
    """
    groups: list[Group] = []
    text = text.strip()
    place = 0
    while place < len(text):
        word = _WORD.match(text, place)
        if word is None:
            raise TableError(f'steps "{text}": not understood from "{text[place:].strip()}" on')
        groups.append(_group(word))
        place = word.end()
    return tuple(groups)


def _group(word: re.Match[str]) -> Group:
    count = word["count"] or "1"
    inner = word["group"]
    steps = (_step(word["kind"]),) if inner is None else tuple(_step(kind) for kind in inner.split())
    return Group(steps, int(count) if count.isdigit() else count, _guards(word["guards"]))


def _step(letter: str) -> Step:
    if letter == "?":
        return Step(Kind.IDLE, placed=False)
    try:
        return Step(Kind(letter))
    except ValueError:
        raise TableError(f'step "{letter}" is unknown; accepted: f r w d i z ?') from None


def _guards(text: str | None) -> tuple[Guard, ...]:
    if not text:
        return ()
    return tuple(Guard(name.lstrip("!"), not name.startswith("!")) for name in text.split("&"))
