"""Reads a project file; an error names the line and column, what stands there and what would be accepted."""

import re
from collections.abc import Collection, Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Literal

from .. import looked
from ..cpu import is_known
from ..cpu import load as load_processor
from ..errors import BoardError, Place
from ..quantity import Clock, parse_clock, parse_duration
from ..tables import Node, load, nearest
from .family import families, find_family, read_family
from .oscillator import CRYSTAL, BusSource, Tree, read_tree
from .part import Family, Grade, Mode, OwnClocks
from .placed import TIED, BusClock, FixedClock, Logic, MadeClock, PartClock, RateClock
from .project import (
    Absolute,
    Acceptance,
    Address,
    AreaEntry,
    BehindPort,
    Build,
    BusWay,
    FailOn,
    InPorts,
    InterruptEntry,
    Mapped,
    OnLines,
    PartEntry,
    Project,
    Scattered,
    Symbolic,
    Where,
    WireEntry,
    processor_grade,
)

_OPTIONAL = (
    *(
        "clock",
        "crystal",
        "divide",
        "oscillators",
        "clocks",
        "written_for",
        "processor_grade",
        "syntax",
        "habits",
    ),
    *("processor_tried", "processor_state", "bus", "entries", "interrupts", "memory", "families", "parts"),
    *("builds", "defines", "include", "accept", "fail_on", "not_understood"),
)
_NOT_TURNED: Mapping[str, Clock] = {}
_FAIL_ON: tuple[FailOn, ...] = ("error", "warning", "note", "never")
_AREA_KINDS: tuple[Literal["rom", "ram"], ...] = ("rom", "ram")
_SYMBOL = re.compile(r"([A-Za-z_.@?$][\w.@?$]*)\s*(?:\+\s*(\d+|\$[0-9A-Fa-f]+))?")
_FROM_BUS = re.compile(r"bus(?:\s*([*/])\s*(\d+))?")
_BIT = re.compile(r"(?:bit )?([0-7])")
_PERCENT = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,6})?) ?%")
_BITS = {"0-7": (0, 8), "0-3": (0, 4), "4-7": (4, 4)}


