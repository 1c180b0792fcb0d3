"""A piece of code that lasts a given time, as text ready to paste; what is said of it was counted from that text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil
from typing import Final

from ..assemble import assemble, words
from ..cpu import Action, Cpu, cost, names, varying
from ..cpu.notation import COUNTER
from ..errors import ClockhopError
from ..flow import connect, stack_pointers
from ..quantity import Clock, Duration, parse_duration
from ..rules.words import counted
from ..source import load_syntax, parse
from ..tables import nearest
from ..timing import Exact, count
from ..timing.refresh import between
from .compose import Composer, Nest, Piece
from .countdown import flags
from .filler import Filler, Modes, deciding, truth

# Where a number of cycles can't be made, one a little above can: the costs of instructions are small numbers.
_MOST_ABOVE: Final = 8
_LABEL: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_COLUMNS: Final = (8, 16, 32)
_PAGE: Final = 256
# Counted where a page begins: somewhere in a page that is crossed it would take longer.
_PLACE: Final = 4096
_NAME: Final = "composed"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for: a time at a clock, as a routine or inline, within registers if any are named."""

    duration: Duration
    written: str  # the time as it was asked for
    clock: Clock
    inline: bool = False
    using: tuple[str, ...] = ()
    name: str = "WAIT"


@dataclass(frozen=True, slots=True)
class Composition:
    """The text, and what was counted from it.

    `cycles` of a routine run from its entry to its return, both included; its call is not among them. `registers` and
    `flags` are those that hold something else afterwards, in the order of the processor's table. `one_page`: the time
    holds where no branch crosses from one page of 256 bytes into another.
    """

    wanted: Wanted
    processor: str
    text: str
    cycles: int
    size: int
    registers: tuple[str, ...]
    flags: tuple[str, ...]
    one_page: bool

    @property
    def longer(self) -> Duration:
        """How much longer than asked for it lasts, exact."""
        return Duration(self.wanted.clock.duration(self.cycles).seconds - self.wanted.duration.seconds)


def compose(cpu: Cpu, wanted: Wanted) -> Composition:
    """Code that lasts as long as asked: exactly where the processor can, else the least bit longer; the fewest bytes.

    Raises ClockhopError where that is shorter than anything it can do, longer than its registers count, or asked in
    names that can't be used.
    """
    _label(cpu, wanted.name)
    modes = frozenset((name, value) for name, value in cpu.initial.items() if name in deciding(cpu))
    composer = Composer(cpu, modes, _registers(cpu, wanted.using) if wanted.using else None)
    back = _return(cpu, modes)
    own = 0 if wanted.inline else back.cycles
    piece = _piece(composer, own, wanted)
    mark = load_syntax(cpu.syntax).label_mark
    body = tuple(_body(cpu, piece, wanted, mark))
    returning = _headed((*body, _line(back)), wanted, mark)
    actions = _counted(cpu, "".join(map(_text, returning)), piece.cycles + back.cycles)
    lines = body if wanted.inline else returning
    made = Composition(
        wanted=wanted,
        processor=cpu.name,
        text="".join(map(_text, lines)),
        cycles=piece.cycles + own,
        size=sum(action.size for action in actions[: len(lines)]),
        registers=tuple(name for name in cpu.registers if name in piece.spoils - flags(cpu)),
        flags=tuple(name for name in (*cpu.flags, *cpu.registers) if name in piece.spoils & flags(cpu)),
        one_page=any(varying(cpu, action, frozenset()) for action in actions),
    )
    if made.one_page and made.size > _PAGE:
        raise ClockhopError(
            f"{wanted.written} takes more code than a page holds; name more registers with --using"
        )
    return made


def _label(cpu: Cpu, name: str) -> None:
    registers = {each.upper() for each in (*cpu.registers, *cpu.views, *cpu.flags)}
    if not _LABEL.fullmatch(name) or words(cpu).knows(name) or name.upper() in registers:
        raise ClockhopError(
            f'--name "{name}" can be no label of the {cpu.name}; write letters and digits, such as WAIT'
        )


def _registers(cpu: Cpu, names: tuple[str, ...]) -> frozenset[str]:
    """The stored registers that were named; those that calls push through or that decide on cycles can't be."""
    kept = stack_pointers(cpu) | deciding(cpu) | {COUNTER}
    known = {name: frozenset({name}) for name in cpu.registers}
    known |= {name: frozenset(part for part, _ in view.parts) for name, view in cpu.views.items()}
    usable = {name.upper(): parts for name, parts in known.items() if not parts & (kept | flags(cpu))}
    for name in names:
        if name.upper() not in usable:
            raise ClockhopError(
                f'--using: "{name}" is no register to count in; {nearest(name.upper(), usable)}'
            )
    return frozenset[str]().union(*(usable[name.upper()] for name in names))


def _return(cpu: Cpu, modes: Modes) -> Filler:
    """The shortest instruction that returns from a call and does nothing else."""
    found: list[Filler] = []
    moved = stack_pointers(cpu) | {COUNTER}
    for row in cpu.rows:
        for variant in row.form.variants:
            if row.operation.flow == "return" and not row.mark and not variant.holes:
                action = cpu.bind(row, variant, {}, 0)
                done = action.used
                spent = cost(action, lambda name, of=action: truth(cpu, modes, of.conditions[name]))  # type: ignore[misc]
                if COUNTER in done.surely and done.writes <= moved and spent.fewest == spent.most:
                    found.append(Filler(row.mnemonics[0], "", spent.fewest, action.size, frozenset()))
    if not found or between(cpu, dict(modes)).paces:
        raise ClockhopError(
            f"nothing takes an exact time on the {cpu.name} as it starts; {_exact_modes(cpu)}"
        )
    return min(found, key=lambda each: (each.size, each.cycles))


