"""What a reading of meanings must offer: numbers for the executor, symbols or intervals for the solver."""

from collections.abc import Callable
from typing import Protocol, TypeVar

from .meaning import Register

V = TypeVar("V")


class Domain(Protocol[V]):
    """Values of type `V` and the state they come from.

    Nothing is cut before it gets here: `write`, `store` and every address may be given a value that is too
    wide or negative, and the domain takes its low bits (`register.width`, 8 times `size`, the width of the
    address bus). The program counter is written by whatever jumps; as an operand it is already a number.
    """

    def number(self, value: int) -> V:
        """A constant."""
        ...

    def unary(self, op: str, operand: V) -> V:
        """See meaning.Unary for the operators; numbers.unary does them on ints."""
        ...

    def binary(self, op: str, left: V, right: V) -> V:
        """See meaning.Binary for the operators; numbers.binary does them on ints."""
        ...

    def bits(self, value: V, high: int, low: int) -> V:
        """Bits `high` down to `low` (both included) as a number from 0."""
        ...

    def signed(self, value: V, width: int) -> V:
        """The low `width` bits as two's complement."""
        ...

    def choose(self, condition: V, yes: V, no: V) -> V:
        """One of two values; asked only where `truth(condition)` is None."""
        ...

    def undefined(self, width: int) -> V:
        """`width` bits nobody defines."""
        ...

    def read(self, register: Register) -> V:
        """The value of a register, a flag or a view (its `parts` are what is stored)."""
        ...

    def write(self, register: Register, value: V) -> None:
        """Sets a register, a flag or all parts of a view to the low bits of `value`."""
        ...

    def load(self, address: V, size: int, port: bool) -> V:
        """`size` bytes from memory (or ports) as one number, in the processor's byte order."""
        ...

    def store(self, address: V, size: int, value: V, port: bool) -> None:
        """The low `size` bytes of `value` to memory (or ports)."""
        ...

    def truth(self, condition: V) -> bool | None:
        """Whether a value differs from zero; None where that is not known."""
        ...

    def either(self, condition: V, then: Callable[[], None], otherwise: Callable[[], None]) -> None:
        """Runs one or both of two alternatives of unknown outcome and joins what they did to the state."""
        ...

    def repeat(self, count: V, body: Callable[[], None]) -> None:
        """Runs `body` `count` times, or does to the state what that many times may do."""
        ...
