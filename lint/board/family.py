"""Reads the families of parts: one YAML file each, or the same written out in a project file."""

import re
from collections.abc import Callable, Collection, Mapping
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import TypeVar, get_args

from ..quantity import Clock, Duration, parse_clock, parse_duration
from ..tables import Node, packaged
from .part import (
    Amount,
    BitTimes,
    Bound,
    BusEdge,
    BusGiven,
    BusTerm,
    BusTimeRow,
    BusTimeSubject,
    Direction,
    Evidence,
    Family,
    FamilyKind,
    Figure,
    FigureBound,
    Fixed,
    Frame,
    Grade,
    LeastKind,
    LimitRow,
    Mode,
    Operation,
    Output,
    OwnClock,
    OwnClocks,
    Pair,
    PairPlace,
    Pins,
    Poll,
    Port,
    RatingRow,
    RatingSubject,
    Remark,
    Source,
)
from .registers import (
    ANY_VALUE,
    OUTPUT_KEYS,
    OUTPUT_MORE,
    read_given,
    read_output,
    read_pattern,
    read_registers,
)

_T = TypeVar("_T")
_Word = TypeVar("_Word", bound=str)


_KINDS: tuple[FamilyKind, ...] = get_args(FamilyKind)
_DIRECTIONS: tuple[Direction, ...] = get_args(Direction)
_PLACES: tuple[PairPlace, ...] = get_args(PairPlace)
_LEAST_KINDS: tuple[LeastKind, ...] = get_args(LeastKind)
_RATINGS: tuple[RatingSubject, ...] = get_args(RatingSubject)
_BUS_TIMES: tuple[BusTimeSubject, ...] = get_args(BusTimeSubject)
_FIGURE_BOUNDS: tuple[FigureBound, ...] = get_args(FigureBound)
_EVIDENCE = ("source", "page", "condition", "note", "from_memory", "fact")


@cache
def families() -> tuple[Family, ...]:
    """Every family that comes with the tool, by name. Raises TableError for a file that is wrong."""
    folder = files("clockhop.shared").joinpath("parts")
    found = [entry for entry in folder.iterdir() if entry.name.endswith(".yaml")]
    read = [read_family(packaged(f"parts/{entry.name}", entry.name)) for entry in found]
    return tuple(sorted(read, key=lambda family: family.name))


def find_family(word: str, known: Collection[Family]) -> tuple[Family, Grade | None] | None:
    """The family `word` names, with the grade if `word` is the part number of one ("68B50"); else None."""
    wanted = word.casefold()
    for family in known:
        if wanted in (name.casefold() for name in (family.name, *family.names)):
            return family, None
    for family in known:
        for grade in family.grades:
            if wanted in (name.casefold() for name in grade.names):
                return family, grade
    return None


def read_family(node: Node) -> Family:
    """The family written in `node`. Raises the node's error class, with place, for what a family can't be."""
    fields = node.fields(
        required=("family", "title", "kind"),
        optional=(
            *("names", "sources", "grades", "modes", "own_clock", "ports", "lines", "behind"),
            *("operations", "groups"),
            *("pair", "polls", "limits", "ratings", "bus_times", "bus", "figures"),
            *("registers", "follows", "frame", "formulas", "cautions"),
        ),
    )
    return _Reader(fields).family()


