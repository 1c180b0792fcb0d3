"""The text of a first project file: what is known is written, the rest stands there as comments to edit."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..address import is_port, shown
from ..cpu import Cpu, load
from ..quantity import Clock
from .family import families
from .part import Family

# Registers of one part lie close together: no family known has more than eight, some decoders leave sixteen.
_NEIGHBOURS = 16
# Below this a processor with short addresses has its variables, not its parts. Common practice.
_PAGE_ZERO = 0x100
# Letters of a family's name that a symbol may have taken over.
_LETTERS = re.compile(r"[A-Z]{3,}")
_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Candidate:
    """A symbol whose address may belong to a part, and how the program uses it."""

    symbol: str
    address: int
    is_read: bool
    is_written: bool


def draft(
    processor: str,
    source: str,
    clock: Clock | None = None,
    entries: Sequence[str] = (),
    candidates: Sequence[Candidate] = (),
    processor_note: str = "",
    defines: Mapping[str, int] | None = None,
    include: Sequence[str] = (),
) -> str:
    """The text of a project file for `source` that loads as it is and says nothing that was guessed.

    `candidates` become comments, grouped by nearness, with every family offered.
    `entries` are labels the caller found, marked as to be checked; without a `clock` its line is a comment.
    `processor_note` says how the processor was found where nobody stated it.
    """
    lines = (
        *_lines(processor, processor_note, source, clock, entries, candidates),
        *_build(source, defines or {}, include),
    )
    return "".join(f"{line}\n" for line in lines)


def _lines(
    processor: str,
    processor_note: str,
    source: str,
    clock: Clock | None,
    entries: Sequence[str],
    candidates: Sequence[Candidate],
) -> Iterator[str]:
    cpu = load(processor)
    yield f"# Project file for {source}. Lines that begin with # say nothing yet: edit them, take the # away."
    yield f"processor: {processor}" + (f"   # {processor_note}" if processor_note else "")
    yield ""
    yield f"# The bus clock; or in its place crystal: and divide:. It counts {cpu.clock['counts']}."
    yield f"clock: {clock.text()}" if clock else "# clock: 1 MHz"
    yield "# clocks: [2 MHz]            # more clocks to judge"
    yield (f"written_for: {clock.text()}" if clock else "# written_for: 1 MHz") + (
        "         # the clock at which the program is known to work"
    )
    yield f"# processor_grade: {_grades(processor)}"
    yield ""
    yield "# Labels or addresses where the program is entered from outside: reset, interrupts, a monitor."
    if entries:
        yield f"entries: [{', '.join(_quoted(entry) for entry in entries)}]   # found, not known: check them"
    else:
        yield "# entries: [START]"
    yield f"# interrupts: {{{_interrupt(cpu)}: {{entry: TICK, period: 20 ms}}}}"
    yield ""
    yield "# memory:"
    yield '#   rom: {from: $E000, to: $FFFF, kind: rom, part: 28C256, grade: "-15"}'
    yield ""
    yield from _parts(candidates)
    yield ""


def _build(source: str, defines: Mapping[str, int], include: Sequence[str]) -> Iterator[str]:
    yield "builds:"
    yield f"  main: {{source: {_quoted(source)}}}"
    if defines:
        yield f"defines: {{{', '.join(f'{_quoted(name)}: {value}' for name, value in defines.items())}}}"
    if include:
        yield f"include: [{', '.join(map(_quoted, include))}]"
    yield ""
    yield "# fail_on: warning           # error, warning, note or never"


def _parts(candidates: Sequence[Candidate]) -> Iterator[str]:
    yield "# What stands at the addresses the program uses is for you to say; clockhop parts lists the families known."
    low = [candidate for candidate in candidates if candidate.address < _PAGE_ZERO]
    others = [candidate for candidate in candidates if candidate.address >= _PAGE_ZERO]
    if low:
        yield f"# Taken for memory, as they lie below {shown(_PAGE_ZERO)}: {_some(low)}."
    if not others:
        yield "# No symbol looks like the address of a part."
        return
    yield "# parts:"
    for number, group in enumerate(_groups(others), 1):
        for candidate in group:
            yield f"#   # {_called(candidate)} is {_use(candidate)}"
        family, why = _family(group)
        yield f"#   part{number}: {{family: {family}, at: {_quoted(_written(group[0]))}}}   # {why}"


def _some(candidates: Sequence[Candidate]) -> str:
    first, left = candidates[:_SHOWN], len(candidates) - _SHOWN
    return ", ".join(map(_called, first)) + (f" and {left} more" if left > 0 else "")


def _called(candidate: Candidate) -> str:
    address = shown(candidate.address)
    return address if candidate.symbol == address else f"{candidate.symbol} at {address}"


def _family(group: Sequence[Candidate]) -> tuple[str, str]:
    """A family to begin with, and what speaks for it: the symbols' names, or that it is only written."""
    symbols = [candidate.symbol.upper() for candidate in group]
    fitting = [
        family.name
        for family in families()
        if family.kind == "device" and family.ports
        if any(word in symbol for word in _words(family) for symbol in symbols)
    ]
    if fitting:
        first, *more = fitting
        return _word(first), "by the name" + (
            f"; or {', '.join(more)}" if more else ""
        ) + "; at: its first address"
    if len(group) == 1 and not group[0].is_read:
        return "output", "a plain latch; clockhop parts lists what else it may be"
    return "FAMILY", "write which it is, clockhop parts lists them; at: its first address"


def _words(family: Family) -> Iterator[str]:
    for name in (family.name, *family.names):
        yield from _LETTERS.findall(name.upper())
        yield from re.findall(r"[0-9]{4,}", name)


def _word(name: str) -> str:
    return f'"{name}"' if name.isdigit() else name


def _written(candidate: Candidate) -> str:
    """How the project file names the address: its symbol, with the mark of a port where it is one."""
    is_number = candidate.symbol == shown(candidate.address)
    return candidate.symbol if is_number or not is_port(candidate.address) else f"io:{candidate.symbol}"


def _groups(candidates: Sequence[Candidate]) -> list[list[Candidate]]:
    groups: list[list[Candidate]] = []
    for candidate in sorted(candidates, key=lambda one: (one.address, one.symbol)):
        if groups and candidate.address - groups[-1][0].address < _NEIGHBOURS:
            groups[-1].append(candidate)
        else:
            groups.append([candidate])
    return groups


def _use(candidate: Candidate) -> str:
    if candidate.is_read and candidate.is_written:
        return "read and written"
    return "read" if candidate.is_read else "written"


def _grades(processor: str) -> str:
    for family in families():
        if family.kind == "processor" and processor in (family.name, *family.names):
            marks = [grade.names[0] for grade in family.grades]
            return f"{marks[0]}    # one of {', '.join(marks)}"
    return "as printed on it"


def _interrupt(cpu: Cpu) -> str:
    """The name of the interrupt that devices most likely ask for."""
    masked = [name for name, interrupt in cpu.interrupts.items() if interrupt.mask is not None]
    return "IRQ" if "IRQ" in masked or not masked else masked[0]


def _quoted(word: str) -> str:
    return (
        word
        if re.fullmatch(r"[A-Za-z_][\w./-]*", word)
        else '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'
    )
