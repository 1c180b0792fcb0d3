"""What parts make by counting a clock, how long that is at each clock, and which numbers would keep it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import product

from ..board import Board, BusClock, FixedClock, MadeClock, Number, Output, Part, feed, spread
from ..errors import Place
from ..quantity import Clock, Duration
from ..timing import Timings
from .base import Case, Constant, NumberGoal
from .constant import Source, find
from .setting import Setting, Unset, counted, settings
from .stated import own_clock


@dataclass(frozen=True, slots=True)
class Followed:
    """An output that is set, over the clock it counts: so many `cycles` of the bus, or a time that stays.

    `fixed` is that time, and `was` what it was before an oscillator of the board was turned. `through` are the settings
    of the dividers that make its clock, that which counts the bus or an oscillator first; empty where none does.
    """

    setting: Setting
    through: tuple[Setting, ...]
    cycles: Fraction
    fixed: Duration
    was: Duration

    @property
    def part(self) -> Part:
        return self.setting.part

    @property
    def output(self) -> Output:
        return self.setting.output

    @property
    def name(self) -> str:
        return f"{self.part.name} {self.output.name}"

    @property
    def moves(self) -> bool:
        """Whether it follows the bus clock."""
        return self.cycles > 0

    def at(self, clock: Clock) -> Duration:
        """How long it lasts at a bus clock, as the oscillators are now."""
        return Duration(clock.duration(self.cycles).seconds + self.fixed.seconds)

    def before(self, clock: Clock) -> Duration:
        """How long it lasted at a bus clock, before any oscillator was turned."""
        return Duration(clock.duration(self.cycles).seconds + self.was.seconds)

    @property
    def chain(self) -> tuple[Setting, ...]:
        """Every divider, from the one that counts the bus to the one whose output it is."""
        return (*self.through, self.setting)

    def keep(self, factor: Fraction) -> tuple[Setting, Kept | None]:
        """Which divider to change, and how, so that it counts `factor` times the periods of now.

        The first of the chain, on which all others hang, as long as none of them comes nearer by a hundredth.
        """
        found = [(each, keep(each.output, dict(each.numbers), factor)) for each in self.chain]
        made = [(each, kept) for each, kept in found if kept is not None]
        if not made:
            return self.chain[0], None
        best = min(kept.error for _, kept in made)
        return next((each, kept) for each, kept in made if kept.error <= best + Fraction(1, 100))

    def said(self) -> str:
        """The numbers of all dividers, its own first: "1000 behind 2000 of counter counter 0"."""
        more = (f" behind {said(each, dict(each.numbers))} of {named(each)}" for each in self.through[::-1])
        return said(self.setting, dict(self.setting.numbers)) + "".join(more)


@dataclass(frozen=True, slots=True)
class Unfollowed:
    """An output of which it isn't known how long it lasts, and why, in words to act on; `moves`: it follows the bus."""

    part: Part
    output: Output
    index: int
    reason: str
    moves: bool


@dataclass(frozen=True, slots=True)
class _Base:
    """A period of a clock, in cycles of the bus or as a time."""

    cycles: Fraction
    fixed: Fraction
    was: Fraction
    through: tuple[Setting, ...] = ()


def followed(case: Case) -> tuple[Followed | Unfollowed, ...]:
    """Every output of the parts on the board with what the program sets it to, in the order of the project file."""
    return _all_followed(case.timings, case.board)


@lru_cache(maxsize=2)  # several rules ask for them
def _all_followed(timings: Timings, board: Board) -> tuple[Followed | Unfollowed, ...]:
    found = settings(timings, board)
    clocks = [
        feed(each.output, each.part.clock, each.part.rate_clock, each.part.inputs)
        for part in board.parts
        for each in found.get(part.name, ())
        if isinstance(each, Setting)
    ]
    makers = [clock for clock in clocks if isinstance(clock, MadeClock)]
    return tuple(
        made
        for part in board.parts
        for each in found.get(part.name, ())
        # What makes the clock of another output that is set is judged there.
        if not any(clock.part == part.name and _makes(each.output, clock) for clock in makers)
        for made in _followed(found, each)
    )