class _Reader:
    """The sections of one family in the order in which they refer to each other."""

    def __init__(self, fields: Mapping[str, Node]) -> None:
        self.fields = fields
        self.sources = {name: _source(node) for name, node in self.entries("sources").items()}
        grades = tuple(_grade(name, node) for name, node in self.entries("grades").items())
        self.grades = grades or (Grade("", ()),)
        self.ports = tuple(_port(name, node) for name, node in self.entries("ports").items())
        self.lines = _texts(fields.get("lines"))
        operations = self.entries("operations").items()
        self.operations = tuple(self.operation(name, node) for name, node in operations)
        self.groups = self.read_groups()
        self.polls = tuple(self.poll(name, node) for name, node in self.entries("polls").items())
        self.registers = read_registers(self.entries("registers"), [port.name for port in self.ports])
        modes = tuple(self.mode(name, node) for name, node in self.entries("modes").items())
        self.modes = modes or (Mode("", False, (), self.evidence({})),)
        self.bus_terms = tuple(self.bus_term(name, node) for name, node in self.bus("terms").items())

    def family(self) -> Family:
        return Family(
            name=self.fields["family"].text(),
            title=self.fields["title"].text(),
            kind=_one_of(self.fields["kind"], _KINDS),
            names=_texts(self.fields.get("names")),
            grades=self.grades,
            modes=self.modes,
            own_clock=self.own_clock(),
            ports=self.ports,
            lines=self.lines,
            pins=self.pins(),
            operations=self.operations,
            groups={name: self.groups[name] for name in self.entries("groups")},
            pair=self.pair(),
            polls=self.polls,
            limits=tuple(self.limit(node) for node in self.rows("limits")),
            ratings=tuple(self.rating(node) for node in self.rows("ratings")),
            bus_times=tuple(self.bus_time(node) for node in self.rows("bus_times")),
            bus_terms=self.bus_terms,
            bus_edges=tuple(self.bus_edge(name, node) for name, node in self.bus("edges").items()),
            bus_given=self.bus_given("gives"),
            port_given=self.port_given(),
            figures=tuple(self.figure(node) for node in self.rows("figures")),
            registers=self.registers,
            outputs=self.read_outputs(),
            frame=self.frame(),
            formulas=tuple(self.remark(node) for node in self.rows("formulas")),
            cautions=tuple(self.remark(node) for node in self.rows("cautions")),
        )

    def entries(self, key: str) -> Mapping[str, Node]:
        node = self.fields.get(key)
        return node.mapping() if node else {}

    def rows(self, key: str) -> tuple[Node, ...]:
        node = self.fields.get(key)
        return node.sequence() if node else ()

    def mode(self, name: str, node: Node) -> Mode:
        fields = node.fields(optional=("halves", "when", *_EVIDENCE))
        known = [register.name for register in self.registers]
        when = fields.get("when")
        ways = () if when is None else when.sequence() if when.is_sequence else (when,)
        given = tuple(read_given(way, known) for way in ways)
        return Mode(name, _truth(fields.get("halves")), given, self.evidence(fields))

    def port_name(self, node: Node) -> str:
        return node.choice([port.name for port in self.ports])

    def operation(self, name: str, node: Node) -> Operation:
        fields = node.fields(required=("does",), optional=("port", "line", "bits", "place", "half", "whole"))
        direction = _one_of(fields["does"], _DIRECTIONS)
        return Operation(
            name=name,
            port=self.operated(node, fields, direction),
            direction=direction,
            pattern=read_pattern(fields["bits"]) if "bits" in fields else ANY_VALUE,
            place=_one_of(fields["place"], _PLACES) if "place" in fields else None,
            half=_truth(fields.get("half")),
            whole=_truth(fields.get("whole")),
        )

    def operated(self, node: Node, fields: Mapping[str, Node], direction: Direction) -> str:
        """The port or the line of an operation, empty for power coming on."""
        if direction == "reset":
            return ""
        key = "line" if direction in ("rise", "fall") else "port"
        if key not in fields:
            node.fail(f'key "{key}" is missing; add {key}: and the name of one of the {key}s')
        return fields[key].choice(self.lines) if key == "line" else self.port_name(fields[key])

    def read_groups(self) -> Mapping[str, frozenset[str]]:
        single = {operation.name: frozenset({operation.name}) for operation in self.operations}
        groups = dict(single)
        for name, node in self.entries("groups").items():
            if name in single:
                node.fail(f'"{name}" is an operation already; give the group another name')
            groups[name] = frozenset(item.choice(single) for item in node.sequence())
        return groups

    def members(self, node: Node) -> frozenset[str]:
        """The operations named one by one or by their group."""
        items = node.sequence() if node.is_sequence else (node,)
        return frozenset().union(*(self.groups[item.choice(self.groups)] for item in items))

    def poll(self, name: str, node: Node) -> Poll:
        fields = node.fields(required=("port", "mask", "ready"), optional=_EVIDENCE)
        return Poll(
            name=name,
            port=self.port_name(fields["port"]),
            mask=fields["mask"].integer(1, 255),
            ready=None if fields["ready"].text() == "as written" else fields["ready"].integer(0, 255),
            evidence=self.evidence(fields),
        )

    def pair(self) -> Pair | None:
        node = self.fields.get("pair")
        if node is None:
            return None
        fields = node.fields(required=("port", "does"), optional=("single", "restarts", *_EVIDENCE))
        restarts = self.members(fields["restarts"]) if "restarts" in fields else frozenset()
        return Pair(
            port=self.port_name(fields["port"]),
            direction=_one_of(fields["does"], _DIRECTIONS),
            single=read_pattern(fields["single"]) if "single" in fields else None,
            restarts=tuple(sorted(restarts)),
            evidence=self.evidence(fields),
        )

    def own_clock(self) -> OwnClock | None:
        node = self.fields.get("own_clock")
        if node is None:
            return None
        fields = node.fields(required=("name",), optional=("slowest", *_EVIDENCE))
        slowest = _clock(fields["slowest"]) if "slowest" in fields else None
        return OwnClock(fields["name"].text(), slowest, self.evidence(fields))

    def pins(self) -> Pins | None:
        node = self.fields.get("behind")
        if node is None:
            return None
        fields = node.fields(required=("low", "high"))
        return Pins((self.port_name(fields["low"]), self.port_name(fields["high"])))

    def limit(self, node: Node) -> LimitRow:
        fields = node.fields(
            required=("kind", "first", "then"),
            optional=(
                "least",
                "most",
                "clocks",
                "bits",
                "at",
                "modes",
                "grades",
                "provided",
                "poll",
                *_EVIDENCE,
            ),
        )
        kind = fields["kind"].choice((*_LEAST_KINDS, "max_gap"))
        amount = "most" if kind == "max_gap" else "least"
        given = [key for key in ("least", "most", "clocks", "bits") if key in fields]
        if len(given) != 1 or (given[0] in ("least", "most") and given[0] != amount):
            node.fail(f"one amount is needed; write {amount}: (a time), clocks: or bits:")
        grades = self.grade_names(fields.get("grades"))
        at = _clock(fields["at"]) if "at" in fields else None
        readers: Mapping[str, Callable[[Node], Amount]] = {
            "clocks": lambda value: OwnClocks(_count(value)),
            "bits": lambda value: BitTimes(_count(value)),
        }
        read = readers.get(given[0], lambda value: _time_amount(value, at))
        return LimitRow(
            kind="max_gap" if kind == "max_gap" else _one_of(fields["kind"], _LEAST_KINDS),
            first=self.members(fields["first"]),
            then=self.members(fields["then"]),
            amounts=self.by_grade(fields[given[0]], grades, read),
            modes=self.mode_names(fields.get("modes")),
            provided=_text(fields, "provided"),
            poll=fields["poll"].choice([poll.name for poll in self.polls]) if "poll" in fields else "",
            evidence=self.evidence(fields),
        )

    def rating(self, node: Node) -> RatingRow:
        fields = node.fields(required=("subject",), optional=("least", "most", "grades", *_EVIDENCE))
        bound, value = _bound(node, fields)
        grades = self.grade_names(fields.get("grades"))
        subject = _one_of(fields["subject"], _RATINGS)
        return RatingRow(subject, bound, self.by_grade(value, grades, _clock), self.evidence(fields))

    def bus_time(self, node: Node) -> BusTimeRow:
        fields = node.fields(required=("subject",), optional=("least", "most", "grades", *_EVIDENCE))
        bound, value = _bound(node, fields)
        grades = self.grade_names(fields.get("grades"))
        subject = _one_of(fields["subject"], _BUS_TIMES)
        return BusTimeRow(subject, bound, self.by_grade(value, grades, _duration), self.evidence(fields))

    def bus(self, key: str) -> Mapping[str, Node]:
        found = self.bus_fields().get(key)
        return found.mapping() if found else {}

    def bus_fields(self) -> Mapping[str, Node]:
        node = self.fields.get("bus")
        return node.fields(required=("terms", "edges"), optional=("gives", "ports")) if node else {}

    def bus_given(self, key: str) -> tuple[BusGiven, ...]:
        return tuple(self.bus_gives(name, node) for name, node in self.bus(key).items())

    def port_given(self) -> tuple[BusGiven, ...]:
        """What an access of a port gives: as one of memory, or with figures of its own."""
        node = self.bus_fields().get("ports")
        if node is None or node.is_mapping:
            return self.bus_given("ports")
        node.choice(("as memory",))
        return self.bus_given("gives")

    def bus_term(self, name: str, node: Node) -> BusTerm:
        fields = node.fields(required=("time",), optional=("grades", *_EVIDENCE))
        grades = self.grade_names(fields.get("grades"))
        return BusTerm(name, self.by_grade(fields["time"], grades, _duration), self.evidence(fields))

    def bus_edge(self, name: str, node: Node) -> BusEdge:
        fields = node.fields(required=("cycles", "less"), optional=_EVIDENCE)
        names = [term.name for term in self.bus_terms]
        less = tuple(item.choice(names) for item in fields["less"].sequence())
        return BusEdge(name, _fraction(fields["cycles"]), less, self.evidence(fields))

    def bus_gives(self, subject: str, node: Node) -> BusGiven:
        fields = node.fields(required=("cycles",), optional=("less", "plus", *_EVIDENCE))
        names = [term.name for term in self.bus_terms]
        taken, added = (
            tuple(item.choice(names) for item in fields[key].sequence()) if key in fields else ()
            for key in ("less", "plus")
        )
        of = _one_of(Node(node.place, subject, node.error), _BUS_TIMES)
        return BusGiven(of, _fraction(fields["cycles"]), taken, added, self.evidence(fields))

    def figure(self, node: Node) -> Figure:
        fields = node.fields(required=("name",), optional=(*_FIGURE_BOUNDS, "grades", *_EVIDENCE))
        given = [bound for bound in _FIGURE_BOUNDS if bound in fields]
        if len(given) != 1:
            node.fail("one value is needed; write least:, most: or is:")
        read = _words if given[0] == "is" else _quantity
        grades = self.grade_names(fields.get("grades"))
        values = self.by_grade(fields[given[0]], grades, read)
        return Figure(fields["name"].text(), given[0], values, self.evidence(fields))

    def read_outputs(self) -> tuple[Output, ...]:
        known = [register.name for register in self.registers]
        made: list[Output] = []
        for name, node in self.entries("follows").items():
            fields = node.fields(required=OUTPUT_KEYS, optional=(*OUTPUT_MORE, "grades", *_EVIDENCE))
            grades = frozenset(self.grade_names(fields.get("grades")))
            made.append(read_output(name, fields, known, grades, self.evidence(fields)))
        return tuple(made)

    def frame(self) -> Frame | None:
        node = self.fields.get("frame")
        if node is None:
            return None
        fields = node.fields(required=("sends", "receives", "bits"), optional=_EVIDENCE)
        return Frame(
            sends=fields["sends"].choice(self.lines),
            receives=fields["receives"].choice(self.lines),
            bits=fields["bits"].integer(2),
            evidence=self.evidence(fields),
        )

    def remark(self, node: Node) -> Remark:
        fields = node.fields(required=("text",), optional=("grades", *_EVIDENCE))
        grades = self.grade_names(fields.get("grades"))
        return Remark(fields["text"].text(), frozenset(grades), self.evidence(fields))

    def grade_names(self, node: Node | None) -> tuple[str, ...]:
        names = [grade.name for grade in self.grades]
        return tuple(item.choice(names) for item in node.sequence()) if node else tuple(names)

    def mode_names(self, node: Node | None) -> frozenset[str]:
        names = [mode.name for mode in self.modes]
        return frozenset(item.choice(names) for item in node.sequence()) if node else frozenset(names)

    def by_grade(self, node: Node, grades: tuple[str, ...], read: Callable[[Node], _T]) -> Mapping[str, _T]:
        """One value for all `grades`, or a mapping that has one for each of them."""
        if not node.is_mapping:
            return dict.fromkeys(grades, read(node))
        fields = node.fields(required=grades)
        return {name: read(fields[name]) for name in grades}

    def evidence(self, fields: Mapping[str, Node]) -> Evidence:
        source = fields.get("source")
        return Evidence(
            source=self.sources[source.choice(self.sources)] if source else None,
            page=_text(fields, "page"),
            condition=_text(fields, "condition"),
            note=_text(fields, "note"),
            from_memory=_truth(fields.get("from_memory")),
            fact=_text(fields, "fact"),
        )


