"""A source file and what it includes, assembled to a Program for one processor."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache, lru_cache

from ..cpu import Cpu
from ..errors import ClockhopError
from ..source import Dialects, Source, Vocabulary, load_syntax, read, vocabulary
from ..tables import nearest
from .counter import Counter
from .expand import Expander
from .files import Reader
from .layout import Layout, lines_in_order
from .line import Line
from .match import Choice
from .program import Instruction, Opaque, Problem, Program, Symbol, brief
from .symbol import Definition, Table

# Two passes settle every program an assembler accepts; a chain of forward references needs one more for each link.
MOST_PASSES = 8
_MOST_NAMED = 4
_DEEPEST = 100  # names from one to the next


@cache
def words(cpu: Cpu, habits: frozenset[str] = frozenset()) -> Vocabulary:
    """The vocabulary of source files of this processor, in its own syntax with some of that syntax's habits."""
    bare = [
        mnemonic
        for mnemonic, rows in cpu.mnemonics.items()
        if all(variant.pattern == "" for row in rows for variant in row.form.variants)
    ]
    foreign = frozenset[str]().union(*cpu.words.values())
    foreign |= {each.word for each in load_syntax(cpu.syntax).several if each.mnemonics() <= foreign} - {"*"}
    return vocabulary(cpu.syntax, [*cpu.mnemonics, *cpu.whole], [*bare, *cpu.whole], foreign, habits)


def dialects(cpu: Cpu, stated: Mapping[str, bool] | None = None, syntax: str = "") -> Dialects:
    """What source files of this processor may be written in: the words of each maker, and habits.

    `stated` are habits that are decided for all files, `syntax` is the syntax where that is, or where it is not the
    processor's own. Raises ClockhopError for a syntax or habit that the processor is not written in.
    """
    cpu = cpu.written(syntax) if syntax else cpu
    is_stated = syntax or cpu.syntax != next(iter(cpu.words))
    makers = {cpu.syntax: cpu.words[cpu.syntax]} if is_stated else cpu.words
    known = {habit for maker in makers for habit in load_syntax(maker).habits}
    for habit in stated or {}:
        if habit not in known:
            raise ClockhopError(
                f'no habit "{habit}" of sources for the {cpu.name}; {nearest(habit, sorted(known))}'
            )
    return Dialects(makers, lambda maker, habits: words(cpu.written(maker), habits), stated or {})


def assemble(
    path: str,
    cpu: Cpu,
    defines: Mapping[str, int] | None = None,
    include_paths: Sequence[str] = (),
    reader: Reader | None = None,
    within: Sequence[str] = (),
) -> Program:
    """The program that `path` and its includes make, with `defines` known from the start.

    `reader` gives the Source of a path and raises SourceError when there is none; without it files are read from the
    disk. What is included has to lie in one of the folders `within`, where any are given.
    What is not understood does not stop the run: it is in `opaque` and `problems`, and what cannot be known
    because of it is None or not `certain`. Raises SourceError when `path` itself can't be read.
    """
    readable = dialects(cpu)
    reading = reader or lru_cache(maxsize=None)(lambda name: read(name, readable))
    source = reading(path)
    written, words = cpu.written(source.vocabulary.syntax.name), source.vocabulary

    def run(from_left: bool) -> _Run:
        return _Run(written, words, reading, include_paths, dict(defines or {}), from_left, within)

    first = run(words.syntax.evaluation == "from_left")
    program = first.program(source)
    return run(True).program(source) if first.fits_from_left else program