def _makes(output: Output, clock: MadeClock) -> bool:
    return clock.output in (output.name, output.pin)


_Settings = Mapping[str, tuple[Setting | Unset, ...]]


def _followed(found: _Settings, each: Setting | Unset) -> Iterator[Followed | Unfollowed]:
    part, output = each.part, each.output
    bases = list(_bases(found, part, output))
    if not bases:
        yield Unfollowed(
            part, output, each.index, f"state {_key(output)} to know whether it follows the bus clock", True
        )
    elif isinstance(each, Unset):
        moves = any(isinstance(base, str) or base.cycles for base in bases)
        yield Unfollowed(part, output, each.index, each.reason, moves)
    else:
        for base in bases:
            if isinstance(base, str):
                yield Unfollowed(part, output, each.index, base, True)
            else:
                yield Followed(
                    each,
                    base.through,
                    each.periods * base.cycles,
                    Duration(each.periods * base.fixed),
                    Duration(each.periods * base.was),
                )


def _key(output: Output) -> str:
    """What to write in the project file to say what the output counts."""
    match output.clock:
        case "rate clock":
            return "rate_clock:"
        case "input":
            return f"inputs: {{{output.input}: ...}}"
        case _:
            return "clock:"


def _bases(found: _Settings, part: Part, output: Output) -> Iterator[_Base | str]:
    """What the output counts; a text where that is made by a part of which it is not known what it makes."""
    clock = feed(output, part.clock, part.rate_clock, part.inputs)
    match clock:
        case None:
            return
        case FixedClock(now, was):
            yield _Base(Fraction(0), 1 / now.hz, 1 / (was or now).hz)
        case BusClock(times):
            yield _Base(1 / times, Fraction(0), Fraction(0))
        case MadeClock():
            yield from _made(found, clock)


def _made(found: _Settings, clock: MadeClock) -> Iterator[_Base | str]:
    own = [each for each in found.get(clock.part, ()) if _makes(each.output, clock)]
    if not own:
        yield f"{clock.part} {clock.output} makes its clock, and no write is seen that sets it"
    for each in own:
        if isinstance(each, Unset):
            yield f"{clock.part} {clock.output} makes its clock: {each.reason}"
            continue
        bases = list(_bases(found, each.part, each.output))
        if not bases:
            yield f"{clock.part} {clock.output} makes its clock: state {_key(each.output)} of {clock.part}"
        for base in bases:
            if isinstance(base, str):
                yield base
            else:
                periods = each.periods
                through = (*base.through, each)
                yield _Base(periods * base.cycles, periods * base.fixed, periods * base.was, through)


# -- the number that keeps it --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Kept:
    """Numbers, as they are written, that bring an output nearest to what is wanted; `share` is what they make of it."""

    numbers: tuple[tuple[str, int], ...]
    share: Fraction

    @property
    def error(self) -> Fraction:
        return abs(self.share - 1)


def keep(output: Output, numbers: Mapping[str, int], factor: Fraction) -> Kept | None:
    """The numbers with which an output counts `factor` times the periods that it counts with `numbers`.

    What it chooses from a few is left as it is where the rest can do it to a thousandth, else the best choice is taken.
    None where none come near, or it makes nothing now.
    """
    now = counted(output, numbers)
    if now is None:
        return None
    wanted = now * factor
    main = max(output.numbers, key=lambda made: (not made.means, made.most), default=None)
    if main is None:
        return None
    choices = [made for made in output.numbers if made.means and made is not main]
    found: list[Kept] = []
    for chosen in product(*(_written(made, numbers[made.name]) for made in choices)):
        given = {**numbers, **{made.name: value for made, value in zip(choices, chosen, strict=True)}}
        best = _nearest(output, main, given, wanted)
        if best is not None:
            found.append(best)
            if best.error <= Fraction(1, 1000):
                return best
    return min(found, key=lambda each: each.error, default=None)


