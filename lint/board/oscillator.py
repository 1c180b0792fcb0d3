"""The clock tree of a board: oscillators and crystals, and the clocks that hang on them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from ..errors import Place
from ..quantity import Clock, parse_clock
from ..tables import Node, nearest

CRYSTAL = "crystal"  # the name of the one written in short, as crystal: and divide:

_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+")
_MADE = re.compile(r"([A-Za-z_]\w*)((?:\s*[*/]\s*[1-9][0-9]*)*)")
_FACTOR = re.compile(r"([*/])\s*([0-9]+)")


@dataclass(frozen=True, slots=True)
class Oscillator:
    """An oscillator or a crystal by its name; `written` is its frequency in the project file, before it was turned."""

    name: str
    clock: Clock
    written: Clock
    place: Place


@dataclass(frozen=True, slots=True)
class BusSource:
    """What the bus clock is made from: so many times the frequency of an oscillator."""

    name: str
    times: Fraction


@dataclass(frozen=True, slots=True)
class Tree:
    """The oscillators of a board by name. A clock is a frequency, or one of them with divisors and multipliers."""

    oscillators: Mapping[str, Oscillator]

    def clock(self, node: Node, turned: bool = True) -> Clock:
        """The clock written in `node`, exact; with `turned` false as it was before any oscillator was turned.

        Raises the node's error for anything that is neither a frequency nor made from an oscillator of the board.
        """
        source = self.source(node)
        if source is None:
            return parse_clock(node.text(), node.place)
        found = self.oscillators[source.name]
        return (found.clock if turned else found.written).times(source.times)

    def source(self, node: Node) -> BusSource | None:
        """The oscillator that the clock is made from and by what factor; None where it is a frequency."""
        found = _MADE.fullmatch(node.text().strip())
        if found is None:
            return None
        if found[1] not in self.oscillators:
            node.fail(f'"{found[1]}" is no oscillator of the board; {_known(found[1], self.oscillators)}')
        times = Fraction(1)
        for sign, number in _FACTOR.findall(found[2]):
            times = times * int(number) if sign == "*" else times / int(number)
        return BusSource(found[1], times)


def _known(word: str, oscillators: Mapping[str, Oscillator]) -> str:
    if not oscillators:
        return "write a frequency such as 2 MHz, or name one under oscillators:"
    return nearest(word, list(oscillators))


def read_tree(fields: Mapping[str, Node], turned: Mapping[str, Clock]) -> Tree:
    """The oscillators under `oscillators:` and the crystal written in short, those of `turned` at what they get there.

    An oscillator that is turned keeps its tolerance.
    """
    nodes = dict(fields["oscillators"].mapping()) if "oscillators" in fields else {}
    if "crystal" in fields:
        if CRYSTAL in nodes:
            nodes[CRYSTAL].fail(
                "crystal: gives an oscillator of that name already; give this one another name"
            )
        nodes[CRYSTAL] = fields["crystal"]
    return Tree({name: _oscillator(name, node, turned.get(name)) for name, node in nodes.items()})


def _oscillator(name: str, node: Node, turned: Clock | None) -> Oscillator:
    if name == "bus" or not name.isidentifier():
        node.fail(f'"{name}" can\'t name an oscillator; write a word of letters, digits and _ other than bus')
    ppm = Fraction(0)
    frequency = node
    if node.is_mapping:
        fields = node.fields(required=("frequency",), optional=("ppm",))
        frequency = fields["frequency"]
        ppm = _ppm(fields["ppm"]) if "ppm" in fields else ppm
    written = replace(parse_clock(frequency.text(), frequency.place), ppm=ppm)
    clock = written if turned is None else replace(turned, ppm=ppm)
    return Oscillator(name, clock, written, node.place)


def _ppm(node: Node) -> Fraction:
    if _NUMBER.fullmatch(node.text()) is None:
        node.fail(f'"{node.text()}" is no tolerance; write parts per million as a number, such as 50')
    return Fraction(node.text())
