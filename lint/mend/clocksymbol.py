"""The symbol of a source that says its clock: found by name and value, or put in at the top."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from ..assemble import OperandNumber, Program, Symbol
from ..assemble.expression import names
from ..assemble.operand import parse_expression
from ..chain import Chain
from ..errors import ClockhopError
from ..quantity import Clock
from ..source import Edit, load_syntax
from ..timing import Wait
from .edited import again, made
from .knob import counts
from .number import respell
from .reach import reach

_NAME: Final = re.compile(r"(CLO?C?K|[MK]?HZ|FREQ|XTAL|CRYSTAL|OSC)", re.IGNORECASE)
_LABEL: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
# What one of the symbol stands for, by the end of its name.
_UNITS: Final = (("MHZ", 1_000_000), ("KHZ", 1_000), ("HZ", 1))
_USUAL: Final = 1_000


def scaled_by(chain: Chain, wait: Wait) -> str:
    """The clock symbol from which one of the counts of a wait is worked out already; else an empty text."""
    instructions = chain.program.instructions
    for index in sorted(reach(chain.graph, wait)):
        for number, _ in counts(instructions[index]):
            name = says_clock(chain.program, number)
            if name:
                return name
    return ""


def says_clock(program: Program, number: OperandNumber) -> str:
    """The clock symbol that a number is worked out from, through constants of the source; else an empty text."""
    waiting, seen = [number.text], set[str]()
    while waiting:
        for name in _names(program, waiting.pop()):
            symbol = program.label(name)
            if (
                symbol is None
                or symbol.name in seen
                or symbol.kind not in ("constant", "variable", "unknown")
            ):
                continue
            seen.add(symbol.name)
            if _NAME.search(symbol.name):
                return symbol.name
            if symbol.origin is not None and symbol.span is not None:
                waiting.append(symbol.origin.source.of(symbol.span).strip())
    return ""


def _names(program: Program, text: str) -> Iterator[str]:
    expression = parse_expression(load_syntax(program.cpu.syntax).grammar, text)
    if expression is not None:
        yield from names(expression)


@dataclass(frozen=True, slots=True)
class ClockSymbol:
    """A symbol that is the clock in units of `unit` Hz. `defined` is the constant of the source that it is, if any.

    Where it is neither that nor `given` on the command line or by the project file, its definition has to be put in.
    """

    name: str
    unit: int
    defined: Symbol | None
    given: bool

    def value(self, clock: Clock) -> int:
        """What it is at a clock. Raises ClockhopError where that is no whole number."""
        hz = clock.fastest.hz
        if hz % self.unit:
            raise ClockhopError(
                f"--by-symbol {self.name}: {clock.text()} is no whole number of {_unit_text(self.unit)}; "
                "name a symbol that ends in HZ"
            )
        return int(hz // self.unit)

    def definition(self, chain: Chain, old: Clock) -> tuple[str, Edit] | None:
        """The line that defines it, before the first line of the main file that is more than a comment."""
        if self.defined is not None or self.given:
            return None
        source = next(each for each in chain.program.files if each.name == chain.request.source)
        first = next((s for s in source.statements if s.operation is not None or s.label is not None), None)
        place = 0 if first is None else first.whole.start
        newline = b"\r\n" if b"\r\n" in source.data else b"\r" if b"\n" not in source.data else b"\n"
        if first is None or not source.data:
            newline = b"\n"
        text = f"{self.name} {_word(chain.program)} {self.value(old)} ; the clock in {_unit_text(self.unit)}"
        return source.name, Edit(place, place, text.encode(source.encoding) + newline)

    def at(self, chain: Chain, texts: Mapping[str, bytes], old: Clock, clock: Clock) -> Chain:
        """The program of these texts, assembled with another clock in the symbol."""
        if clock == old:
            return chain
        if self.given:
            defines = {**(chain.request.defines or {}), self.name: self.value(clock)}
            return again(replace(chain, request=replace(chain.request, defines=defines)), texts)
        change = self._change(chain, old, clock)
        return chain if change is None else again(chain, made(texts, chain, {change[0]: [change[1]]}))

    def back(
        self, chain: Chain, edits: Mapping[str, list[Edit]], old: Clock, clock: Clock
    ) -> dict[str, list[Edit]]:
        """Edits of the text that `at` ran on, placed in the text as it stands."""
        placed = {path: list(each) for path, each in edits.items()}
        change = None if self.given else self._change(chain, old, clock)
        if change is not None and change[0] in placed:
            path, new = change
            longer = len(new.text) - (new.end - new.start)
            placed[path] = [
                replace(e, start=e.start - longer, end=e.end - longer) if e.start > new.start else e
                for e in placed[path]
            ]
        return placed

    def _change(self, chain: Chain, old: Clock, clock: Clock) -> tuple[str, Edit] | None:
        """The edit that gives its definition the value of another clock."""
        symbol = chain.program.label(self.name)
        if symbol is None or symbol.origin is None or symbol.span is None:
            return None
        source = symbol.origin.source
        written = source.of(symbol.span).strip()
        new = respell(written, self.value(old), self.value(clock)) or str(self.value(clock))
        return source.name, Edit(symbol.span.start, symbol.span.end, new.encode())


def clock_symbol(chain: Chain, name: str, old: Clock) -> ClockSymbol:
    """The symbol of that name for a program written for a clock. Raises ClockhopError where it can't be one."""
    if not _LABEL.fullmatch(name):
        raise ClockhopError(
            f"--by-symbol {name}: that can be no name; write letters and digits, such as CLOCK_KHZ"
        )
    symbol = chain.program.label(name)
    given = (chain.request.defines or {}).get(name)
    if given is None and (symbol is None or symbol.origin is None):
        usual = next((unit for ending, unit in _UNITS if name.upper().endswith(ending)), _USUAL)
        made = ClockSymbol(name, usual, None, False)
        made.value(old)
        return made
    value = given if given is not None else symbol.value if symbol is not None else None
    defined = symbol if given is None else None
    if not value or old.hz % value or (defined is not None and defined.kind != "constant"):
        raise ClockhopError(
            f"--by-symbol {name}: it is {value} in the source, which is not {old.text()} in a whole unit; name another"
        )
    return ClockSymbol(
        symbol.name if symbol is not None else name, int(old.hz // value), defined, given is not None
    )


def _unit_text(unit: int) -> str:
    names = {1: "Hz", 1_000: "kHz", 1_000_000: "MHz"}
    return names.get(unit, f"{unit} Hz")


def _word(program: Program) -> str:
    """The word by which the source gives a constant its value, else the usual one of its syntax."""
    syntax = load_syntax(program.cpu.syntax)
    for symbol in program.symbols.values():
        if symbol.kind == "constant" and symbol.origin is not None:
            operation = symbol.origin.statement.operation
            if operation is not None:
                return symbol.origin.source.of(operation)
    return next(word for word, kind in syntax.directives.items() if kind == "constant")
