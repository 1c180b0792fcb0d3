"""A YAML text as places and text: no value changes its type before somebody asks for that type.

YAML's own reading would turn `1.8432` into a float, `ON` into true and `010` into eight. Here every scalar
stays the text its author wrote, with its line and column, and a key given twice is an error.
"""

import difflib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NoReturn

import yaml

from ..errors import ClockhopError, Place, TableError

_Loader: type[yaml.CSafeLoader] | type[yaml.SafeLoader] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_LARGEST = 4 * 1024 * 1024
_LONGEST = 4096  # characters of one value
_RADIX = {"$": 16, "0x": 16, "%": 2, "0b": 2}


def load(text: str, path: str, error: type[ClockhopError] = TableError) -> "Node":
    """The root of the YAML document in `text`; an empty document is an empty mapping.

    `path` is only named in messages. Raises `error` (place `path:line:column`) for text that is not YAML, for
    a repeated key, a key that is not text, an alias, or more than one document.
    """
    if len(text) > _LARGEST:
        raise error(f"has {len(text)} characters, more than {_LARGEST}; split it", Place(path))
    try:
        root = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        place = Place(path, mark.line + 1, mark.column + 1) if mark else Place(path)
        raise error(
            f"not YAML: {fault.problem or fault.context}; mend the line or quote its text", place
        ) from None
    except yaml.YAMLError as fault:
        raise error(f"not YAML: {' '.join(str(fault).split())}", Place(path)) from None
    except RecursionError:
        raise error("nested too deeply; write it flatter", Place(path)) from None
    if root is None:
        return Node(Place(path, 1, 1), MappingProxyType({}), error)
    return _Reader(path, error, set()).node(root)


def nearest(word: str, accepted: Iterable[str]) -> str:
    """What would be accepted instead of `word`, as the end of a message: the near names, else all of them."""
    names = sorted(accepted)
    lower = {name.lower(): name for name in names}
    close = [lower[key] for key in difflib.get_close_matches(word.lower(), lower, n=3, cutoff=0.6)]
    if close:
        return f"nearest: {', '.join(close)}"
    return f"accepted: {', '.join(names)}" if names else "nothing is accepted here"


def merge(old: "Node", new: "Node", chained: Collection[str] = ()) -> "Node":
    """A table that extends another: mappings are joined key by key, anything else in `new` replaces what is in `old`.

    `-` takes a key of `old` out; lists under the keys `chained` come one behind the other. Raises for a `-` that has
    nothing to take out.
    """
    if not (old.is_mapping and new.is_mapping):
        return new
    entries = dict(old.mapping())
    for key, value in new.mapping().items():
        if value.content == "-":
            if key not in entries:
                value.fail(f'no "{key}" to take out; {nearest(key, entries)}')
            del entries[key]
        elif key not in entries:
            entries[key] = value
        elif key in chained:
            entries[key] = Node(value.place, entries[key].sequence() + value.sequence(), value.error)
        else:
            entries[key] = merge(entries[key], value)
    places = {**old.key_places, **new.key_places}
    return Node(new.place, MappingProxyType(entries), new.error, MappingProxyType(places))


