"""Where the next byte goes: the counter of the code, and beside it those of modules and moved code."""

from dataclasses import dataclass

# OS-9 module: a header of 9 bytes, 13 with start and data size, 3 bytes of CRC at the end (from memory).
_HEADER = 9
_HEADER_WITH_START = 13
_CRC = 3


@dataclass(slots=True)
class Counter:
    """Address of the next byte of code. `data` counts the data area while inside an OS-9 module, else it is None."""

    mask: int
    address: int = 0
    data: int | None = None
    _phase: tuple[int, int] | None = None  # where moved code really lies, where it is assembled for

    def advance(self, size: int) -> None:
        """Goes past `size` bytes of code."""
        self.address = self.address + size & self.mask

    def set(self, address: int) -> None:
        """ORG: goes on elsewhere; inside a module that is a place in the data area."""
        if self.data is None:
            self.address = address & self.mask
        else:
            self.data = address & self.mask

    def reserve(self, size: int) -> int:
        """Where `size` reserved bytes begin; inside a module they are in the data area."""
        if self.data is None:
            start = self.address
            self.advance(size)
            return start
        start = self.data
        self.data = start + size & self.mask
        return start

    def begin_module(self, with_start: bool) -> None:
        """A module begins at 0 with its header, and its data area at 0 too."""
        self.address, self.data = (_HEADER_WITH_START if with_start else _HEADER), 0

    def end_module(self) -> None:
        """The module ends behind its check bytes."""
        self.advance(_CRC)
        self.data = None

    def begin_phase(self, address: int) -> None:
        """Code from here on is assembled for `address`, and moved there before it runs."""
        self._phase = (self.address, address & self.mask)
        self.address = address & self.mask

    def end_phase(self) -> None:
        """Back to where the code lies."""
        if self._phase:
            lies, assembled = self._phase
            self.address = lies + self.address - assembled & self.mask
            self._phase = None
