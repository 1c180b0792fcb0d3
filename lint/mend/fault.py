"""What the edited text has that the given one had not: a reason not to make the edit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from ..chain import Chain
from ..errors import Place
from ..flow import Graph
from .misled import misled
from .padding import Padding


def new_problem(before: Chain, after: Chain, paddings: Sequence[Padding]) -> str:
    """What the edited text has that the given one had not: a branch out of reach, code over code, another way to go.

    `paddings` are the instructions that the edited text has more.
    """
    known = Counter(message for _, message in _problems(before))
    for place, message in _problems(after):
        known[message] -= 1
        if known[message] < 0:
            return f"the edited text would not do: {place}: {message}"
    if _overlaps(after) > _overlaps(before):
        return "the code would grow over what stands behind it"
    return _astray(before, after, paddings)


def out_of_reach(before: Chain, after: Chain, paddings: Sequence[Padding]) -> Iterator[int]:
    """The instructions before the edit whose target is too far away behind it."""
    places = Places(len(before.program.instructions), paddings)
    if len(after.program.instructions) != places.count:
        return
    for index, instruction in enumerate(before.program.instructions):
        there = after.program.instructions[places.own[index]]
        if there.mnemonic == instruction.mnemonic:
            for was, will in zip(instruction.operands, there.operands, strict=False):
                if was.value is not None and will.value is None:
                    yield index


class Places:
    """Where instructions stand in the edited text, by where they stood.

    `heads` are where their labels are, `own` the instructions themselves, `new` those that were put in.
    """

    def __init__(self, count: int, paddings: Sequence[Padding]) -> None:
        before, behind = Counter[int](), Counter[int]()
        for padding in paddings:
            (before if padding.before else behind)[padding.behind] += len(padding.fillers)
        self.heads: list[int] = []
        self.own: list[int] = []
        self.new: set[int] = set()
        at = 0
        for index in range(count):
            self.heads.append(at)
            self.new |= set(range(at, at + before[index]))
            at += before[index]
            self.own.append(at)
            self.new |= set(range(at + 1, at + 1 + behind[index]))
            at += 1 + behind[index]
        self.count = at


def _problems(chain: Chain) -> Iterator[tuple[Place, str]]:
    for problem in chain.program.problems:
        yield problem.place, problem.message
    for opaque in chain.program.opaque:
        yield opaque.origin.place, opaque.cause


def _overlaps(chain: Chain) -> int:
    """Bytes that two instructions, or an instruction and data, both claim."""
    program = chain.program
    claimed: set[int] = set(program.data)
    twice = 0
    for instruction in program.instructions:
        for address in range(instruction.address, instruction.end):
            twice += address in claimed
            claimed.add(address)
    return twice


def _astray(before: Chain, after: Chain, paddings: Sequence[Padding]) -> str:
    """An instruction that would go or reach elsewhere: what it says is written as a number, or counted from its own."""
    places = Places(len(before.program.instructions), paddings)
    if len(after.program.instructions) != places.count:
        return "the edited text would not have the instructions that were put in"
    for index, instruction in enumerate(before.program.instructions):
        goals = {places.heads[goal] for goal in _goals(before.graph, index)}
        found = _goals(after.graph, places.own[index])
        if found != goals and not _same_ways(after.graph, found, goals, places.new - goals):
            line = instruction.origin.text_place.line
            return f"{instruction.mnemonic} in line {line} would go elsewhere: its target does not move with the code"
    return misled(before.program, after.program, places.heads, places.own)


def _same_ways(graph: Graph, found: frozenset[int], goals: set[int], new: set[int]) -> bool:
    """Whether control comes to the same old instructions next; a branch back put in may lead to others as well."""
    return _reached(graph, found, new, all_ways=False) <= goals <= _reached(graph, found, new, all_ways=True)


def _goals(graph: Graph, index: int) -> frozenset[int]:
    """Where control goes from an instruction, and what it calls."""
    call = graph.calls.get(index)
    called = () if call is None or call.target is None else (call.target,)
    return frozenset((*(edge.target for edge in graph.edges[index]), *called))


def _reached(graph: Graph, first: frozenset[int], new: set[int], all_ways: bool) -> set[int]:
    """The old instructions that come next, past those that are new; back from a new branch only with `all_ways`."""
    found, seen, waiting = set[int](), set[int](), list(first)
    while waiting:
        node = waiting.pop()
        if node not in new:
            found.add(node)
        elif node not in seen:
            seen.add(node)
            waiting += [edge.target for edge in graph.edges[node] if all_ways or edge.way != "taken"]
            call = graph.calls.get(node)
            waiting += [call.target] if call is not None and call.target is not None else []
    return found