@dataclass(frozen=True, slots=True)
class Node:
    """One value of a YAML file with its place: a text, a list or a mapping. The wrong kind raises."""

    place: Place
    content: "str | tuple[Node, ...] | Mapping[str, Node]"
    error: type[ClockhopError]
    key_places: Mapping[str, Place] = field(default_factory=dict)

    @property
    def is_text(self) -> bool:
        return isinstance(self.content, str)

    @property
    def is_sequence(self) -> bool:
        return isinstance(self.content, tuple)

    @property
    def is_mapping(self) -> bool:
        return isinstance(self.content, Mapping)

    def fail(self, message: str) -> NoReturn:
        """Raises the loader's error class at this node's place."""
        raise self.error(message, self.place)

    def text(self) -> str:
        """The scalar as written (quotes off, folded lines joined); a value left out is the empty text."""
        if not isinstance(self.content, str):
            self.fail(f"{self._kind()} stands where one value is expected")
        return self.content

    def sequence(self) -> "tuple[Node, ...]":
        """The items of a list, in order."""
        if not isinstance(self.content, tuple):
            self.fail(f"{self._kind()} stands where a list is expected; write [a, b] or lines with a dash")
        return self.content

    def mapping(self) -> "Mapping[str, Node]":
        """The entries of a mapping in the order written. Use `fields` where the keys are known beforehand."""
        if self.content == "":
            return {}
        if not isinstance(self.content, Mapping):
            self.fail(f"{self._kind()} stands where a mapping is expected; write name: value")
        return self.content

    def fields(self, required: Collection[str] = (), optional: Collection[str] = ()) -> "Mapping[str, Node]":
        """The entries of a mapping with known keys: raises for a missing one and for a strange one."""
        entries = self.mapping()
        accepted = {*required, *optional}
        for key in entries:
            if key not in accepted:
                raise self.error(f'unknown key "{key}"; {nearest(key, accepted)}', self.key_places[key])
        for key in required:
            if key not in entries:
                self.fail(f'key "{key}" is missing; add {key}: ...')
        return entries

    def integer(self, low: int | None = None, high: int | None = None) -> int:
        """A whole number: decimal, $FF, 0xFF, %1010 or 0b1010, minus allowed; both limits inclusive."""
        number = _number(self.text())
        if number is None:
            self.fail(f'"{self.text()}" is not a whole number; write decimal, $hex or 0xhex')
        if (low is not None and number < low) or (high is not None and number > high):
            bounds = f"{'' if low is None else low} to {'' if high is None else high}"
            self.fail(f"{self.text()} is out of range; accepted: {bounds}")
        return number

    def choice(self, accepted: Collection[str]) -> str:
        """A text that must be one of `accepted`."""
        text = self.text()
        if text not in accepted:
            self.fail(f'unknown value "{text}"; {nearest(text, accepted)}')
        return text

    def _kind(self) -> str:
        if isinstance(self.content, str):
            return f'the value "{self.content}"'
        return "a list" if isinstance(self.content, tuple) else "a mapping"


def _number(text: str) -> int | None:
    sign, digits = (-1, text[1:]) if text.startswith("-") else (1, text)
    for prefix, radix in _RADIX.items():
        if digits.lower().startswith(prefix):
            return _parsed(digits[len(prefix) :], radix, sign)
    return _parsed(digits, 10, sign)


def _parsed(digits: str, radix: int, sign: int) -> int | None:
    # int() alone would also take "_", blanks, a second sign and digits of other scripts.
    if not digits.isascii() or not digits.isalnum():
        return None
    try:
        return sign * int(digits, radix)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class _Reader:
    path: str
    error: type[ClockhopError]
    seen: set[int]

    def node(self, raw: yaml.Node) -> Node:
        place = self.place(raw)
        if id(raw) in self.seen:
            raise self.error("an alias (*name) refers to a value above; write the value out", place)
        self.seen.add(id(raw))
        match raw:
            case yaml.ScalarNode() if len(raw.value) > _LONGEST:
                fault = f"a value of {len(raw.value)} characters, more than {_LONGEST}; write a shorter one"
                raise self.error(fault, place)
            case yaml.ScalarNode() if "\0" in raw.value:
                raise self.error("a NUL character, which no name or number has; take it out", place)
            case yaml.ScalarNode():
                is_null = raw.tag == "tag:yaml.org,2002:null" and raw.value in ("", "~")
                return Node(place, "" if is_null else str(raw.value), self.error)
            case yaml.SequenceNode():
                return Node(place, tuple(self.node(item) for item in raw.value), self.error)
            case yaml.MappingNode():
                return self.entries(raw, place)
        raise AssertionError(raw)

    def entries(self, raw: yaml.MappingNode, place: Place) -> Node:
        entries: dict[str, Node] = {}
        places: dict[str, Place] = {}
        for key, value in raw.value:
            key_place = self.place(key)
            if not isinstance(key, yaml.ScalarNode):
                raise self.error("a list or mapping stands as a key; write a name", key_place)
            name = str(key.value)
            if name in entries:
                first = places[name].line
                raise self.error(f'key "{name}" stands twice, first in line {first}; keep one', key_place)
            entries[name] = self.node(value)
            places[name] = key_place
        return Node(place, MappingProxyType(entries), self.error, MappingProxyType(places))

    def place(self, raw: yaml.Node) -> Place:
        return Place(self.path, raw.start_mark.line + 1, raw.start_mark.column + 1)
