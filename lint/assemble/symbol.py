"""Names and what they stand for: ordinary symbols, local labels, numbered labels, in one pass over the lines."""

from bisect import bisect_left
from dataclasses import dataclass, field

from ..source import Span, Syntax
from .line import Line, Locality
from .program import Origin, SymbolKind

Key = tuple[str, int, int, int]


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
    """The definitions of one pass. `former` is the table of the pass before: it answers for what comes further down."""

    syntax: Syntax
    former: "Table | None" = None
    definitions: dict[Key, Definition] = field(default_factory=dict)
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
        locality: Locality | None = line.locality
        if self._is_local(name):
            while locality:
                found = self._at(self._key(name, locality, order))
                if found:
                    return found
                locality = locality.outer
            return self._nearest(name, order)
        return self._at((name, 0, 0, 0)) or self._at_any_case(name)

    def near(self, number: str, forward: bool, order: int) -> Definition | None:
        """The label of that number before the line (its own included) or behind it."""
        spelled = self._all(number)
        index = bisect_left(spelled, order + 1, key=lambda each: each.order)
        if forward:
            return spelled[index] if index < len(spelled) else None
        return spelled[index - 1] if index else None

    def differs(self) -> bool:
        """Whether any value is another one than in the pass before."""
        if self.former is None:
            return True
        old, new = self.former.definitions, self.definitions
        return old.keys() != new.keys() or any(old[key].value != new[key].value for key in new)

    def _is_local(self, name: str) -> bool:
        return self.syntax.local_by_label.of(name) or self.syntax.local_by_blank.of(name)

    def _key(self, name: str, locality: Locality, order: int) -> Key:
        if self.syntax.local_numbers and name.isdigit():
            return name, 0, 0, order
        if self.syntax.local_by_blank.of(name):
            return name, locality.use, locality.blank, 1
        if self.syntax.local_by_label.of(name):
            return name, locality.use, locality.label, 2
        return name, 0, 0, 0

    def _at(self, key: Key) -> Definition | None:
        found = self.definitions.get(key)
        if found is None and self.former:
            return self.former.definitions.get(key)
        return found

    def _at_any_case(self, name: str) -> Definition | None:
        spellings = self._folded.get(name.lower(), set())
        if self.former:
            spellings = spellings | self.former._folded.get(name.lower(), set())
        if len(spellings) != 1:
            return None
        (spelling,) = spellings
        return self._at((spelling, 0, 0, 0))

    def _nearest(self, name: str, order: int) -> Definition | None:
        spelled = self._all(name)
        before = [each for each in spelled if each.order <= order]
        if before:
            return before[-1]
        return spelled[0] if spelled else None

    def _all(self, name: str) -> list[Definition]:
        """All definitions of a spelling in order, those further down as the pass before saw them."""
        here = self._spelled.get(name, [])
        if not self.former:
            return here
        behind = here[-1].order if here else -1
        return here + [each for each in self.former._spelled.get(name, []) if each.order > behind]
