"""Control flow over the instructions of a program: edges, calls, returns, and the entries of routines."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

from ..assemble import Instruction, Opaque, Program
from ..cpu import TAKEN, Binary, Number

Way = Literal["next", "taken", "passed", "jump"]


@dataclass(frozen=True, slots=True)
class Edge:
    """From one instruction to the next one run: straight on, a branch taken or passed, or a jump."""

    source: int
    target: int
    way: Way


@dataclass(frozen=True, slots=True)
class Call:
    """A call: the index of the routine's first instruction, or None with the reason why it isn't known.

    `tail` calls don't come back here: the routine's return is that of the caller.
    """

    source: int
    target: int | None
    reason: str = ""
    tail: bool = False


# Shorter stretches shared by jumps (an exit that pulls registers) stay parts of the routines that jump there.
_LONG_TAIL: Final = 24

EntryKind = Literal["reset", "vector", "start", "stated", "called", "unreached"]


@dataclass(frozen=True, slots=True)
class Entry:
    """The first instruction of a routine, and how it is known to be one."""

    index: int
    name: str
    kind: EntryKind


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Edges by instruction; `calls` by instruction; `lost` says where control goes that the text does not tell.

    `missing` gives the symbol or text of an operand whose value is not known. `blurred` says of an instruction that a
    line behind it was not understood, which may be code of any length and effect. `handlers` are the first instructions
    of what interrupts enter.
    """

    program: Program
    edges: tuple[tuple[Edge, ...], ...]
    calls: Mapping[int, Call]
    returns: frozenset[int]
    lost: Mapping[int, str]
    missing: Mapping[int, str]
    blurred: Mapping[int, str]
    entries: tuple[Entry, ...]
    handlers: frozenset[int]

    def name(self, index: int) -> str:
        """The author's label for an instruction, else its line; of several labels the one it is called by."""
        instruction = self.program.instructions[index]
        if len(instruction.labels) > 1:
            used = {self.symbol(call.source) for call in self.calls.values() if call.target == index}
            return next((label for label in instruction.labels if label in used), instruction.labels[-1])
        return _label(instruction)

    def head_name(self, head: int, nodes: frozenset[int]) -> str:
        """The label at a loop's head; of several the one that the loop's own branches go back to."""
        labels = self.program.instructions[head].labels
        if len(labels) < 2:
            return self.name(head)
        used = {self.symbol(e.source) for node in nodes for e in self.edges[node] if e.target == head}
        return next((label for label in labels if label in used), labels[-1])

    def symbol(self, index: int) -> str | None:
        """The symbol an instruction's operand is, where it is one."""
        operands = self.program.instructions[index].operands
        return operands[0].symbol if len(operands) == 1 else None

    def reachable(self, start: int) -> frozenset[int]:
        """The instructions of the routine that starts there: what its edges reach without entering a call."""
        seen = {start}
        work = [start]
        while work:
            for edge in self.edges[work.pop()]:
                if edge.target not in seen:
                    seen.add(edge.target)
                    work.append(edge.target)
        return frozenset(seen)


def connect(
    program: Program, stated: Iterable[tuple[str, int]] = (), interrupts: Iterable[int] = ()
) -> Graph:
    """The graph of a program; `stated` are further entries by name and address, `interrupts` those of handlers."""
    maker = _Maker(program)
    given = list(_entries(program, stated))
    maker.tail_targets = {entry.index for entry in given} | maker.called()
    maker.join()
    maker.share_tails({entry.index for entry in given} | maker.called())
    graph = Graph(
        program,
        tuple(tuple(edges) for edges in maker.edges),
        maker.calls,
        frozenset(maker.returns),
        maker.lost,
        maker.missing,
        dict(_blurred(program, maker.edges)),
        (),
        frozenset(_handlers(program, given, interrupts)),
    )
    entries = tuple(replace(e, name=graph.name(e.index)) for e in _all_entries(maker, given))
    return replace(graph, entries=entries)


def _entries(program: Program, stated: Iterable[tuple[str, int]]) -> Iterator[Entry]:
    for name, address in program.cpu.vectors.items():
        target = program.pointed(address)
        if target is not None:
            yield Entry(target.index, _label(target), "reset" if name == "reset" else "vector")
    for name, address in program.cpu.places.items():
        target = program.placed(address)
        if target is not None:
            yield Entry(target.index, _label(target), "reset" if name == "reset" else "vector")
    for name, address in stated:
        instruction = program.at(address)
        if instruction is not None:
            yield Entry(instruction.index, name, "stated")
    if program.start is not None:
        start = program.at(program.start)
        if start is not None:
            yield Entry(start.index, _label(start), "start")


