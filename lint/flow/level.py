"""Where a routine is left with its stack elsewhere than it found it: not surely back to who called it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from ..cpu import run, term
from ..cpu.symbolic import Reader, State
from ..cpu.term import Held, Slot, Term
from .graph import Graph
from .stack import Frame, distance, frames

# Heights of a stack at one instruction that are told apart; where there are more, none is known.
_MOST_HEIGHTS: Final = 4

_Heights = frozenset[int] | None
_LEVEL: Final[frozenset[int]] = frozenset({0})


@lru_cache(maxsize=4)
def astray(graph: Graph) -> frozenset[int]:
    """The returns and the jumps to other routines behind which control may go on elsewhere than behind the call.

    There the stack is not surely as high as the routine found it, or the return address may have been written over: a
    routine drops it, takes it from the stack and puts another there, or pushes an address to go to.
    """
    found: set[int] = set()
    for name, frame in frames(graph.program.cpu).items():
        finder = _Finder(graph, name, frame)
        for entry in graph.entries:
            found |= finder.left_from(entry.index)
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class _Move:
    """What an instruction does to a stack: how many bytes up (None: nobody knows), and what it stores beside it."""

    up: int | None
    written: range | None = None


class _Finder:
    def __init__(self, graph: Graph, pointer: str, frame: Frame) -> None:
        self.graph = graph
        self.cpu = graph.program.cpu
        self.pointer = pointer
        self.frame = frame
        self.level: _Heights = frozenset({frame.size})
        self.moves: dict[int, _Move] = {}

    def left_from(self, entry: int) -> set[int]:
        """Those of the routine that begins there."""
        graph = self.graph
        heights: dict[int, _Heights] = {entry: _LEVEL}
        work = [entry]
        found: set[int] = set()
        while work:
            index = work.pop()
            before = heights[index]
            call = graph.calls.get(index)
            if index in graph.returns and self._after(before, index) != self.level:
                found.add(index)
            if call is not None and call.tail and before != _LEVEL:
                found.add(index)
            # What is called gives back what the call took; a return that does not hold moves nothing.
            passive = call is not None or index in graph.returns
            after = before if passive else self._after(before, index)
            for edge in graph.edges[index]:
                known = heights.get(edge.target, frozenset())
                both = _either(known, after)
                if edge.target not in heights or both != known:
                    heights[edge.target] = both
                    work.append(edge.target)
        return found

    def _after(self, heights: _Heights, index: int) -> _Heights:
        if heights is None:
            return None
        move = self._move(index)
        if move.up is None or any(self._overwrites(height, move) for height in heights):
            return None
        return frozenset(height + move.up for height in heights)

    def _overwrites(self, height: int, move: _Move) -> bool:
        """Whether a push puts something where the return address was taken from, or a store something in its place."""
        low = self.frame.low
        stored = move.written is not None and any(
            low <= height + byte < low + self.frame.size for byte in move.written
        )
        return stored or (move.up is not None and move.up < 0 < height)

    def _move(self, index: int) -> _Move:
        found = self.moves.get(index)
        if found is None:
            found = self.moves[index] = self._read(index)
        return found

    def _read(self, index: int) -> _Move:
        action = self.graph.program.instructions[index].action
        if self.pointer not in action.used.reads | action.used.writes:
            return _Move(0)
        reader = Reader(State(self.cpu, 0), assumed=True)
        run(action.meaning, reader)
        state, held = reader.state, reader.state.held(self.pointer)
        # A copy of the pointer in another register can reach whatever lies on the stack.
        copied = any(self._holds(value) for name, value in state.registers.items() if name != self.pointer)
        moved = distance(state.get(self.pointer), held, state.width(self.pointer))
        if copied or moved is None:
            return _Move(None)
        if moved:
            return _Move(moved)
        stores = (touch for touch in reader.touches if touch.way == "write")
        placed = [(distance(touch.address, held, self.cpu.address_bits), touch.size) for touch in stores]
        low = min((at for at, _ in placed if at is not None), default=0)
        high = max((at + size for at, size in placed if at is not None), default=0)
        return _Move(0, range(low, high))

    def _holds(self, value: Term) -> bool:
        """Whether the pointer itself is in a value, not only what lies where it points."""
        bare = term.substitute(value, lambda given: term.ZERO if isinstance(given.origin, Slot) else None)
        return any(isinstance(i.origin, Held) and i.origin.name == self.pointer for i in bare.inputs)


def _either(one: _Heights, other: _Heights) -> _Heights:
    both = None if one is None or other is None else one | other
    return None if both is not None and len(both) > _MOST_HEIGHTS else both