def load_project(path: Path, turned: Mapping[str, Clock] = _NOT_TURNED) -> Project:
    """The project file at `path`, with the oscillators of `turned` at the frequencies they have there.

    Raises BoardError or QuantityError with its place, also if it can't be read.
    """
    try:
        text = looked.read(path).decode("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise BoardError(f"can't be read: {fault}", Place(str(path))) from None
    return read_project(text, path, turned)


def read_project(text: str, path: Path, turned: Mapping[str, Clock] = _NOT_TURNED) -> Project:
    """The project written in `text`; `path` is where it stands. `turned` and errors as in `load_project`."""
    fields = load(text, str(path), BoardError).fields(required=("processor",), optional=_OPTIONAL)
    processor = fields["processor"]
    tree = read_tree(fields, turned)
    unknown = [name for name in turned if name not in tree.oscillators]
    if unknown:
        raise BoardError(
            f'no oscillator "{unknown[0]}" to turn; {_oscillators(unknown[0], tree)}', Place(str(path))
        )
    bus = _bus(fields, tree)
    known = (*(read_family(node) for node in _items(fields, "families")), *families())
    edges = _edges(processor)
    way = _way(fields["bus"], edges, known, _NO_WAY) if "bus" in fields else _NO_WAY
    memory = _entries(fields, "memory").items()
    part_nodes = _entries(fields, "parts")
    parts = tuple(_part(name, node, known, tree) for name, node in part_nodes.items())
    _refuse_strange_makers(part_nodes, parts)
    interrupts = _entries(fields, "interrupts").items()
    fail_on = fields["fail_on"].choice(_FAIL_ON) if "fail_on" in fields else "warning"
    return Project(
        path=path,
        processor=processor.text(),
        processor_place=processor.place,
        processor_grade=_processor_grade(processor, fields.get("processor_grade")),
        processor_tried=_tried(fields, "processor_tried"),
        processor_state=frozenset(_state(processor.text(), fields)),
        syntax=_text(fields, "syntax"),
        habits={
            name: node.choice(["yes", "no"]) == "yes" for name, node in _entries(fields, "habits").items()
        },
        clocks=_clocks(fields, tree, bus),
        oscillators=tuple(tree.oscillators.values()),
        bus=bus,
        written_for=tree.clock(fields["written_for"], turned=False) if "written_for" in fields else None,
        entries=tuple(_address(node) for node in _items(fields, "entries")),
        interrupts=tuple(_interrupt(name, node) for name, node in interrupts),
        areas=tuple(_area(name, node, known, edges, way) for name, node in memory),
        parts=parts,
        builds=tuple(_build(name, node, tree) for name, node in _entries(fields, "builds").items()),
        defines=_defines(fields),
        include=_texts(fields, "include"),
        accept=tuple(_acceptance(node) for node in _items(fields, "accept")),
        fail_on=next(value for value in _FAIL_ON if value == fail_on),
        not_understood=_share(fields["not_understood"]) if "not_understood" in fields else None,
    )


def _processor_grade(processor: Node, node: Node | None) -> Grade | None:
    if node is None:
        return None
    family, _ = processor_grade(processor.text(), None)
    if family is None:
        node.fail(f"no grades of {processor.text()} are known; leave processor_grade out")
    return _grade(node, family)


def _state(processor: str, fields: Mapping[str, Node]) -> Iterator[tuple[str, int]]:
    """What registers that decide on cycles hold at the start, where not what they hold after reset."""
    stated = _entries(fields, "processor_state")
    if not stated or not is_known(processor):
        return  # who loads it says that it is unknown
    cpu = load_processor(processor)
    for name, node in stated.items():
        if name not in cpu.mode_registers:
            known = nearest(name, cpu.mode_registers) if cpu.mode_registers else "it has none"
            node.fail(f'"{name}" is no register of the {processor} that decides on cycles; {known}')
        yield name, node.integer(0, (1 << cpu.register(name).width) - 1)


def _bus(fields: Mapping[str, Node], tree: Tree) -> BusSource | None:
    """The oscillator the bus clock is made from; None where the clock is written as a frequency, or not at all."""
    if "divide" in fields and "crystal" not in fields:
        fields["divide"].fail("divide without crystal; add crystal: or remove it")
    if "clock" in fields:
        if "crystal" in fields:
            fields["crystal"].fail("clock and crystal are both given; keep one")
        return tree.source(fields["clock"])
    if "crystal" not in fields:
        return None
    if "divide" not in fields:
        fields["crystal"].fail("crystal without divide; add divide: and a number, or write clock: instead")
    return BusSource(CRYSTAL, Fraction(1, fields["divide"].integer(1)))


def _clocks(fields: Mapping[str, Node], tree: Tree, bus: BusSource | None) -> tuple[Clock, ...]:
    """The board's own clock first, then the others to judge, each once."""
    clocks = [tree.clock(node) for node in _items(fields, "clocks")]
    if bus is not None:
        clocks.insert(0, tree.oscillators[bus.name].clock.times(bus.times))
    elif "clock" in fields:
        clocks.insert(0, tree.clock(fields["clock"]))
    return tuple(dict.fromkeys(clocks))


def _oscillators(word: str, tree: Tree) -> str:
    return nearest(word, list(tree.oscillators)) if tree.oscillators else "the project file names none"


def _interrupt(name: str, node: Node) -> InterruptEntry:
    fields = node.fields(required=("entry",), optional=("period",))
    period = fields.get("period")
    return InterruptEntry(
        name, _address(fields["entry"]), parse_duration(period.text(), period.place) if period else None
    )


def _area(
    name: str, node: Node, known: Collection[Family], edges: tuple[str, ...], default: BusWay
) -> AreaEntry:
    fields = node.fields(required=("from", "to", "kind"), optional=("part", "grade", "waits", "bus", "tried"))
    kind = fields["kind"].choice(_AREA_KINDS)
    family, grade, stated = None, None, False
    if "part" in fields:
        family, grade, stated = _family(fields["part"], fields.get("grade"), known)
    elif "grade" in fields:
        fields["grade"].fail("grade without part; add part: or remove it")
    return AreaEntry(
        name=name,
        kind=next(value for value in _AREA_KINDS if value == kind),
        first=_address(fields["from"]),
        last=_address(fields["to"]),
        family=family,
        grade=grade,
        grade_stated=stated,
        waits=fields["waits"].integer(0) if "waits" in fields else 0,
        way=_way(fields["bus"], edges, known, default) if "bus" in fields else default,
        tried=_tried(fields),
        place=node.place,
    )


def _share(node: Node) -> Fraction:
    found = _PERCENT.fullmatch(node.text())
    share = Fraction(found[1]) / 100 if found else None
    if share is None or share >= Fraction(1, 2):
        node.fail(f'"{node.text()}" is no share below a half; write such as 5%')
    return share


_NO_WAY = BusWay(None, None, (), (), ())


def _tried(fields: Mapping[str, Node], key: str = "tried") -> Clock | None:
    return parse_clock(fields[key].text(), fields[key].place) if key in fields else None


def _edges(processor: Node) -> tuple[str, ...]:
    """The edges of the processor's bus, by name."""
    family, _ = processor_grade(processor.text(), None)
    return tuple(edge.name for edge in family.bus_edges) if family else ()


def _way(node: Node, edges: tuple[str, ...], known: Collection[Family], default: BusWay) -> BusWay:
    """What `bus:` says of the way to a memory; what it leaves out is as in `default`."""
    fields = node.fields(optional=("enable", "output", "decoder", "strobe", "buffers"))
    choices = (*edges, TIED)
    return BusWay(
        fields["enable"].choice(choices) if "enable" in fields else default.enable,
        fields["output"].choice(choices) if "output" in fields else default.output,
        _chain(fields["decoder"], known) if "decoder" in fields else default.decoder,
        _chain(fields["strobe"], known) if "strobe" in fields else default.strobe,
        _chain(fields["buffers"], known) if "buffers" in fields else default.buffers,
    )


def _chain(node: Node, known: Collection[Family]) -> tuple[Logic, ...]:
    """Logic parts one behind the other, each a part number or a time."""
    return tuple(_logic(item, known) for item in (node.sequence() if node.is_sequence else (node,)))


def _logic(node: Node, known: Collection[Family]) -> Logic:
    parts = [family for family in known if family.kind == "logic"]
    found = find_family(node.text(), parts)
    if found is None:
        if not node.text()[:1].isdigit() or not node.text().endswith("s"):
            words = [word for family in parts for word in _logic_words(family)]
            node.fail(
                f'unknown logic "{node.text()}"; write a time such as 15 ns, or a part; {nearest(node.text(), words)}'
            )
        time = parse_duration(node.text(), node.place)
        return Logic("", time, time, "project file")
    family, implied = found
    grade = implied or family.grades[0]
    rows = {row.subject: row for row in family.bus_times if grade.name in row.times}
    if "delay" not in rows:
        node.fail(f"no delay of {node.text()} is known; write a time such as 15 ns")
    delay = rows["delay"]
    enable = rows.get("enable delay", delay)
    return Logic(node.text(), delay.times[grade.name], enable.times[grade.name], delay.evidence.text)


def _logic_words(family: Family) -> tuple[str, ...]:
    return (family.name, *family.names, *(name for grade in family.grades for name in grade.names))


def _part(name: str, node: Node, known: Collection[Family], tree: Tree) -> PartEntry:
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
            "baud",
            "hurts",
            "waits",
            "tried",
            "note",
        ),
    )
    family, grade, grade_stated = _family(fields["family"], fields.get("grade"), known)
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
        baud=fields["baud"].integer(1) if "baud" in fields else None,
        hurts="hurts" in fields and fields["hurts"].choice(("true", "false")) == "true",
        waits=fields["waits"].integer(0) if "waits" in fields else 0,
        tried=_tried(fields),
        note=_text(fields, "note"),
        place=node.place,
    )


