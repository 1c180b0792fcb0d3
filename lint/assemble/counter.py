"""Where the next byte goes: the counter of the code, and beside it those of modules, sections and moved code."""

from collections.abc import Mapping
from dataclasses import dataclass, field

# OS-9 module: a header of 9 bytes, 13 with start and data size, 3 bytes of CRC at the end (from memory).
_HEADER = 9
_HEADER_WITH_START = 13
_CRC = 3
# Where a linker puts sections is not known; what is not said to be in the direct page is assumed to lie outside.
_BEHIND_DIRECT_PAGE = 0x100


@dataclass(slots=True)
class _Section:
    """One section: where its next byte goes; whether the source says where it lies, and in the direct page."""

    address: int
    start: int
    placed: bool = False
    direct: bool = False


@dataclass(slots=True)
class Counter:
    """Address of the next byte of code. `data` counts the data area while inside an OS-9 module, else it is None.

    `placed` is whether the source says where the present section lies; `bases` says where each one begins that a
    linker places, as `layout_of` worked it out from the pass before. `structure` counts inside a structure.
    """

    mask: int
    address: int = 0
    data: int | None = None
    structure: int | None = None
    placed: bool = False
    bases: Mapping[str, int] = field(default_factory=dict)
    _phase: tuple[int, int] | None = None  # where moved code really lies, where it is assembled for
    _name: str = ""
    _sections: dict[str, _Section] = field(default_factory=dict)
    _before: list[str] = field(default_factory=list)

    def advance(self, size: int) -> None:
        """Goes past `size` bytes of code, or of a structure."""
        if self.structure is None:
            self.address = self.address + size & self.mask
        else:
            self.structure = self.structure + size & self.mask

    @property
    def moved_by(self) -> int:
        """How far from where it runs moved code lies; 0 for all other."""
        return self._phase[0] - self._phase[1] if self._phase else 0

    @property
    def next(self) -> int:
        """Where what comes next begins: in the structure, else in the code."""
        return self.address if self.structure is None else self.structure

    def set(self, address: int) -> None:
        """ORG: goes on elsewhere; inside a module that is a place in the data area."""
        if self.data is None:
            self.address = address & self.mask
            self.placed = True
        else:
            self.data = address & self.mask

    def reserve(self, size: int) -> int:
        """Where `size` reserved bytes begin; inside a module they are in the data area."""
        if self.data is None or self.structure is not None:
            start = self.next
            self.advance(size)
            return start
        start = self.data
        self.data = start + size & self.mask
        return start

    def leave(self) -> None:
        """Back to the section before this one."""
        if self._before:
            name = self._before.pop()
            self.enter(name, False)
            self._before.pop()

    def enter(self, name: str, direct: bool) -> None:
        """Goes on in the section of that name, where it was left; "" is what lies before any section."""
        self._before.append(self._name)
        kept = self._sections.setdefault(self._name, _Section(0, 0))
        kept.address, kept.placed = self.address, self.placed
        if name not in self._sections:
            start = self.bases.get(name, 0 if direct else _BEHIND_DIRECT_PAGE)
            self._sections[name] = _Section(start, start, direct=direct)
        section = self._sections[name]
        self._name, self.address, self.placed = name, section.address, section.placed

    def layout(self) -> dict[str, int]:
        """Where the sections would begin one behind the other; those of the direct page from 0."""
        self.enter(self._name, False)
        found: dict[str, int] = {}
        starts = {True: 0, False: _BEHIND_DIRECT_PAGE}
        for name, section in self._sections.items():
            if name and not section.placed:
                found[name] = starts[section.direct]
                starts[section.direct] += section.address - section.start & self.mask
        return found

    def begin_module(self, with_start: bool) -> None:
        """A module begins at 0 with its header, and its data area at 0 too."""
        self.address, self.data = (_HEADER_WITH_START if with_start else _HEADER), 0

    def end_module(self) -> None:
        """The module ends behind its check bytes."""
        self.advance(_CRC)
        self.data = None

    def begin_phase(self, address: int) -> None:
        """Code from here on is assembled for `address`, and moved there before it runs."""
        self.end_phase()
        self._phase = (self.address, address & self.mask)
        self.address = address & self.mask

    def end_phase(self) -> None:
        """Back to where the code lies."""
        if self._phase:
            lies, assembled = self._phase
            self.address = lies + self.address - assembled & self.mask
            self._phase = None
