"""Reads the parts of a project file: what they are, where they stand, and what they are clocked with."""

import re
from collections.abc import Collection, Mapping
from fractions import Fraction

from ..quantity import Clock, parse_clock
from ..tables import Node, nearest
from .family import find_family
from .oscillator import Tree
from .part import Family, Grade, Mode, OwnClocks
from .placed import MOST_WAITS, BusClock, FixedClock, MadeClock, PartClock, RateClock, feed
from .project import (
    Absolute,
    Address,
    BehindPort,
    InPorts,
    Mapped,
    OnLines,
    PartEntry,
    Scattered,
    Symbolic,
    Where,
    WireEntry,
)

_SYMBOL = re.compile(r"([A-Za-z_.@?$][\w.@?$]*)\s*(?:\+\s*(\d+|\$[0-9A-Fa-f]+))?")
_FROM_BUS = re.compile(r"bus(?:\s*([*/])\s*(\d+))?")
_BIT = re.compile(r"(?:bit )?([0-7])")
_BITS = {"0-7": (0, 8), "0-3": (0, 4), "4-7": (4, 4)}


def read_part(name: str, node: Node, known: Collection[Family], tree: Tree) -> PartEntry:
    """The part written in `node`; raises its error for what no part can be."""
    fields = node.fields(
        required=("family",),
        optional=(
            "at",
            "ports",
            "behind",
            "lines",
            "mode",
            "grade",
            "clock",
            "rate_clock",
            "inputs",
            "baud",
            "hurts",
            "waits",
            "tried",
            "note",
        ),
    )
    family, grade, grade_stated = read_family_word(fields["family"], fields.get("grade"), known)
    where = _where(node, fields, family)
    mode = _mode(fields.get("mode"), family, where)
    clock = _part_clock(fields["clock"], tree) if "clock" in fields else None
    if clock is None:
        _refuse_missing_clock(node, name, family, grade)
    return PartEntry(
        name=name,
        family=family,
        grade=grade,
        grade_stated=grade_stated or len(family.grades) == 1,
        mode=mode or family.modes[0],
        mode_stated=mode is not None or len(family.modes) == 1,
        where=where,
        clock=clock,
        rate_clock=_rate_clock(fields["rate_clock"], tree) if "rate_clock" in fields else None,
        inputs=_inputs(fields["inputs"], family, tree) if "inputs" in fields else {},
        baud=fields["baud"].integer(1) if "baud" in fields else None,
        hurts="hurts" in fields and fields["hurts"].choice(("true", "false")) == "true",
        waits=fields["waits"].integer(0, MOST_WAITS) if "waits" in fields else 0,
        tried=read_tried(fields),
        note=text_of(fields, "note"),
        place=node.place,
    )


def read_family_word(word: Node, grade: Node | None, known: Collection[Family]) -> tuple[Family, Grade, bool]:
    """The family named, its grade (the strictest where none is stated) and whether it is stated."""
    found = find_family(word.text(), known)
    if found is None:
        word.fail(f'unknown family "{word.text()}"; {nearest(word.text(), _family_words(known))}')
    family, implied = found
    if grade is not None:
        return family, read_grade(grade, family), True
    return family, implied or family.grades[0], implied is not None


def _family_words(known: Collection[Family]) -> list[str]:
    parts = [family for family in known if family.kind != "processor"]
    return [word for family in parts for word in (family.name, *family.names)]


def read_grade(node: Node, family: Family) -> Grade:
    """The grade of a family by its name or part number."""
    found = family.grade(node.text())
    if found is None:
        words = [name for grade in family.grades for name in (grade.name, *grade.names) if name]
        node.fail(f'unknown grade "{node.text()}" of {family.name}; {nearest(node.text(), words)}')
    return found


def _mode(node: Node | None, family: Family, where: Where) -> Mode | None:
    if node is None:
        halves = isinstance(where, BehindPort) and where.width == 4
        return next((mode for mode in family.modes if halves and mode.halves), None)
    found = family.mode(node.text())
    if found is None:
        words = [mode.name for mode in family.modes if mode.name]
        node.fail(f'unknown mode "{node.text()}" of {family.name}; {nearest(node.text(), words)}')
    return found


def _where(node: Node, fields: Mapping[str, Node], family: Family) -> Where:
    given = [key for key in ("at", "ports", "behind", "lines") if key in fields]
    if len(given) != 1:
        node.fail("where the part is must be said once; write one of at:, ports:, behind: and lines:")
    place = fields[given[0]]
    if "lines" in fields:
        return _lines(place, family)
    if not family.ports:
        place.fail(f"{family.name} has no addresses of its own; {_otherwise(family)}")
    if "at" in fields:
        return Mapped(read_address(place))
    if "ports" in fields:
        entries = place.fields(optional=[port.name for port in family.ports])
        if not entries:
            place.fail(f"no port is given; {nearest('', [port.name for port in family.ports])}")
        return Scattered({name: read_address(entry) for name, entry in entries.items()})
    if family.pins is None:
        place.fail(f"{family.name} behind a parallel port is not known; write at: or ports:")
    return _behind(place, one_port=family.pins.ports[0] == family.pins.ports[1])


def _otherwise(family: Family) -> str:
    return "write lines:" if family.lines else "name a part that has"


def _lines(node: Node, family: Family) -> OnLines:
    if not family.lines:
        node.fail(f"{family.name} has no lines; write at: or ports:")
    entries = node.fields(optional=family.lines)
    if not entries:
        node.fail(f"no line is given; {nearest('', family.lines)}")
    return OnLines({name: _wire(entry) for name, entry in entries.items()})