def _written(made: Number, now: int) -> list[int]:
    """What may be written for a number of few choices, that which stands there first."""
    return [now, *(value for value in made.means if value != now)]


def _nearest(output: Output, main: Number, given: Mapping[str, int], wanted: Fraction) -> Kept | None:
    def periods(written: int) -> Fraction | None:
        return counted(output, {**given, main.name: written})

    tried = list(main.means) if main.means else list(_around(main, periods, wanted))
    made = [(value, found) for value in tried if (found := periods(value)) is not None]
    if not made:
        return None
    value, best = min(made, key=lambda each: max(each[1] / wanted, wanted / each[1]))
    return Kept(tuple(sorted({**given, main.name: value}.items())), best / wanted)


def _around(main: Number, periods: Callable[[int], Fraction | None], wanted: Fraction) -> Iterator[int]:
    """The two numbers between which the periods pass what is wanted, and both ends; more numbers never turn back."""
    low, high = 1, main.most
    yield from (0, low, high)
    first, last = periods(low), periods(high)
    if first is None or last is None:
        return
    rising = last > first
    while high - low > 1:
        middle = (low + high) // 2
        found = periods(middle)
        if found is None or (found < wanted) == rising:
            low = middle
        else:
            high = middle
    yield from (low, high)


# -- where it stands in the source ---------------------------------------------------------------------------


def sources(case: Case, setting: Setting) -> Mapping[str, Source]:
    """Where the constants of a setting stand, by register; what is not found is left out."""
    found: dict[str, Source] = {}
    for register, index in setting.writers.items():
        value = setting.held.value(register)
        source = None if value is None else find(case.program, index, value)
        if source is not None:
            found[register] = source
    return found


def written_at(case: Case, each: Followed) -> Clock | None:
    """The clock for which its numbers are right: what a note at one of their lines says, else that of all."""
    lines: set[int] = set()
    for setting in each.chain:
        lines |= {*setting.writers.values(), *(source.index for source in sources(case, setting).values())}
    noted = (own_clock(case.program, index) for index in sorted(lines))
    return next((clock for clock in noted if clock is not None), case.written_for)


def place(case: Case, setting: Setting) -> Place:
    """The constant's place in the source, else that of the write."""
    for source in sources(case, setting).values():
        return case.program.instructions[source.index].origin.place
    return case.program.instructions[setting.index].origin.place


def goal(case: Case, setting: Setting, kept: Kept) -> NumberGoal:
    """What a mend needs to write other numbers: the constants and what they have to become."""
    numbers = dict(kept.numbers)
    found = sources(case, setting)
    held = {
        register: setting.held.value(register) or 0
        for made in setting.output.numbers
        for register in made.bits
    }
    wanted = dict(held)
    for made in setting.output.numbers:
        wanted.update(spread(made, numbers[made.name], wanted))
    changed = {register: byte for register, byte in wanted.items() if byte != held[register]}
    return NumberGoal(
        tuple(
            Constant(found[register].index, found[register].hole, found[register].shift, byte)
            for register, byte in changed.items()
            if register in found
        ),
        changed.keys() <= found.keys(),
    )


def named(setting: Setting) -> str:
    """A divider by its part and its output."""
    return f"{setting.part.name} {setting.output.name}"


def said(setting: Setting, numbers: Mapping[str, int]) -> str:
    """Numbers in words: the only one alone, several with their names, each as what it stands for."""
    meant = [(made.name, made.meaning(numbers[made.name])) for made in setting.output.numbers]
    if len(meant) == 1:
        return str(meant[0][1])
    return ", ".join(f"{name} {value}" for name, value in meant)
