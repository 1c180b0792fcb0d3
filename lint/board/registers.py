"""Registers of a part and what is counted from them: read from a part file, and told from the writes of a program."""

from __future__ import annotations

import re
from bisect import insort
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from operator import itemgetter
from typing import Final, get_args

from ..tables import Node
from .formula import Formula, parse
from .part import Evidence, Given, Number, Output, OutputClock, OutputKind, Pattern, Register

ANY_VALUE: Final = Pattern(0, 0)
POWER_ON: Final = "power on"  # what stands before the first write to a port
OUTPUT_KEYS: Final = ("kind", "clock", "periods", "numbers")
OUTPUT_MORE: Final = ("input", "pin", "given")
_KINDS: tuple[OutputKind, ...] = get_args(OutputKind)
_CLOCKS: tuple[OutputClock, ...] = get_args(OutputClock)
_NAME: Final = itemgetter(0)
_BITS = re.compile(r"[0-9a-f-]{8}")


# -- reading -------------------------------------------------------------------------------------------------


def read_pattern(node: Node) -> Pattern:
    """A pattern written as eight of 0, 1 and x."""
    bits = node.text()
    if len(bits) != 8 or set(bits) - set("01x"):
        node.fail(f'"{bits}" is not a pattern; write eight of 0, 1 and x, like 0000001x')
    return Pattern(
        mask=int(bits.replace("0", "1").replace("x", "0"), 2),
        match=int(bits.replace("x", "0"), 2),
    )


def read_registers(entries: Mapping[str, Node], ports: Collection[str]) -> tuple[Register, ...]:
    """The registers of a family; each may be given by, and stand behind, any of them."""
    return tuple(_register(name, node, ports, entries) for name, node in entries.items())


def _register(name: str, node: Node, ports: Collection[str], known: Collection[str]) -> Register:
    fields = node.fields(
        required=("port",), optional=("at", "bits", "given", "behind", "starts", "beyond", "takes")
    )
    port = fields["port"]
    behind = fields.get("behind")
    return Register(
        name=name,
        ports=tuple(item.choice(ports) for item in (port.sequence() if port.is_sequence else (port,))),
        at=fields["at"].integer(0) if "at" in fields else None,
        pattern=read_pattern(fields["bits"]) if "bits" in fields else ANY_VALUE,
        given=read_given(fields.get("given"), known),
        behind=None if behind is None else tuple(_behind(behind, (*known, POWER_ON))),
        starts=fields["starts"].integer(0, 255) if "starts" in fields else None,
        beyond="beyond" in fields and fields["beyond"].choice(("true", "false")) == "true",
        takes=fields["takes"].choice(known) if "takes" in fields else "",
    )


def _behind(node: Node, known: Collection[str]) -> Iterator[Given]:
    """One register, several, or each with what was written to it."""
    if node.is_mapping:
        yield from read_given(node, known)
        return
    for item in node.sequence() if node.is_sequence else (node,):
        yield Given(item.choice(known), ANY_VALUE)


def read_given(node: Node | None, known: Collection[str]) -> tuple[Given, ...]:
    """Registers by name, each with a pattern of what it holds."""
    found: list[Given] = []
    for name, pattern in (node.mapping() if node else {}).items():
        _known(pattern, name, known)
        found.append(Given(name, read_pattern(pattern)))
    return tuple(found)


def _known(node: Node, name: str, known: Collection[str]) -> None:
    if name not in known:
        Node(node.place, name, node.error).choice(known)


def read_output(
    name: str,
    fields: Mapping[str, Node],
    known: Collection[str],
    grades: frozenset[str],
    evidence: Evidence,
) -> Output:
    """What a part makes by counting; raises for a formula that names other numbers than are described."""
    numbers = tuple(_number(each, entry, known) for each, entry in fields["numbers"].mapping().items())
    kind, clock = fields["kind"].choice(_KINDS), fields["clock"].choice(_CLOCKS)
    if clock == "input" and "input" not in fields:
        fields["clock"].fail('key "input" is missing; add input: and the name of the pin')
    return Output(
        name=name,
        kind=next(value for value in _KINDS if value == kind),
        clock=next(value for value in _CLOCKS if value == clock),
        input=fields["input"].text() if "input" in fields else "",
        pin=fields["pin"].text() if "pin" in fields else "",
        periods=_formula(fields["periods"], frozenset(number.name for number in numbers)),
        numbers=numbers,
        given=read_given(fields.get("given"), known),
        grades=grades,
        evidence=evidence,
    )


def _formula(node: Node, names: frozenset[str]) -> Formula:
    found = parse(node.text())
    if found is None:
        node.fail(f'"{node.text()}" is no formula; write such as 2 * (N + 1)')
    if found.names != names:
        strange = ", ".join(sorted(found.names ^ names))
        node.fail(f"the formula and numbers: do not have the same names: {strange}")
    return found