class _Run:
    """One assembly: the first pass expands and lays out, the others lay out again until nothing moves."""

    def __init__(
        self,
        cpu: Cpu,
        words: Vocabulary,
        reader: Reader,
        include_paths: Sequence[str],
        defines: Mapping[str, int],
        from_left: bool,
        within: Sequence[str],
    ) -> None:
        self.cpu = cpu
        self.syntax = words.syntax
        self.defines = defines
        self.from_left = from_left
        self.fits_from_left = False
        self.choices: dict[tuple[int, int], Choice] = {}
        self.written: set[str] = set()
        self.first = self._layout(None, emit=False)
        self.expander = Expander(words, reader, include_paths, self.first, self.written, within)

    def program(self, source: Source) -> Program:
        lines: list[Line] = []
        for line in self.expander.lines(source):
            lines.append(line)
            self.first.place(line)
        layout = self.first
        for _ in range(MOST_PASSES):
            layout = self._layout(layout, emit=True)
            lines_in_order(lines, layout)
            settled = not layout.table.differs()
            layout.table.former = None
            if settled:
                break
        else:
            place = lines[-1].origin.place
            layout.problems.append(Problem(place, "addresses don't settle; values depend on each other"))
        undecided = self.syntax.evaluation == "as_fits" and not self.from_left
        self.fits_from_left = undecided and layout.fits_left > 0 and layout.fits_precedence == 0
        if undecided and layout.fits_precedence == 0:
            layout.problems += layout.readings
        return self._program(source, layout)

    def _layout(self, former: Layout | None, emit: bool) -> Layout:
        table = Table(self.syntax, self.written, former.table if former else None)
        for name, value in self.defines.items():
            table.add(Definition(name, (name, 0, 0, 0), "constant", value, None, -1))
        bases = former.counter.layout() if former else {}
        counter = Counter((1 << self.cpu.address_bits) - 1, bases=bases)
        page = self.syntax.direct_page
        left = self.from_left
        return Layout(self.cpu, self.syntax, table, emit, self.choices, counter, left, direct_page=page)

    def _program(self, source: Source, layout: Layout) -> Program:
        expander = self.expander
        symbols = {symbol.name: symbol for symbol in self._symbols(layout)}
        problems = [*expander.problems, *self.first.conditions, *layout.problems]
        problems += [
            Problem(origin.place, brief(f"{name} is defined further down; the condition counts as not met"))
            for name, origin in self.first.deciding.items()
            if name in symbols and symbols[name].kind != "unknown"
        ]
        problems += self._circular(layout, symbols)
        if not expander.texts.missing:
            problems += self._undefined(layout)
        return Program(
            cpu=self.cpu,
            path=source.name,
            instructions=tuple(layout.instructions),
            symbols=symbols,
            data=layout.data,
            code=layout.code,
            reserved=tuple(layout.reserved),
            laid=tuple(layout.laid),
            moved=layout.moved,
            opaque=tuple(_first_cause(each, expander.texts.missing) for each in layout.opaque),
            missing=expander.texts.missing,
            problems=tuple(problems),
            notes=tuple(layout.notes),
            bad_notes=tuple(bad for file in expander.texts.files for bad in file.bad_notes),
            start=layout.start,
            files=tuple(expander.texts.files),
            included_bytes=tuple(dict.fromkeys(expander.texts.included_bytes)),
            inclusions=tuple(expander.texts.inclusions),
            macros=expander.defined,
            undefined=tuple(
                name
                for name in dict.fromkeys([*self.first.deciding, *self.first.absent])
                if name not in symbols or symbols[name].kind == "unknown"
            ),
            choices={name: tuple(found) for name, found in self.first.choices_of.items()},
            statements=expander.statements,
            understood=expander.statements - len(layout.opaque),
            by_address=_by_address(layout.instructions),
            names=_names(layout.table) | _port_names(layout.instructions),
        )

    def _symbols(self, layout: Layout) -> Iterator[Symbol]:
        by_name: dict[str, list[Definition]] = {}
        for definition in layout.table.definitions.values():
            by_name.setdefault(definition.name, []).append(definition)
        for name, found in by_name.items():
            # A local name that stands for several labels is no symbol of the program.
            if len(found) == 1:
                uses = tuple(layout.uses.get(name, ()))
                yield Symbol(name, found[0].value, found[0].kind, found[0].origin, uses, found[0].span)
        for name in layout.unknown:
            if name not in by_name:
                yield Symbol(name, None, "unknown", None, tuple(layout.uses.get(name, ())))

    def _circular(self, layout: Layout, symbols: Mapping[str, Symbol]) -> Iterator[Problem]:
        """Constants whose values rest on themselves, each circle once."""
        told: set[str] = set()
        for name in layout.resting:
            circle = () if name in told else _circle(name, layout.resting)
            told.update(circle)
            origin = symbols[name].origin if name in symbols else None
            if circle and origin:
                shown = circle if len(circle) <= _MOST_NAMED else (*circle[:_MOST_NAMED], "...")
                way = " -> ".join((*shown, name))
                yield Problem(origin.place, brief(f"{name} rests on itself ({way}); its value is unknown"))

    def _undefined(self, layout: Layout) -> Iterator[Problem]:
        external = {name.lower() for name in layout.external}
        for name, origin in layout.unknown.items():
            is_defined = any(name == each for each, *_ in layout.table.definitions)
            if not is_defined and name.lower() not in external:
                yield Problem(origin.place, brief(f"{name} is defined nowhere; its value is unknown"))


def _circle(name: str, resting: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The names from one back to it, each resting on the next; none where it does not rest on itself."""
    seen = {name}
    way: list[tuple[str, ...]] = [(name,)]
    while way:
        found = way.pop()
        for each in resting.get(found[-1], ()):
            if each == name:
                return found
            if each not in seen and len(found) < _DEEPEST:
                seen.add(each)
                way.append((*found, each))
    return ()


def _first_cause(opaque: Opaque, missing: str) -> Opaque:
    """Where names without a value leave a line open and a file is missing, that is the cause."""
    return replace(opaque, cause=missing) if missing and opaque.lacks else opaque


def _by_address(instructions: Sequence[Instruction]) -> dict[int, tuple[int, ...]]:
    found: dict[int, tuple[int, ...]] = {}
    for instruction in instructions:
        found[instruction.address] = (*found.get(instruction.address, ()), instruction.index)
    return found


def _port_names(instructions: Sequence[Instruction]) -> dict[int, tuple[str, ...]]:
    """The symbols that stand for ports, by the address of each."""
    found: dict[int, tuple[str, ...]] = {}
    for instruction in instructions:
        for operand in instruction.operands if instruction.action.row.operation.ports else ():
            address = instruction.address_of(operand)
            if operand.symbol and address is not None:
                found[address] = tuple(dict.fromkeys((*found.get(address, ()), operand.symbol)))
    return found


def _names(table: Table) -> dict[int, tuple[str, ...]]:
    """The names of each address: labels first, then constants; ordinary names before local ones."""
    ranks = {"label": 0, "constant": 2}
    ordered = sorted(
        (each for each in table.definitions.values() if each.kind in ranks and each.value is not None),
        key=lambda each: (ranks[each.kind] + (each.key[1:] != (0, 0, 0)), each.order),
    )
    found: dict[int, tuple[str, ...]] = {}
    for each in ordered:
        assert each.value is not None
        found[each.value] = (*found.get(each.value, ()), each.name)
    return found
