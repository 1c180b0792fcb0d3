"""The time a memory gets to answer: three paths, each a sum from its own edge, against what its sheet needs."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..quantity import Clock, Duration
from .board import Board
from .part import BusEdge, BusTimeRow, BusTimeSubject, Family, Grade
from .placed import TIED, Area, Logic

ADDRESS = "address"  # the edge of every processor from which the address counts

PathKind = Literal["address", "chip enable", "output enable"]
_NEEDS: dict[PathKind, BusTimeSubject] = {
    "address": "access time",
    "chip enable": "chip enable access",
    "output enable": "output enable access",
}


@dataclass(frozen=True, slots=True)
class Term:
    """One line of a sum: below zero where it is taken off. `source` is where the figure comes from."""

    text: str
    time: Duration
    source: str


@dataclass(frozen=True, slots=True)
class Path:
    """What is left between an edge and the moment the processor takes the data, and what the memory needs of it.

    `cycles` are those of the clock in the sum, waits included; everything else in it stays when the clock changes.
    """

    kind: PathKind
    terms: tuple[Term, ...]
    cycles: Fraction
    needed: Duration
    whose: str
    source: str
    clock: Clock

    @property
    def left(self) -> Duration:
        return Duration(sum((term.time.seconds for term in self.terms), Fraction(0)))

    @property
    def margin(self) -> Duration:
        """What the memory has to spare; below zero it is too slow."""
        return Duration(self.left.seconds - self.needed.seconds)

    @property
    def fastest(self) -> Clock:
        """The fastest clock at which the path is long enough, exact."""
        fixed = self.cycles / self.clock.hz - self.left.seconds
        return Clock(self.cycles / (fixed + self.needed.seconds))


@dataclass(frozen=True, slots=True)
class Unsummed:
    """A path that can't be added up, and why, in words to act on."""

    kind: PathKind
    reason: str


@dataclass(frozen=True, slots=True)
class Budget:
    """The paths of one stretch of memory at one clock."""

    area: Area
    clock: Clock
    paths: tuple[Path, ...]
    unsummed: tuple[Unsummed, ...]

    @property
    def tightest(self) -> Path | None:
        """The path that decides; None where none can be added up."""
        return min(self.paths, key=lambda path: path.margin, default=None)


def budgets(board: Board, clock: Clock) -> tuple[Budget, ...]:
    """The budget of every memory of the board at a bus clock, those without a part left out."""
    return tuple(_budget(board, area, clock) for area in board.areas if area.family and area.grade)


def _budget(board: Board, area: Area, clock: Clock) -> Budget:
    found = [_Sums(board, area, clock).path(kind) for kind in _NEEDS]
    return Budget(
        area,
        clock,
        tuple(path for path in found if isinstance(path, Path)),
        tuple(path for path in found if isinstance(path, Unsummed)),
    )


class _Sums:
    def __init__(self, board: Board, area: Area, clock: Clock) -> None:
        self.board = board
        self.area = area
        self.clock = clock

    def path(self, kind: PathKind) -> Path | Unsummed | None:
        """The sum of one path; None where the memory has none, being enabled all the time."""
        processor, grade = self.board.processor_family, self.board.processor_grade
        if processor is None or grade is None or not processor.bus_edges:
            return Unsummed(kind, f"no bus timing of the {self.board.processor} is known")
        need = self._need(kind)
        if need is None:
            return Unsummed(kind, f"no sheet says how long {self._whose} takes from there")
        name = {"address": ADDRESS, "chip enable": self.area.enable, "output enable": self.area.output}[kind]
        if name is None:
            key = "enable" if kind == "chip enable" else "output"
            choices = ", ".join((*(edge.name for edge in processor.bus_edges), TIED))
            return Unsummed(kind, f"state {key}: of {self.area.name}, one of {choices}")
        if name == TIED:
            return None
        edges = {edge.name: edge for edge in processor.bus_edges}
        missing = [term for term in edges[name].less if time_of(processor, term, grade) is None]
        if missing:
            return Unsummed(kind, f"no {missing[0]} of the {grade.name} grade is known")
        terms = tuple(self._terms(kind, edges, name, processor, grade))
        cycles = edges[name].cycles + self.area.waits
        needed = need.times[self._grade.name]
        return Path(kind, terms, cycles, needed, self._whose, need.evidence.text, self.clock)

    @property
    def _grade(self) -> Grade:
        assert self.area.grade is not None
        return self.area.grade

    @property
    def _whose(self) -> str:
        assert self.area.family is not None
        return self._grade.names[0] if self._grade.names else self.area.family.name

    def _need(self, kind: PathKind) -> BusTimeRow | None:
        family = self.area.family
        rows = () if family is None else family.bus_times
        return next(
            (row for row in rows if row.subject == _NEEDS[kind] and self._grade.name in row.times), None
        )

    def _terms(
        self, kind: PathKind, edges: dict[str, BusEdge], name: str, processor: Family, grade: Grade
    ) -> Iterator[Term]:
        whole, edge = edges[ADDRESS], edges[name]
        cycles = "a cycle" if whole.cycles == 1 else f"{_number(whole.cycles)} cycles"
        yield Term(f"{cycles} at {self.clock.text()}", self._cycles(whole.cycles), "clock")
        if edge is not whole:
            yield Term(
                f"from {name}", self._cycles(edge.cycles - whole.cycles), edge.evidence.note or "clock"
            )
        if self.area.waits:
            waits = "wait" if self.area.waits == 1 else "waits"
            yield Term(f"{self.area.waits} {waits}", self._cycles(Fraction(self.area.waits)), "project file")
        logic = {"address": (), "chip enable": self.area.decoder, "output enable": self.area.strobe}[kind]
        word = "decoder" if kind == "chip enable" else "logic"
        yield from (_logic(word, each, gated=name != ADDRESS) for each in logic)
        yield from (_logic("buffer", each, gated=False) for each in self.area.buffers)
        for term in edge.less:
            found = time_of(processor, term, grade)
            assert found is not None
            time, source = found
            yield Term(term, Duration(-time.seconds), source)

    def _cycles(self, count: Fraction) -> Duration:
        return Duration(count / self.clock.hz)


def _logic(word: str, each: Logic, gated: bool) -> Term:
    time = max(each.delay, each.enable) if gated else each.delay
    return Term(f"{word} {each.name}".strip(), Duration(-time.seconds), each.source)


def time_of(processor: Family, term: str, grade: Grade) -> tuple[Duration, str] | None:
    """A term of a processor's bus with its source; None where it is not known for the grade."""
    rows = (row for row in processor.bus_terms if row.name == term and grade.name in row.times)
    return next(((row.times[grade.name], row.evidence.text) for row in rows), None)


def _number(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):g}"