def _source(node: Node) -> Source:
    fields = node.fields(required=("title",), optional=("publisher", "number"))
    return Source(fields["title"].text(), _text(fields, "publisher"), _text(fields, "number"))


def _grade(name: str, node: Node) -> Grade:
    fields = node.fields(optional=("names",))
    return Grade(name, _texts(fields.get("names")))


def _port(name: str, node: Node) -> Port:
    if not node.is_mapping:
        return Port(name, node.integer(0))
    fields = node.fields(required=("offset", "size"))
    return Port(name, fields["offset"].integer(0), fields["size"].integer(1))


def _bound(node: Node, fields: Mapping[str, Node]) -> tuple[Bound, Node]:
    if ("least" in fields) == ("most" in fields):
        node.fail("one bound is needed; write least: or most:")
    return ("least", fields["least"]) if "least" in fields else ("most", fields["most"])


def _time_amount(node: Node, at: Clock | None) -> Amount:
    """A time, or what it is in clocks of the part's own where the sheet gives it at one frequency."""
    duration = _duration(node)
    return OwnClocks(duration.cycles(at)) if at else Fixed(duration)


def _count(node: Node) -> Fraction:
    return Fraction(node.integer(1))


def _fraction(node: Node) -> Fraction:
    if re.fullmatch(r"[0-9]+(\.[0-9]+|/[1-9][0-9]*)?", node.text()) is None:
        node.fail(f'"{node.text()}" is no number of cycles; write 1, 2.5 or 3/4')
    return Fraction(node.text())


def _clock(node: Node) -> Clock:
    return parse_clock(node.text(), node.place)


def _duration(node: Node) -> Duration:
    return parse_duration(node.text(), node.place)


def _quantity(node: Node) -> Clock | Duration | str:
    return _clock(node) if node.text().endswith("Hz") else _duration(node)


def _words(node: Node) -> Clock | Duration | str:
    return node.text()


def _truth(node: Node | None) -> bool:
    return node is not None and node.choice(("true", "false")) == "true"


def _text(fields: Mapping[str, Node], key: str) -> str:
    return fields[key].text() if key in fields else ""


def _texts(node: Node | None) -> tuple[str, ...]:
    return tuple(item.text() for item in node.sequence()) if node else ()


def _one_of(node: Node, accepted: tuple[_Word, ...]) -> _Word:
    word = node.choice(accepted)
    return next(value for value in accepted if value == word)