def _wire(node: Node) -> WireEntry:
    fields = node.fields(required=("at", "bit"), optional=("inverted",))
    inverted = "inverted" in fields and fields["inverted"].choice(("true", "false")) == "true"
    return WireEntry(read_address(fields["at"]), _bit(fields["bit"]), inverted)


def _behind(node: Node, one_port: bool) -> BehindPort:
    pins = ("data", "control", "enable") if one_port else ("data", "control", "enable", "select")
    optional = ("data_bits",) if one_port else ("read", "data_bits")
    fields = node.fields(required=pins, optional=optional)
    bits = fields["data_bits"].choice(_BITS) if "data_bits" in fields else "0-7"
    shift, width = _BITS[bits]
    return BehindPort(
        data=read_address(fields["data"]),
        control=read_address(fields["control"]),
        enable=_bit(fields["enable"]),
        select=_bit(fields["select"]) if "select" in fields else 0,
        read=_bit(fields["read"]) if "read" in fields else 0,
        shift=shift,
        width=width,
    )


def _bit(node: Node) -> int:
    found = _BIT.fullmatch(node.text())
    if found is None:
        node.fail(f'"{node.text()}" is not a bit; write bit 0 to bit 7')
    return 1 << int(found[1])


def _part_clock(node: Node, tree: Tree) -> PartClock:
    found = _FROM_BUS.fullmatch(node.text())
    if found is None:
        clock, was = tree.clock(node), tree.clock(node, turned=False)
        return FixedClock(clock, was if was != clock else None)
    number = Fraction(int(found[2] or 1))
    if number == 0:
        node.fail(f'"{node.text()}" is no clock; write bus, bus / 2 or bus * 4')
    return BusClock(1 / number if found[1] == "/" else number)


def _rate_clock(node: Node, tree: Tree) -> RateClock:
    """What a bit rate is made from: a clock, or an output of another part."""
    if not node.is_mapping:
        return _part_clock(node, tree)
    fields = node.fields(required=("part", "output"))
    return MadeClock(fields["part"].text(), fields["output"].text())


def _inputs(node: Node, family: Family, tree: Tree) -> Mapping[str, RateClock]:
    """What each of the counting pins of a part is fed with."""
    if not family.inputs:
        node.fail(f"{family.name} has no inputs that count; write clock: or rate_clock:")
    return {pin: _rate_clock(entry, tree) for pin, entry in node.fields(optional=family.inputs).items()}


def refuse_strange_makers(nodes: Mapping[str, Node], parts: Collection[PartEntry]) -> None:
    """Raises for a rate_clock: or inputs: made by a part or an output that there is not."""
    families = {part.name: part.family for part in parts}
    for part in parts:
        fields = nodes[part.name].mapping()
        clocks = [(fields.get("rate_clock"), part.rate_clock)]
        clocks += [(fields["inputs"].mapping()[pin], clock) for pin, clock in part.inputs.items()]
        for node, clock in clocks:
            if node is not None and isinstance(clock, MadeClock):
                made = node.mapping()
                made["part"].choice(families)
                made["output"].choice(_makers(families[clock.part]))
    for part in parts:
        _refuse_circle(nodes[part.name], part, {each.name: each for each in parts})


def _refuse_circle(node: Node, part: PartEntry, parts: Mapping[str, PartEntry]) -> None:
    """Raises where the clock of an output comes from that output again."""
    work = [(part, output, frozenset[str]()) for output in part.family.outputs]
    while work:
        maker, output, behind = work.pop()
        name = f"{maker.name} {output.name}"
        if name in behind:
            node.fail(f"{name} counts what it makes itself; correct inputs: or rate_clock:")
        clock = feed(output, maker.clock, maker.rate_clock, maker.inputs)
        if isinstance(clock, MadeClock):
            made = parts[clock.part]
            outputs = [each for each in made.family.outputs if clock.output in (each.name, each.pin)]
            work += [(made, each, behind | {name}) for each in outputs]


def _makers(family: Family) -> list[str]:
    """The outputs and pins of a family that can be the clock of something."""
    names = [name for output in family.outputs for name in (output.pin, output.name) if name]
    return list(dict.fromkeys(names))


def _refuse_missing_clock(node: Node, name: str, family: Family, grade: Grade) -> None:
    own = family.own_clock
    counts = any(isinstance(row.amounts.get(grade.name), OwnClocks) for row in family.limits)
    if counts and own and own.slowest is None:
        node.fail(
            f"{name}: the {family.name} counts in its {own.name}; add clock: and a frequency, or clock: bus"
        )


def read_address(node: Node) -> Address:
    """An address as it is written: a number, a symbol and a number, or either behind io: for a port."""
    text = node.text()
    if text.startswith("io:"):
        inner = read_address(Node(node.place, text.removeprefix("io:"), node.error))
        return InPorts(inner, node.place)
    if text[:1].isdigit() or re.fullmatch(r"\$[0-9A-Fa-f]+|%[01]+", text):
        return Absolute(node.integer(0), node.place)
    found = _SYMBOL.fullmatch(text)
    if found is None:
        node.fail(
            f'"{text}" is not an address; write $8000, io:$10 for a port, a symbol, or a symbol + a number'
        )
    plus = found[2] or "0"
    return Symbolic(found[1], int(plus[1:], 16) if plus.startswith("$") else int(plus), node.place)


def read_tried(fields: Mapping[str, Node], key: str = "tried") -> Clock | None:
    """The clock at which something has run, None where nothing is said."""
    return parse_clock(fields[key].text(), fields[key].place) if key in fields else None


def text_of(fields: Mapping[str, Node], key: str) -> str:
    """A text, empty where it is left out."""
    return fields[key].text() if key in fields else ""