def _handlers(program: Program, given: Iterable[Entry], interrupts: Iterable[int]) -> Iterator[int]:
    yield from (entry.index for entry in given if entry.kind == "vector")
    for address in interrupts:
        instruction = program.at(address)
        if instruction is not None:
            yield instruction.index


def _label(instruction: Instruction) -> str:
    return instruction.labels[-1] if instruction.labels else f"line {instruction.origin.line}"


class _Maker:
    def __init__(self, program: Program) -> None:
        self.program = program
        self.edges: list[list[Edge]] = [[] for _ in program.instructions]
        self.calls: dict[int, Call] = {}
        self.returns: set[int] = set()
        self.lost: dict[int, str] = {}
        self.tail_targets: set[int] = set()
        self.missing = dict(_missing(program))
        self.unread = dict(_unread_before(program))

    def target(self, instruction: Instruction) -> Instruction | None:
        goal = _address(instruction)
        if goal is None or instruction.index in self.missing:
            return None
        found = self.program.at(goal, instruction.index)
        return None if found is not None and self._over_unread(instruction, found) else found

    def _over_unread(self, instruction: Instruction, goal: Instruction) -> Opaque | None:
        """A line not understood at the label an instruction goes to, above the first instruction that was."""
        unread = self.unread.get(goal.index)
        named = [self.program.symbols.get(o.symbol) for o in instruction.operands if o.symbol is not None]
        if unread is None or len(named) != 1 or named[0] is None or named[0].origin is None:
            return None
        label = named[0].origin
        return unread if label.path == unread.origin.path and label.line <= unread.origin.line else None

    def _unknown_target(self, instruction: Instruction, verb: str) -> str:
        goal = _address(instruction)
        found = None if goal is None else self.program.at(goal, instruction.index)
        unread = None if found is None else self._over_unread(instruction, found)
        if unread is not None:
            return f"{verb} to line {unread.origin.line}, which was not understood"
        if instruction.index in self.missing:
            return f"{verb} to {self.missing[instruction.index]}, which has no known address"
        if goal is not None:
            return f"{verb} to ${goal:04X}, which is not in this source"
        return f"{verb} where a register or memory says at run time"

    def called(self) -> set[int]:
        found = (self.target(i) for i in self.program.instructions if i.action.flow == "call")
        return {instruction.index for instruction in found if instruction is not None}

    def join(self) -> None:
        for instruction in self.program.instructions:
            self._leave(instruction)
        self._close_loops()

    def _close_loops(self) -> None:
        """A jump back to the entry of its own routine is a loop, not a call of itself."""
        for call in list(self.calls.values()):
            if call.tail and call.target is not None and call.source in _reached(self, {call.target}, set()):
                del self.calls[call.source]
                self.edges[call.source].append(Edge(call.source, call.target, "jump"))

    def share_tails(self, entries: set[int]) -> None:
        """A long stretch that several routines jump to is a routine by itself: it is counted once."""
        reached = Counter(node for entry in entries for node in _reached(self, {entry}, set()))
        for index, edges in enumerate(self.edges):
            for edge in [e for e in edges if e.way == "jump" and reached[e.target] > 1]:
                tail = _reached(self, {edge.target}, set())
                if len(tail) >= _LONG_TAIL and index not in tail:
                    edges.remove(edge)
                    self.calls[index] = Call(index, edge.target, tail=True)

    def _leave(self, instruction: Instruction) -> None:
        index = instruction.index
        match instruction.action.flow:
            case "branch":
                self._go(instruction, "taken")
                self._on(instruction, "passed")
            case "jump":
                self._jump(instruction)
            case "call":
                goal = self.target(instruction)
                reason = "" if goal else self._unknown_target(instruction, "calls")
                self.calls[index] = Call(index, goal.index if goal else None, reason)
                self._on(instruction, "next")
                self._past(instruction)
            case "interrupt":
                self.calls[index] = Call(index, None, f"{instruction.mnemonic} enters a system routine")
                self._on(instruction, "next")
            case "return":
                self.returns.add(index)
                self._past(instruction)
            case "halt":
                pass
            case _:
                self._on(instruction, "next")

    def _past(self, instruction: Instruction) -> None:
        """A conditional call or return goes on where its condition does not hold."""
        if TAKEN in instruction.action.conditions:
            self._on(instruction, "passed")

    def _jump(self, instruction: Instruction) -> None:
        goal = self.target(instruction)
        if goal is not None and goal.index in self.tail_targets:
            self.calls[instruction.index] = Call(instruction.index, goal.index, tail=True)
        else:
            self._go(instruction, "jump")

    def _go(self, instruction: Instruction, way: Way) -> None:
        goal = self.target(instruction)
        if goal is None:
            self.lost[instruction.index] = self._unknown_target(instruction, "goes")
        else:
            self.edges[instruction.index].append(Edge(instruction.index, goal.index, way))

    def _on(self, instruction: Instruction, way: Way) -> None:
        following = self.program.at(instruction.end, instruction.index)
        if following is None and instruction.action.flow == "interrupt":
            following = self._after_inline(instruction)
        if following is None:
            self.lost[instruction.index] = "runs on into data or past the end of the source"
        else:
            self.edges[instruction.index].append(Edge(instruction.index, following.index, way))

    def _after_inline(self, instruction: Instruction) -> Instruction | None:
        # A system call takes its number from the byte behind it and comes back behind that.
        if instruction.end in self.program.data:
            return self.program.at(instruction.end + 1, instruction.index)
        return None