def _family(word: Node, grade: Node | None, known: Collection[Family]) -> tuple[Family, Grade, bool]:
    """The family named, its grade (the strictest where none is stated) and whether it is stated."""
    found = find_family(word.text(), known)
    if found is None:
        word.fail(f'unknown family "{word.text()}"; {nearest(word.text(), _family_words(known))}')
    family, implied = found
    if grade is not None:
        return family, _grade(grade, family), True
    return family, implied or family.grades[0], implied is not None


def _family_words(known: Collection[Family]) -> list[str]:
    parts = [family for family in known if family.kind != "processor"]
    return [word for family in parts for word in (family.name, *family.names)]


def _grade(node: Node, family: Family) -> Grade:
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
        return Mapped(_address(place))
    if "ports" in fields:
        entries = place.fields(optional=[port.name for port in family.ports])
        if not entries:
            place.fail(f"no port is given; {nearest('', [port.name for port in family.ports])}")
        return Scattered({name: _address(entry) for name, entry in entries.items()})
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
    return WireEntry(_address(fields["at"]), _bit(fields["bit"]), inverted)


def _behind(node: Node, one_port: bool) -> BehindPort:
    pins = ("data", "control", "enable") if one_port else ("data", "control", "enable", "select")
    optional = ("data_bits",) if one_port else ("read", "data_bits")
    fields = node.fields(required=pins, optional=optional)
    bits = fields["data_bits"].choice(_BITS) if "data_bits" in fields else "0-7"
    shift, width = _BITS[bits]
    return BehindPort(
        data=_address(fields["data"]),
        control=_address(fields["control"]),
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


def _refuse_strange_makers(nodes: Mapping[str, Node], parts: Collection[PartEntry]) -> None:
    """Raises for a rate_clock: made by a part or an output that there is not."""
    families = {part.name: part.family for part in parts}
    for part in parts:
        if isinstance(part.rate_clock, MadeClock):
            fields = nodes[part.name].mapping()["rate_clock"].mapping()
            fields["part"].choice(families)
            fields["output"].choice([output.name for output in families[part.rate_clock.part].outputs])


def _refuse_missing_clock(node: Node, name: str, family: Family, grade: Grade) -> None:
    own = family.own_clock
    counts = any(isinstance(row.amounts.get(grade.name), OwnClocks) for row in family.limits)
    if counts and own and own.slowest is None:
        node.fail(
            f"{name}: the {family.name} counts in its {own.name}; add clock: and a frequency, or clock: bus"
        )


def _build(name: str, node: Node, tree: Tree) -> Build:
    fields = node.fields(required=("source",), optional=("defines", "include", "clocks"))
    return Build(
        name=name,
        source=fields["source"].text(),
        defines=_defines(fields),
        include=_texts(fields, "include"),
        clocks=tuple(dict.fromkeys(tree.clock(item) for item in _items(fields, "clocks"))),
        place=node.place,
    )


def _acceptance(node: Node) -> Acceptance:
    fields = node.fields(required=("finding", "because"), optional=("at",))
    if not fields["because"].text().strip():
        fields["because"].fail("no reason is given; write why this finding is accepted")
    return Acceptance(fields["finding"].text(), _text(fields, "at"), fields["because"].text(), node.place)


def _address(node: Node) -> Address:
    text = node.text()
    if text.startswith("io:"):
        inner = _address(Node(node.place, text.removeprefix("io:"), node.error))
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


def _items(fields: Mapping[str, Node], key: str) -> tuple[Node, ...]:
    return fields[key].sequence() if key in fields else ()


def _entries(fields: Mapping[str, Node], key: str) -> Mapping[str, Node]:
    return fields[key].mapping() if key in fields else {}


def _defines(fields: Mapping[str, Node]) -> Mapping[str, str]:
    return {name: node.text() for name, node in _entries(fields, "defines").items()}


def _text(fields: Mapping[str, Node], key: str) -> str:
    return fields[key].text() if key in fields else ""


def _texts(fields: Mapping[str, Node], key: str) -> tuple[str, ...]:
    return tuple(node.text() for node in _items(fields, key))
