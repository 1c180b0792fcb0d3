"""Every table with a published one beside it, and how to read the published one's columns.

A new processor adds its CSV to tests/reference/cpus and one `Published` to ALL; a new way to write accesses or flags
is a function here.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from clockhop import cpu
from witness import Data, opcode, published, table, unwitnessed

Line = Mapping[str, str]


def by_letter(line: Line) -> dict[str, str]:
    """`-**01`: a letter for each of H N Z V C; c stands for the whole register."""
    kinds = line["flags"].replace("c", "*")
    return {flag: kind for flag, kind in zip("HNZVC", kinds, strict=True) if kind != "-"}


def names_of(line: Line) -> tuple[str, ...]:
    return tuple(line["mnemonic"].split("/"))


def accesses_of(line: Line) -> list[Data]:
    return published(line["reads_writes"])


def by_name(**names: str) -> Callable[[Line], dict[str, str]]:
    """`N0ZV?C`: the flags that change, a digit behind those that come to it, ? behind those left undefined.

    `names` are the table's words for letters that are registers there; what is in brackets is about another time.
    """

    def read(line: Line) -> dict[str, str]:
        text = re.sub(r"none|[A-Z][01?]?\([^)]*\)", "", line["flags"])
        found = re.findall(r"([A-Z])([01?]?)", text)
        return {names.get(flag, flag): {"": "*", "?": "u"}.get(kind, kind) for flag, kind in found}

    return read


def with_dummies(line: Line) -> list[Data]:
    """Accesses among which reads that nobody wants are listed."""
    return published(line["reads_writes"], "rwd")


@dataclass(frozen=True)
class Published:
    """A processor, the figures that must hold of its table, and the columns of its CSV as functions of a line.

    `flags` gives each flag a line changes, by the table's name, with its kind (0, 1, u, *); `judged` are the flags
    the CSV knows. `base` are the conditions under which cycles and accesses are listed, `letters` the kinds of access.
    """

    name: str
    opcodes: int
    unwitnessed: int
    judged: tuple[str, ...]
    flags: Callable[[Line], dict[str, str]]
    base: Mapping[str, bool] = field(default_factory=dict)
    names: Callable[[Line], tuple[str, ...]] = names_of
    accesses: Callable[[Line], list[Data]] = accesses_of
    letters: str = "rw"

    @cached_property
    def lines(self) -> dict[str, Line]:
        return {code.removeprefix("0x"): line for code, line in table(self.name).items()}

    @cached_property
    def rows(self) -> dict[str, cpu.Row]:
        return {opcode(row): row for row in cpu.load(self.name).rows}

    def witnessed(self, column: str) -> list[str]:
        """Opcodes whose column decides a test."""
        disputed = unwitnessed(self.name)
        return [code for code in self.lines if (code, column) not in disputed]


SIX = tuple("HINZVC")
QUIET = {"taken": False, "stopped": False}
ALL = (
    Published("6809", 268, 7, tuple("HNZVC"), by_letter, {"taken": False, "pulls_all": False}),
    Published("6800", 197, 1, SIX, by_name(), QUIET, accesses=with_dummies, letters="rwd"),
    Published("6801", 220, 2, SIX, by_name(), QUIET, accesses=with_dummies, letters="rwd"),
    Published("6303", 230, 1, SIX, by_name(), QUIET, accesses=with_dummies, letters="rwd"),
    Published(
        "68hc11",
        308,
        2,
        ("stop", "xirqmask", *SIX),
        by_name(S="stop", X="xirqmask"),
        QUIET,
        accesses=with_dummies,
        letters="rwd",
    ),
)
