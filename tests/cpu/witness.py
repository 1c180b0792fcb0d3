"""Published figures beside what the tables make of the same instruction."""

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
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


@cache
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


@cache
def unwitnessed(name: str) -> dict[tuple[str, str], str]:
    """(opcode, field) -> why no outside figure decides it."""
    entries = [
        node.fields(("opcode", "field", "reason")) for node in notes("unwitnessed").mapping()[name].sequence()
    ]
    return {(entry["opcode"].text(), entry["field"].text()): entry["reason"].text() for entry in entries}


@dataclass(frozen=True)
class Mode:
    """A published index mode: its operand pattern, what it adds, and in which columns it stands."""

    pattern: str
    extra_bytes: int
    cycles: dict[str, int]


def modes() -> list[Mode]:
    """The published index modes, all 38 of them."""
    sections = notes("6809-6309-notes").mapping()["index_modes"].mapping()
    return [
        _mode({key: value.text() for key, value in node.mapping().items()})
        for kind in ("direct", "indirect")
        for node in sections[kind].sequence()
    ]


def _mode(entry: dict[str, str]) -> Mode:
    columns = ("6809", "6309_emulation", "6309_native")
    cycles = {column: entry[f"cycles_{column}"] for column in columns}
    return Mode(
        _pattern(entry["form"]),
        int(entry["extra_bytes"]),
        {column: int(number) for column, number in cycles.items() if number != "null"},
    )


def _pattern(form: str) -> str:
    """A published mode in the spelling of operand patterns: n5,R is s5,R and n8,PCR is rel8,PCR."""
    if "PCR" in form:
        return form.replace("n8", "rel8").replace("n16", "rel16")
    return re.sub(r"n(\d+),", r"s\1,", form.replace("[n16]", "[a16]"))


@dataclass(frozen=True)
class Data:
    """One published access: its letter, how many bytes, its first cycle."""

    letter: str
    size: int
    cycle: int


def published(text: str, letters: str = "rw") -> list[Data]:
    """`r1@4 w1@6` as published; what follows a bracket or semicolon is about another condition."""
    first = text.split("(")[0].split(";")[0]
    found = re.findall(rf"([{letters}])(\d+)@(\d+)", first)
    return joined([Data(letter, int(size), int(cycle)) for letter, size, cycle in found])


def joined(parts: list[Data]) -> list[Data]:
    """Accesses of one letter that follow each other as one."""
    found: list[Data] = []
    for part in parts:
        before = found[-1] if found else None
        if before and before.letter == part.letter and before.cycle + before.size == part.cycle:
            found[-1] = Data(before.letter, before.size + part.size, before.cycle)
        else:
            found.append(part)
    return found


def counted(action: Action, letters: str = "rw", **known: bool) -> list[Data]:
    """The certain accesses of an action that do not come after a wait, joined where they follow each other."""
    found: list[Data] = []
    for access in accesses(action, truth(**known)):
        if access.kind[0] in letters and access.certain and access.last is not None:
            assert access.first == access.last
            found.append(Data(access.kind[0], 1, access.first))
    return joined(found)


def flags(action: Action) -> str:
    """What the meaning does to H N Z V C, in the letters of the published tables."""
    kinds = changed(action)
    return "".join(kinds.get(flag, "-") for flag in "HNZVC")


def changed(action: Action) -> dict[str, str]:
    """What the meaning sets: to 0 or 1, to something undefined (u), to a result (*), or as part of a whole (c)."""
    return _changed(action.meaning)


def _changed(statements: tuple[Statement, ...]) -> dict[str, str]:
    """The letter of everything the statements set; what alternatives set differently depends on the result."""
    kinds: dict[str, str] = {}
    for statement in statements:
        match statement:
            case Assign(target=Register(parts=((name, _),)), value=value):
                kinds[name] = _kind(value)
            case Assign(target=Register(parts=parts)):
                kinds |= dict.fromkeys((name for name, _ in parts), "c")
            case If():
                kinds |= dict.fromkeys(_changed(statement.then) | _changed(statement.otherwise), "*")
            case _:
                pass
    return kinds


def _kind(value: object) -> str:
    match value:
        case Number(value=number):
            return str(number)
        case Undefined():
            return "u"
        case _:
            return "*"
