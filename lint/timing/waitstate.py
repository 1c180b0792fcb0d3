"""Wait states: how many cycles more each bus access of an instruction takes, by the address it goes to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from ..cpu import Action, Cpu, Guard, Interrupt, Kind, Repeated, Step, Truth
from ..cpu.symbolic import State, Touch
from ..cpu.term import Held, Term, inputs
from ..flow import stack_pointers

Span = tuple[int, int]  # lowest and highest, both included

_WAITED: Final = "waited"
_Stepped = TypeVar("_Stepped", Action, Interrupt)


@dataclass(frozen=True, slots=True)
class Region:
    """Addresses `first` to `last` with the same wait cycles for each access; `stack`: a stack may lie in it.

    What is no `stack` region is ROM or a part.
    """

    first: int
    last: int
    cycles: int
    stack: bool = True


@dataclass(frozen=True, slots=True)
class WaitStates:
    """Wait cycles by address: the first region that holds it counts, elsewhere there are none."""

    regions: tuple[Region, ...] = ()

    @property
    def any(self) -> bool:
        """Whether there are any at all."""
        return any(region.cycles for region in self.regions)

    def at(self, address: int) -> int:
        """The wait cycles of one access of that address."""
        found = self._region(address)
        return found.cycles if found else 0

    def within(self, spans: Iterable[Span]) -> Span:
        """The fewest and most wait cycles over all addresses of the spans, of which there is at least one."""
        found = {self.at(address) for span in spans for address in self._edges(span)}
        return min(found), max(found)

    def of_stack(self, span: Span) -> Span:
        """The same over the addresses in which a stack may lie: in RAM, or where nothing is stated in what is left."""
        regions = [self._region(address) for address in self._edges(span)]
        found = {region.cycles for region in regions if region and region.stack}
        if not found and None in regions:
            found = {0}
        return (min(found), max(found)) if found else self.within([span])

    def _region(self, address: int) -> Region | None:
        return next((each for each in self.regions if each.first <= address <= each.last), None)

    def _edges(self, span: Span) -> Iterator[int]:
        """Addresses of which each stands for all up to the next, which have the same waits."""
        low, high = span
        yield low
        for region in self.regions:
            for edge in (region.first, region.last + 1):
                if low < edge <= high:
                    yield edge


NONE: Final = WaitStates()


@dataclass(frozen=True, slots=True)
class Touched:
    """One byte read or written: where that may be, and whether a stack pointer says where."""

    way: str
    span: Span
    by_stack: bool


@dataclass(frozen=True, slots=True)
class Places:
    """Where the bus accesses of one instruction go.

    `code` is where its bytes lie: one address each, or the whole memory where the source does not say. `touched` are
    its data accesses in bus order, `target` where it leads if it does not go straight on. `memory` is all there is.
    """

    code: tuple[Span, ...]
    touched: Sequence[Touched]
    target: Span | None
    calls: bool
    memory: Span


def places(
    code: Sequence[int], touches: Iterable[Touch], flow: str, target: Term | None, before: State, surely: bool
) -> Places:
    """The places of an instruction in the state before it; not `surely`: nobody knows where its bytes lie."""
    cpu = before.cpu
    memory = (0, (1 << cpu.address_bits) - 1)
    touched = [
        Touched(touch.way, address.bounds, _by_stack(address, cpu))
        for touch in touches
        for i in range(touch.size)
        for address in (before.beside(touch.address, i),)
    ]
    lies = (
        tuple((address & memory[1], address & memory[1]) for address in code)
        if surely
        else (memory,) * len(code)
    )
    leads = target.bounds if target is not None else memory if flow != "next" else None
    return Places(lies or (memory,), touched, leads, flow == "call", memory)


def _by_stack(address: Term, cpu: Cpu) -> bool:
    names = (given.origin.name for given in inputs([address]) if isinstance(given.origin, Held))
    return not stack_pointers(cpu).isdisjoint(names)


def stretched(action: _Stepped, places: Places, waits: WaitStates, truth: Truth) -> _Stepped:
    """The instruction with a step more before each access for every cycle the access has to wait.

    Where it is not known whether it waits the step comes under a condition that nobody knows: see `asked`. An access
    that can't be told from the others may be any of them.
    """
    return replace(action, steps=tuple(_Stretcher(places, waits, truth).steps(action.steps)))


def asked(truth: Truth) -> Truth:
    """`truth` for a stretched instruction."""
    return lambda name: None if name == _WAITED else truth(name)


class _Stretcher:
    def __init__(self, places: Places, waits: WaitStates, truth: Truth) -> None:
        self.places = places
        self.waits = waits
        self.truth = truth
        self.fetched = 0
        self.coming = list(places.touched)
        # From a step on of which nobody knows whether it comes, accesses can't be told apart.
        self.sure = True

    def steps(self, steps: Iterable[Step | Repeated]) -> Iterator[Step | Repeated]:
        for number, step in enumerate(steps):
            comes = self._comes(step.guards)
            if comes is False:
                yield step
            elif isinstance(step, Step):
                self.sure = self.sure and (comes is True or step.kind is Kind.IDLE)
                low, high = self._wait(step, number)
                yield from (Step(Kind.STRETCH, guards=step.guards) for _ in range(low))
                maybe = (*step.guards, Guard(_WAITED))
                yield from (Step(Kind.STRETCH, guards=maybe) for _ in range(high - low))
                yield step
            else:
                yield from self._group(step)

    def _group(self, group: Repeated) -> Iterator[Repeated]:
        """A group that comes any number of times: its accesses move on from turn to turn."""
        self.sure = False
        spans = [self._wait(step, -1) for step in group.steps]
        low, high = sum(low for low, _ in spans), sum(high for _, high in spans)
        if high > low:
            more = (Step(Kind.STRETCH),) * (high - low)
            yield Repeated(more, group.count, group.high, (*group.guards, Guard(_WAITED)))
        yield replace(group, steps=(*(Step(Kind.STRETCH) for _ in range(low)), *group.steps))

    def _comes(self, guards: tuple[Guard, ...]) -> bool | None:
        found = [self.truth(guard.name) for guard in guards]
        if any(known is not None and known is not g.wanted for known, g in zip(found, guards, strict=True)):
            return False
        return None if None in found else True

    def _wait(self, step: Step, number: int) -> Span:
        match step.kind:
            case Kind.FETCH:
                code = self.places.code
                self.fetched += 1
                return self.waits.within([code[(self.fetched - 1) % len(code)]])
            case Kind.READ | Kind.WRITE:
                return self._data("read" if step.kind is Kind.READ else "write")
            case Kind.DUMMY:
                return self._unwanted(number)
            case _:
                return 0, 0

    def _data(self, way: str) -> Span:
        self.sure = self.sure and bool(self.coming) and self.coming[0].way == way
        if self.sure:
            return self._of(self.coming.pop(0))
        found = [self._of(touched) for touched in self.places.touched]
        found = found or [self.waits.within([self.places.memory])]
        return min(low for low, _ in found), max(high for _, high in found)

    def _of(self, touched: Touched) -> Span:
        return self.waits.of_stack(touched.span) if touched.by_stack else self.waits.within([touched.span])

    def _unwanted(self, number: int) -> Span:
        """A read whose value nobody wants: of the next byte, the target, or near what the instruction touches.

        The second cycle of an instruction of one byte reads the byte behind it; a call all of whose bytes are fetched
        reads at its target. Source: the cycle-by-cycle tables of the makers' manuals, from memory.
        """
        (low, high) = self.places.code[-1]
        if self.places.calls and self.places.target and self.fetched == len(self.places.code):
            return self.waits.within([self.places.target])
        behind = (low, min(high + 1, self.places.memory[1]))
        if number == 1 and len(self.places.code) == 1:
            return self.waits.within([(behind[1], behind[1]) if low == high else behind])
        spans = [behind, *(_around(touched.span) for touched in self.places.touched if not touched.by_stack)]
        if self.places.target is not None:
            spans.append(self.places.target)
        found = [self.waits.within(spans)]
        found += [self._of(touched) for touched in self.places.touched if touched.by_stack]
        return min(low for low, _ in found), max(high for _, high in found)


def _around(span: Span) -> Span:
    """The page of what is touched and the one before, where an address is read whose carry is still missing."""
    low, high = span
    return max((low & ~0xFF) - 0x100, 0), high | 0xFF