def _exact_modes(cpu: Cpu) -> str:
    others = [name for name in names() if name.startswith(f"{cpu.name}-")]
    stated = "state what the registers that decide on cycles hold under processor_state in the project file"
    return f"{stated}, or name {' or '.join(others)}" if others else stated


def _piece(composer: Composer, back: int, wanted: Wanted) -> Piece:
    least = ceil(wanted.duration.cycles(wanted.clock))
    shortest = back or composer.shortest
    if least < shortest:
        what = "piece" if wanted.inline else "routine"
        lasts = wanted.clock.duration(shortest).text()
        short = f"the shortest {what} is {shortest} cycles, {lasts} at {wanted.clock.text()}"
        raise ClockhopError(f"{wanted.written} is {counted(least, 'cycle')}: {short}")
    for cycles in range(least - back, least - back + _MOST_ABOVE):
        if cycles == 0:
            return Piece((), ())
        found = composer.exactly(cycles)
        if found is not None:
            return found
    within = f" within {', '.join(wanted.using)}" if wanted.using else ""
    longest = composer.longest + back
    if least <= longest:
        above = f"nothing was found that lasts so long or up to {_MOST_ABOVE - 1} cycles more"
        raise ClockhopError(f"{wanted.written} is {least} cycles: {above}{within}; compose it of two times")
    lasts = wanted.clock.duration(longest).text(3, "down")
    more = "name more registers with --using, or call" if wanted.using else "call"
    raise ClockhopError(
        f"{wanted.written} is {least} cycles: the longest is {lasts}{within}; {more} a shorter one often"
    )


@dataclass(frozen=True, slots=True)
class _Line:
    label: str
    mnemonic: str
    operand: str
    comment: str = ""


def _headed(lines: tuple[_Line, ...], wanted: Wanted, mark: str) -> tuple[_Line, ...]:
    """The lines of a routine: its name and its time stand at the first."""
    first = replace(lines[0], label=wanted.name + mark, comment=f"; timing: takes {wanted.written}")
    return (first, *(replace(line, comment="") for line in lines[1:]))


def _body(cpu: Cpu, piece: Piece, wanted: Wanted, mark: str) -> Iterator[_Line]:
    """Pads, then each nest with the time of its outermost loop as a note."""
    yield from (_line(pad) for pad in piece.pads)
    used = 0
    for nest in piece.nests:
        own = nest.cycles - nest.levels[-1].countdown.load.cycles
        note = f"; timing: takes {_exactly(wanted.clock.duration(own))}"
        names = [f"{wanted.name}{used + n}" for n in range(len(nest.levels), 0, -1)]
        used += len(names)
        yield from _nested(cpu, nest, tuple(names), mark, note)


def _nested(cpu: Cpu, nest: Nest, names: tuple[str, ...], mark: str, note: str = "") -> Iterator[_Line]:
    """The loops of a nest; `names` are their labels, the innermost first."""
    *inner, level = nest.levels
    way = level.countdown
    yield _line(way.load.text(cpu, level.count))
    head = [*map(_line, level.pads)]
    if inner:
        head += _nested(cpu, Nest(tuple(inner)), names[:-1], mark)
    turn = [*head, *map(_line, way.turn)]
    branch = way.branch
    turn.append(_Line("", branch.action.mnemonic, f"{branch.before}{names[-1]}{branch.behind}"))
    yield replace(turn[0], label=names[-1] + mark, comment=note)
    yield from turn[1:]


def _line(filler: Filler) -> _Line:
    return _Line("", filler.mnemonic, filler.operand)


def _exactly(duration: Duration) -> str:
    """The time in words that a note reads back as the same."""
    text = duration.text(12)
    if parse_duration(text) == duration:
        return text
    microseconds = duration.seconds * 10**6
    return f"{microseconds.numerator}/{microseconds.denominator} us"


def _text(line: _Line) -> str:
    text = ""
    fields = (line.label, line.mnemonic, line.operand, line.comment)
    for column, field in zip((0, *_COLUMNS), fields, strict=True):
        if field:
            text = text.ljust(column) if len(text) < column or not text else f"{text} "
            text += field
    return f"{text}\n"


def _counted(cpu: Cpu, text: str, cycles: int) -> list[Action]:
    """The instructions of the text once assembled, which take so many cycles from the first to the return."""
    origin = next(word for word, kind in load_syntax(cpu.syntax).directives.items() if kind == "origin")
    source = parse(f" {origin} {_PLACE}\n{text}".encode(), _NAME, words(cpu))
    program = assemble(_NAME, cpu, reader=lambda _: source)
    timings = count(connect(program))
    totals = [routine.total for routine in timings.routines if routine.entry.index == 0]
    if program.opaque or program.problems or totals != [Exact(cycles)]:
        raise AssertionError(f"composed for {cycles} cycles, counted {totals}")
    return [one.action for one in program.instructions]
