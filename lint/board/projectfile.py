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
from ..quantity import Clock, Stretch, parse_duration
from ..tables import Node, load, nearest
from .family import families, find_family, read_family
from .oscillator import CRYSTAL, BusSource, Tree, read_tree
from .part import Family, Grade
from .partentry import (
    read_address,
    read_family_word,
    read_grade,
    read_part,
    read_tried,
    refuse_strange_makers,
    text_of,
)
from .placed import MOST_WAITS, TIED, Logic
from .project import (
    Acceptance,
    AreaEntry,
    Build,
    BusWay,
    FailOn,
    InterruptEntry,
    Project,
    processor_grade,
)

_OPTIONAL = (
    *(
        "clock",
        "crystal",
        "divide",
        "oscillators",
        "clocks",
        "stretch",
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
_PERCENT = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,6})?) ?%")
_PART_OF_A_CYCLE = re.compile(r"[0-9]+(\.[0-9]+|/[1-9][0-9]*)?")


def load_project(path: Path, turned: Mapping[str, Clock] = _NOT_TURNED) -> Project:
    """The project file at `path`, with the oscillators of `turned` at the frequencies they have there.

    Raises BoardError or QuantityError with its place, also if it can't be read.
    """
    try:
        text = looked.read(path).decode("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise BoardError(f"can't be read: {fault}", Place(str(path))) from None
    if len(text) > _LARGEST:
        raise BoardError(f"has {len(text)} characters, more than {_LARGEST}; split it", Place(str(path)))
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
    parts = tuple(read_part(name, node, known, tree) for name, node in part_nodes.items())
    refuse_strange_makers(part_nodes, parts)
    interrupts = _entries(fields, "interrupts").items()
    fail_on = fields["fail_on"].choice(_FAIL_ON) if "fail_on" in fields else "warning"
    return Project(
        path=path,
        processor=processor.text(),
        processor_place=processor.place,
        processor_grade=_processor_grade(processor, fields.get("processor_grade")),
        processor_tried=read_tried(fields, "processor_tried"),
        processor_state=frozenset(_state(processor.text(), fields)),
        syntax=text_of(fields, "syntax"),
        habits={
            name: node.choice(["yes", "no"]) == "yes" for name, node in _entries(fields, "habits").items()
        },
        clocks=_clocks(fields, tree, bus),
        oscillators=tuple(tree.oscillators.values()),
        bus=bus,
        written_for=tree.clock(fields["written_for"], turned=False) if "written_for" in fields else None,
        stretch=_stretch(fields["stretch"]) if "stretch" in fields else None,
        entries=tuple(read_address(node) for node in _items(fields, "entries")),
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
    return read_grade(node, family)


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


def _stretch(node: Node) -> Stretch:
    """Which cycles of the bus are longer, and by how much of a cycle."""
    fields = node.fields(required=("every", "by"))
    by = fields["by"]
    if _PART_OF_A_CYCLE.fullmatch(by.text()) is None:
        by.fail(f'"{by.text()}" is no number of cycles; write 1, 0.5 or 1/7')
    return Stretch(fields["every"].integer(1), Fraction(by.text()))


def _oscillators(word: str, tree: Tree) -> str:
    return nearest(word, list(tree.oscillators)) if tree.oscillators else "the project file names none"


def _interrupt(name: str, node: Node) -> InterruptEntry:
    fields = node.fields(required=("entry",), optional=("period",))
    period = fields.get("period")
    return InterruptEntry(
        name, read_address(fields["entry"]), parse_duration(period.text(), period.place) if period else None
    )


def _area(
    name: str, node: Node, known: Collection[Family], edges: tuple[str, ...], default: BusWay
) -> AreaEntry:
    fields = node.fields(required=("from", "to", "kind"), optional=("part", "grade", "waits", "bus", "tried"))
    kind = fields["kind"].choice(_AREA_KINDS)
    family, grade, stated = None, None, False
    if "part" in fields:
        family, grade, stated = read_family_word(fields["part"], fields.get("grade"), known)
    elif "grade" in fields:
        fields["grade"].fail("grade without part; add part: or remove it")
    return AreaEntry(
        name=name,
        kind=next(value for value in _AREA_KINDS if value == kind),
        first=read_address(fields["from"]),
        last=read_address(fields["to"]),
        family=family,
        grade=grade,
        grade_stated=stated,
        waits=fields["waits"].integer(0, MOST_WAITS) if "waits" in fields else 0,
        way=_way(fields["bus"], edges, known, default) if "bus" in fields else default,
        tried=read_tried(fields),
        place=node.place,
    )


def _share(node: Node) -> Fraction:
    found = _PERCENT.fullmatch(node.text())
    share = Fraction(found[1]) / 100 if found else None
    if share is None or share >= Fraction(1, 2):
        node.fail(f'"{node.text()}" is no share below a half; write such as 5%')
    return share


_LARGEST = 1024 * 1024
_NO_WAY = BusWay(None, None, (), (), ())


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
    return Acceptance(fields["finding"].text(), text_of(fields, "at"), fields["because"].text(), node.place)


def _items(fields: Mapping[str, Node], key: str) -> tuple[Node, ...]:
    return fields[key].sequence() if key in fields else ()


def _entries(fields: Mapping[str, Node], key: str) -> Mapping[str, Node]:
    return fields[key].mapping() if key in fields else {}


def _defines(fields: Mapping[str, Node]) -> Mapping[str, str]:
    return {name: node.text() for name, node in _entries(fields, "defines").items()}


def _texts(fields: Mapping[str, Node], key: str) -> tuple[str, ...]:
    return tuple(node.text() for node in _items(fields, key))