def _number(name: str, node: Node, known: Collection[str]) -> Number:
    fields = node.fields(required=("bits",), optional=("means", "zero"))
    bits: dict[str, tuple[tuple[int, int], ...]] = {}
    for register, entry in fields["bits"].mapping().items():
        _known(entry, register, known)
        bits[register] = _bits(entry)
    means = fields["means"].mapping() if "means" in fields else {}
    return Number(
        name=name,
        bits=bits,
        means={int(written): stands.integer(1) for written, stands in means.items()},
        zero=fields["zero"].integer(1) if "zero" in fields else None,
    )


def _bits(node: Node) -> tuple[tuple[int, int], ...]:
    text = node.text()
    if _BITS.fullmatch(text) is None:
        node.fail(
            f'"{text}" are no bits; write for each of the eight which bit of the number it is, or -: fedcba98, ----3210'
        )
    return tuple((7 - place, int(digit, 16)) for place, digit in enumerate(text) if digit != "-")


# -- what is written -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Held:
    """What the registers of a part hold, and the instruction that wrote it; both None where that is not known.

    `last` is the register written last, by port.
    """

    values: tuple[tuple[str, int | None, int | None], ...] = ()
    last: tuple[tuple[str, str], ...] = ()

    def value(self, register: str) -> int | None:
        """What a register holds."""
        return next((value for name, value, _ in self.values if name == register), None)

    def writer(self, register: str) -> int | None:
        """The instruction that wrote it."""
        return next((writer for name, _, writer in self.values if name == register), None)

    def with_value(self, register: str, port: str, value: int | None, writer: int) -> Held:
        """What is held after a write to a register by that port."""
        others = [each for each in self.values if each[0] != register]
        insort(others, (register, value, writer), key=_NAME)
        return Held(tuple(others), _put(self.last, port, register))


def at_start(registers: tuple[Register, ...]) -> Held:
    """What is held when power comes on."""
    return Held(
        tuple((each.name, each.starts, None) for each in sorted(registers, key=lambda each: each.name)),
        tuple(sorted((port, POWER_ON) for each in registers for port in each.ports)),
    )


def written(
    registers: tuple[Register, ...], port: str, at: int, value: int | None, writer: int, held: Held
) -> Iterator[tuple[Register | None, Held]]:
    """The registers a write may go to, each with what is held then; None: it goes to none that is described.

    Several where the value, what is held or what went before is not known.
    """
    values, before = {name: byte for name, byte, _ in held.values}, dict(held.last).get(port)
    for register in registers:
        if port not in register.ports or register.at not in (None, at):
            continue
        meant = _meant(register, value, values, before)
        if meant is not False:
            content = held.value(register.takes) if register.takes else value
            yield register, held.with_value(register.name, port, content, writer)
        if meant:
            return
    yield None, Held(held.values, _put(held.last, port, ""))


_Last = tuple[tuple[str, str], ...]


def _put(last: _Last, port: str, register: str) -> _Last:
    others = [each for each in last if each[0] != port]
    insort(others, (port, register), key=_NAME)
    return tuple(others)


_Values = Mapping[str, int | None]


def _meant(register: Register, value: int | None, held: _Values, last: str | None) -> bool | None:
    """Whether a write goes to the register, of which `last` was written before; None where that is not known."""
    told = holds(register.pattern, value)
    if told is False:
        return False
    for given in register.given:
        one = holds(given.pattern, held.get(given.register))
        if one is False:
            return False
        told = told and one
    if register.behind is None:
        return told
    one = _follows(register.behind, last, held)
    return False if one is False else told and one


def _follows(behind: tuple[Given, ...], last: str | None, held: _Values) -> bool | None:
    if last is None:
        return None
    found = next((each for each in behind if each.register == last), None)
    if found is None:
        return False
    return True if last == POWER_ON else holds(found.pattern, held.get(last))


def holds(pattern: Pattern, value: int | None) -> bool | None:
    """Whether a value is one of the pattern; None where it is not known and the pattern asks."""
    if pattern.mask == 0:
        return True
    return None if value is None else pattern.accepts(value)


def number(made: Number, held: Held) -> int | None:
    """The number as it is written in the registers; None where a bit of it is not known."""
    total = 0
    for register, pairs in made.bits.items():
        value = held.value(register)
        if value is None:
            return None
        total |= sum((value >> bit & 1) << place for bit, place in pairs)
    return total


def spread(made: Number, number_: int, held: Mapping[str, int]) -> Iterator[tuple[str, int]]:
    """Each register of a number with the byte it must hold for another one; its other bits as they are in `held`."""
    for register, pairs in made.bits.items():
        value = held.get(register, 0)
        for bit, place in pairs:
            value = value & ~(1 << bit) | (number_ >> place & 1) << bit
        yield register, value
