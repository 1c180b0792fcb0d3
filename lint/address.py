"""Addresses as numbers: memory from 0, the ports of a second address space above everything in memory."""

# Wider than the memory of any processor here; a port keeps its own number in the low bits.
_PORTS = 1 << 24


def port(number: int) -> int:
    """The address of a port, told apart from memory."""
    return _PORTS + number


def is_port(address: int) -> bool:
    """Whether an address lies in the second space."""
    return address >= _PORTS


def port_number(address: int) -> int:
    """The number of a port, from the address that `port` gives."""
    return address - _PORTS


def shown(address: int) -> str:
    """An address as people write it: $8000 in memory, io:$10 for a port."""
    return f"io:${address - _PORTS:02X}" if is_port(address) else f"${address:04X}"
