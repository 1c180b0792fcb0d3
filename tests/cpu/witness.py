"""Published figures beside what the tables make of the same instruction."""

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from clockhop.cpu import (
    Action,
    Assign,
    Cpu,
    If,
    Number,
    Register,
    Row,
    Statement,
    Undefined,
    Value,
    Variant,
    accesses,
    cost,
)
from clockhop.tables import Node, load

REFERENCE = Path(__file__).parents[1] / "reference" / "cpus"
ADDRESS = 0x4000


def table(name: str) -> dict[str, dict[str, str]]:
    """A published table's rows by opcode, such as "10 26"."""
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["opcode"]: row for row in csv.DictReader(file)}


def notes(name: str) -> Node:
    path = REFERENCE / f"{name}.yaml"
    return load(path.read_text(encoding="utf-8"), path.name)


def opcode(row: Row) -> str:
    return row.code.hex(" ").upper()


def plain(row: Row) -> Variant:
    """The variant a published row counts: the indexed one without an offset."""
    patterns = {variant.pattern: variant for variant in row.form.variants}
    return patterns.get(",R") or patterns.get("#n8,,R") or row.form.variants[0]


def bound(cpu: Cpu, row: Row, variant: Variant, listed: tuple[str, ...] = ()) -> Action:
    """The instruction with some operand that fits."""
    fields: dict[str, Value] = {}
    for hole in variant.holes:
        match hole.kind:
            case "register":
                assert hole.registers is not None
                fields[hole.name] = "X" if "X" in hole.registers.codes else "A"
            case "list":
                fields[hole.name] = listed
            case "relative":
                fields[hole.name] = ADDRESS
            case _:
                fields[hole.name] = 1
    return cpu.bind(row, variant, fields, ADDRESS)


def truth(**known: bool) -> Callable[[str], bool | None]:
    return known.get


def fewest(action: Action, **known: bool) -> int:
    return cost(action, truth(**known)).fewest


@dataclass(frozen=True)
class Data:
    """One published access: its letter, how many bytes, its first cycle."""

    letter: str
    size: int
    cycle: int


def published(text: str) -> list[Data]:
    """`r1@4 w1@6` as published; what follows a bracket or semicolon is about another condition."""
    first = text.split("(")[0].split(";")[0]
    found = re.findall(r"([rw])(\d+)@(\d+)", first)
    return [Data(letter, int(size), int(cycle)) for letter, size, cycle in found]


def counted(action: Action, letters: str = "rw", **known: bool) -> list[Data]:
    """The certain accesses of an action, joined where they follow each other."""
    found: list[Data] = []
    for access in accesses(action, truth(**known)):
        letter = access.kind[0]
        if letter not in letters or not access.certain:
            continue
        assert access.first == access.last
        before = found[-1] if found else None
        if before and before.letter == letter and before.cycle + before.size == access.first:
            found[-1] = Data(letter, before.size + 1, before.cycle)
        else:
            found.append(Data(letter, 1, access.first))
    return found


def flags(action: Action) -> str:
    """What the meaning does to H N Z V C, in the letters of the published tables."""
    kinds = dict.fromkeys("HNZVC", "-")
    _flags(action.meaning, kinds)
    return "".join(kinds.values())


def _flags(statements: tuple[Statement, ...], kinds: dict[str, str]) -> None:
    for statement in statements:
        match statement:
            case Assign(target=Register(name="CC")):
                kinds.update(dict.fromkeys(kinds, "c"))
            case Assign(target=Register(name=name), value=value) if name in kinds:
                kinds[name] = _kind(value)
            case If():
                for part in (statement.then, statement.otherwise):
                    _flags(part, kinds)
            case _:
                pass


def _kind(value: object) -> str:
    match value:
        case Number(value=number):
            return str(number)
        case Undefined():
            return "u"
        case _:
            return "*"