def _address(instruction: Instruction) -> int | None:
    """Where a jump, branch or call goes, where its operand says so: a direct one by the page it was assembled for."""
    goal = instruction.action.target
    if isinstance(goal, Number):
        return goal.value
    if goal is None or not isinstance(goal, Binary):
        return None
    holes = (hole for hole in instruction.action.variant.holes if hole.kind == "direct")
    values = (instruction.fields[hole.name] for hole in holes)
    return next((value for value in values if isinstance(value, int)), None)


def _unread_before(program: Program) -> Iterator[tuple[int, Opaque]]:
    """For an instruction, the last of the lines right above it that were not understood."""
    opaque = sorted(program.opaque, key=lambda each: (each.origin.path, each.origin.line))
    lines = [(each.origin.path, each.origin.line) for each in opaque]
    before: Instruction | None = None
    for instruction in program.instructions if opaque else ():
        here = instruction.origin
        since = before.origin.line if before is not None and before.origin.path == here.path else 0
        at = bisect_left(lines, (here.path, here.line)) - 1
        if at >= 0 and lines[at] > (here.path, since):
            yield instruction.index, opaque[at]
        before = instruction


def _blurred(program: Program, edges: Sequence[Sequence[Edge]]) -> Iterator[tuple[int, str]]:
    """Instructions that run on over a line that was not understood."""
    lines: dict[str, list[int]] = {}
    for opaque in program.opaque:
        lines.setdefault(opaque.origin.path, []).append(opaque.origin.line)
    for path in lines:
        lines[path].sort()
    for one, other in pairwise(program.instructions if lines else ()):
        here, there = one.origin, other.origin
        known = lines.get(here.path)
        if known is None or here.path != there.path or there.line <= here.line:
            continue
        if one.action.flow in ("jump", "return") and all(
            edge.target != other.index for edge in edges[one.index]
        ):
            continue
        at = bisect_right(known, here.line)
        if at < len(known) and known[at] < there.line:
            yield one.index, f"line {known[at]} was not understood"


def _missing(program: Program) -> Iterator[tuple[int, str]]:
    """Instructions whose operand has no known value, with the symbol that is defined nowhere, else its text."""
    names = {
        (use.path, use.line, use.uses): symbol.name
        for symbol in program.symbols.values()
        if symbol.kind == "unknown"
        for use in symbol.uses
    }
    for instruction in program.instructions:
        origin = instruction.origin
        name = names.get((origin.path, origin.line, origin.uses))
        open_operands = [number.text for number in instruction.operands if number.value is None]
        if name is not None or open_operands:
            yield instruction.index, name or open_operands[0]


def _all_entries(maker: _Maker, given: list[Entry]) -> Iterator[Entry]:
    """The given entries, then what is called, then the first instruction of each stretch nothing reaches."""
    program = maker.program
    known: set[int] = set()
    for entry in given:
        if entry.index not in known:
            known.add(entry.index)
            yield entry
    for call in maker.calls.values():
        if call.target is not None and call.target not in known:
            known.add(call.target)
            yield Entry(call.target, _label(program.instructions[call.target]), "called")
    reached = _reached(maker, known, set())
    for instruction in program.instructions:
        if instruction.index not in reached:
            yield Entry(instruction.index, _label(instruction), "unreached")
            reached = _reached(maker, {instruction.index}, reached)


def _reached(maker: _Maker, start: set[int], seen: set[int]) -> set[int]:
    seen |= start
    work = list(start)
    while work:
        for edge in maker.edges[work.pop()]:
            if edge.target not in seen:
                seen.add(edge.target)
                work.append(edge.target)
    return seen
