"""Names and what they stand for: ordinary symbols, local labels, numbered labels, in one pass over the lines."""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from ..source import Span, Syntax
from .line import Line, Locality
from .program import Origin, SymbolKind

Key = tuple[str, int, int, int]  # spelling, and for local labels: macro use, ordinary label, blank line


@dataclass(frozen=True, slots=True)
class Definition:
    """A name's meaning; `order` is the place of its line among all lines."""

    name: str
    key: Key
    kind: SymbolKind
    value: int | None
    origin: Origin | None
    order: int
    span: Span | None = None


@dataclass(slots=True, eq=False)
class Table:
    """The definitions of one pass.

    `written` are all words in label position, defined yet or not; `former` is the table of the pass before, which
    answers for what comes further down.
    """

    syntax: Syntax
    written: set[str]
    former: "Table | None" = None
    definitions: dict[Key, Definition] = field(default_factory=dict)
    lists: dict[str, str] = field(default_factory=dict)  # names of lists of registers, and the lists
    _spelled: dict[str, list[Definition]] = field(default_factory=dict)
    _folded: dict[str, set[str]] = field(default_factory=dict)

    def define(
        self, line: Line, name: str, kind: SymbolKind, value: int | None, order: int, span: Span | None = None
    ) -> Definition | None:
        """Gives a name its value; returns the definition that stands already, if the name had another one."""
        key = self._key(name, line.locality, order)
        found = self.definitions.get(key)
        if found and not (kind == found.kind == "variable"):
            return found
        self.add(Definition(name, key, kind, value, line.origin, order, span))
        return None

    def add(self, definition: Definition) -> None:
        self.definitions[definition.key] = definition
        self._spelled.setdefault(definition.name, []).append(definition)
        self._folded.setdefault(definition.name.lower(), set()).add(definition.name)

    def find(self, line: Line, name: str, order: int) -> Definition | None:
        """What a name stands for in a line: the local label in reach, else the nearest one spelled so."""
        if not self._is_local(name):
            return self._in_scope(line.locality, name) or self._at_any_case(name)
        spelled = self._all(name)
        locality: Locality | None = line.locality
        while locality:
            for reach in self._reaches(name, locality):
                inside = [each for each in spelled if reach(each.key)]
                if inside:
                    return _nearest(inside, order)
            locality = locality.outer
        return _nearest(spelled, order) if spelled else None

    def near(self, number: str, forward: bool, order: int, count: int = 1) -> Definition | None:
        """The label of that number before the line (its own included) or behind it, or the one so many further.

        A row of signs is the label spelled so, or else it counts those of one sign.
        """
        known = self._spelled.get(number) or (self.former and self.former._spelled.get(number))
        if number[0] in "+-" and known:
            count = 1
        elif number[0] in "+-":
            number = number[0]
        if not forward:
            before = self._spelled.get(number, [])
            index = bisect_right(before, order, key=_order) - count
            return before[index] if index >= 0 else None
        behind = self.former._spelled.get(number, []) if self.former else []
        index = bisect_right(behind, order, key=_order) + count - 1
        return behind[index] if index < len(behind) else None

    def registers(self, operand: str) -> str:
        """The list of registers that `#NAME` stands for; any other operand as it is."""
        name = operand[1:].strip() if operand.startswith("#") else ""
        former = self.former.lists if self.former else {}
        return self.lists.get(name) or former.get(name) or operand

    def differs(self) -> bool:
        """Whether any value is another one than in the pass before."""
        if self.former is None:
            return True
        old, new = self.former.definitions, self.definitions
        return old.keys() != new.keys() or any(old[key].value != new[key].value for key in new)

    def _is_local(self, name: str) -> bool:
        return self.syntax.local_by_label.of(name) or self.syntax.local_by_blank.of(name)

    def _key(self, name: str, locality: Locality, order: int) -> Key:
        is_near = self.syntax.local_numbers and name.isdigit()
        if is_near or (self.syntax.anonymous and not name.strip(":+-")):
            return name, 0, 0, order
        if self._is_local(name):
            return name, locality.use, locality.label, locality.blank
        return self._scoped(name, locality, len(locality.scopes)), 0, 0, 0

    def _scoped(self, name: str, locality: Locality, depth: int) -> str:
        """The name with what goes before it in so many of the scopes it is in."""
        if locality.module and self.syntax.local_by_module.of(name):
            return f"{locality.module}::{name}"
        return "".join(locality.scopes[:depth]) + name

    def _in_scope(self, locality: Locality, name: str) -> Definition | None:
        """What a name stands for in the innermost of the scopes around it that has it."""
        for depth in range(len(locality.scopes), -1, -1):
            found = self._at((self._scoped(name, locality, depth), 0, 0, 0))
            if found:
                return found
        plain = name.removeprefix("::")
        return self._at((plain, 0, 0, 0)) or self._at((plain.replace(".", "::"), 0, 0, 0))

    def _reaches(self, name: str, locality: Locality) -> tuple[Callable[[Key], bool], ...]:
        """Where to look for a local label, closest first.

        Some programs end the reach of a local label at the next ordinary one, others at a blank line, with the same
        marks: the stretch between both comes first, then what the mark stands for, then the other.
        """

        def by_label(key: Key) -> bool:
            return key[1:3] == (locality.use, locality.label)

        def by_blank(key: Key) -> bool:
            return key[1] == locality.use and key[3] == locality.blank

        def by_both(key: Key) -> bool:
            return by_label(key) and by_blank(key)

        if self.syntax.local_by_blank.of(name):
            return by_both, by_blank, by_label
        return by_both, by_label, by_blank

    def _at(self, key: Key) -> Definition | None:
        found = self.definitions.get(key)
        if found is None and self.former:
            return self.former.definitions.get(key)
        return found

    def _at_any_case(self, name: str) -> Definition | None:
        # Two names that differ in case alone are two names, even before the second one is reached.
        if name in self.written:
            return None
        spellings = self._folded.get(name.lower(), set())
        if self.former:
            spellings = spellings | self.former._folded.get(name.lower(), set())
        if len(spellings) != 1:
            return None
        (spelling,) = spellings
        return self._at((spelling, 0, 0, 0))

    def _all(self, name: str) -> list[Definition]:
        """All definitions of a spelling in order, those further down as the pass before saw them."""
        here = self._spelled.get(name, [])
        if not self.former:
            return here
        former = self.former._spelled.get(name, [])
        return here + former[bisect_right(former, here[-1].order if here else -1, key=_order) :]


def _nearest(definitions: Sequence[Definition], order: int) -> Definition:
    """The last definition before a line, else the first behind it."""
    return _last(definitions, order) or definitions[0]


def _last(definitions: Sequence[Definition], order: int) -> Definition | None:
    index = bisect_right(definitions, order, key=_order)
    return definitions[index - 1] if index else None


def _order(definition: Definition) -> int:
    return definition.order
