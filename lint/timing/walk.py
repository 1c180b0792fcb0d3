"""Walks a routine in forward order from a state, summing cycles along every way."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final, Protocol

from ..assemble import Instruction
from ..cpu import TAKEN, Action, Cpu, Expr, Truth, accesses, cost, evaluate, run, term, varying
from ..cpu import Cost as Steps
from ..cpu.meaning import Statement
from ..cpu.notation import COUNTER
from ..cpu.symbolic import Reader, State, applied, granted, resolver, unsure
from ..cpu.term import Cell, Held, Input, Op, Slot, Term
from ..flow import Call, Edge, Graph, Item, Loop, LoopKey, Routine, stack_pointers
from .after import forgotten, joined, narrowed, over_unread_line, unknown_call, without_dead_stack
from .fact import beyond, of_both, poll_of
from .head import Shape
from .memory import page
from .polynomial import NONE, Cost, cycles, either, over_turns
from .result import Access, Context, Fact, LoopCount, Outcome, Record
from .rounds import Kept, Reads, Rounds, Solved
from .waitstate import WaitStates, asked, places, stretched
from .wayback import called, elsewhere
from .ways import Arrival, Out


class Setting(Protocol):
    """What a walk needs to know of the whole program."""

    graph: Graph
    watched: frozenset[int]
    waits: WaitStates
    stated_turns: Mapping[int, tuple[int, int]]

    def action(self, index: int) -> Action: ...

    def meaning(self, index: int) -> tuple[Statement, ...]: ...

    def callee(self, entry: int, at: State) -> Outcome: ...

    def reads(self, loop: Loop) -> Reads: ...

    def volatile(self, instruction: int, address: int) -> Term | None: ...

    def stated_values(self, instruction: int) -> Iterable[tuple[str, Term]]: ...

    def patched(self, instruction: int) -> str: ...

    def shape(self, loop: Loop, kept: Kept, read: Callable[[], Shape]) -> Shape: ...

    def name(self, index: int) -> str: ...

    def reason(self, inputs: frozenset[Input], loop: Loop) -> str: ...

    def until(self, cells: frozenset[Input], loop: Loop) -> str: ...


class Walk:
    """One routine in one context."""

    def __init__(self, setting: Setting, routine: Routine, context: Context, start: State) -> None:
        self._setting = setting
        self._graph = setting.graph
        self._program = setting.graph.program
        self._routine = routine
        self._context = context
        self._start = start
        self._rounds = Rounds(self)
        self._record = Record()
        self._called = False

    def outcome(self) -> Outcome:
        # What lies on the stack where nothing in the text calls is not known.
        self._called = self._routine.entry in called(self._graph)
        outs = self.ends()
        returns = [out for out in outs if out.kind == "return"]
        lost = [out for out in outs if out.kind == "lost"]
        total, end, reason = self._total(returns, lost)
        self._want_cost(total)
        record = self._record
        wanted = frozenset(i for i in record.wanted if _from_caller(i))
        return Outcome(
            self._context,
            total,
            reason,
            end,
            wanted,
            record.loops,
            record.facts,
            record.polls,
            frozenset(record.passed),
            frozenset(record.waited),
        )

    def ends(self) -> list[Out]:
        """Every way out of the instructions given, for a part of a routine."""
        arrival = Arrival(self._start, NONE, frozenset())
        outs, _ = self._region(self._routine.items, {self._routine.entry: arrival}, self._routine.nodes, None)
        return outs

    @property
    def facts(self) -> Mapping[int, Fact]:
        """What each instruction walked so far did."""
        return self._record.facts

    @property
    def loops(self) -> Mapping[LoopKey, LoopCount]:
        """The loops walked so far."""
        return self._record.loops

    def _total(self, returns: list[Out], lost: list[Out]) -> tuple[Cost | None, State | None, str]:
        if not returns:
            if lost:
                least = min(out.arrival.cost.least for out in lost)
                return cycles(least, None, lost[0].reason), None, lost[0].reason
            return None, None, self._why_endless()
        arrival = returns[0].arrival
        for out in returns[1:]:
            arrival = joined(arrival, out.arrival)
        total = arrival.cost
        end = arrival.state
        if lost:
            # It may come back from where nothing is known of it: with anything in the registers but the stack pointer.
            total = Cost(total.fewest, None, lost[0].reason)
            end = forgotten(end, frozenset(stack_pointers(end.cpu)), lost[0].reason)
        return total, without_dead_stack(end), ""

    def _why_endless(self) -> str:
        for key, loop in self._record.loops.items():
            if loop.never:
                return f"it does not return: {self._setting.name(key.head)} goes round for ever"
        return "it does not return"

    def _want_cost(self, total: Cost | None) -> None:
        if total is not None:
            self._record.wanted |= total.fewest.inputs
            if total.most is not None:
                self._record.wanted |= total.most.inputs

    # -- regions ---------------------------------------------------------------------------------------------

    def turn(self, loop: Loop, arrival: Arrival) -> tuple[list[Out], Arrival | None]:
        """One turn of a loop from its head."""
        return self._region(loop.items, {loop.head: arrival}, loop.nodes, loop.head)

    def leaves(self, loop: Loop) -> bool:
        """Whether any branch leads out of the loop."""
        return any(e.target not in loop.nodes for node in loop.nodes for e in self._graph.edges[node])

    def calls(self, loop: Loop) -> bool:
        """Whether a turn calls a routine."""
        return any(node in self._graph.calls for node in loop.nodes)

    def reads(self, loop: Loop) -> Reads:
        """What a turn reads first, and what it leaves alone."""
        return self._setting.reads(loop)

    def reason(self, inputs: frozenset[Input], loop: Loop) -> str:
        """What the count of a loop depends on, in words."""
        return self._setting.reason(inputs, loop)

    def until(self, cells: frozenset[Input], loop: Loop) -> str:
        """What memory a loop waits for, in words."""
        return self._setting.until(cells, loop)

    def want(self, inputs: frozenset[Input]) -> None:
        """Notes inputs that would decide a count if a caller's values were known."""
        self._record.wanted |= {i for i in inputs if not self._is_stack(i)}

    def wait(self, loop: Loop, cells: frozenset[Input]) -> None:
        """Notes that a loop ends when that memory changes."""
        self._record.waited |= {(i.origin.address, loop.key) for i in cells if isinstance(i.origin, Cell)}

    def note(self, loop: Loop) -> tuple[int, int] | None:
        """The turns a timing note states, at any line of the loop that is not in one of its inner loops."""
        stated = self._setting.stated_turns
        if not stated:
            return None
        inner = {node for item in loop.items if isinstance(item, Loop) for node in item.nodes}
        return next((stated[node] for node in sorted(loop.nodes - inner) if node in stated), None)

    def trial(self, attempt: Callable[[], Solved]) -> tuple[Solved, Record]:
        """An attempt at a loop, and the records with it; they count only once they are adopted."""
        kept, self._record = self._record, self._record.copy()
        try:
            return attempt(), self._record
        finally:
            self._record = kept

    def shape(self, loop: Loop, kept: Kept, read: Callable[[], Shape]) -> Shape:
        """How a turn changes things; it is read with records of its own, since it may have been read before."""

        def apart() -> Shape:
            before, self._record = self._record, Record()
            try:
                return read()
            finally:
                self._record = before

        return self._setting.shape(loop, kept, apart)

    def adopt(self, record: Record) -> None:
        """The records from now on."""
        self._record = record

    def _region(
        self, items: tuple[Item, ...], waiting: dict[int, Arrival], inside: frozenset[int], cut: int | None
    ) -> tuple[list[Out], Arrival | None]:
        """Every way out of the items, and what comes back to `cut`."""
        outs: list[Out] = []
        back: Arrival | None = None
        for item in items:
            for out in self._item(item, waiting):
                if out.target is None or (out.target not in inside and out.target != cut):
                    outs.append(out)
                elif out.target == cut:
                    back = joined(back, out.arrival)
                else:
                    waiting[out.target] = joined(waiting.get(out.target), out.arrival)
        return outs, back

    def _item(self, item: Item, waiting: dict[int, Arrival]) -> list[Out]:
        if isinstance(item, Loop):
            entering = {node: waiting.pop(node) for node in item.entries if node in waiting}
            return self._loop(item, entering) if entering else []
        arrival = waiting.pop(item, None)
        return self._node(item, arrival) if arrival is not None else []

    def _loop(self, loop: Loop, entering: dict[int, Arrival]) -> list[Out]:
        outs: list[Out] = []
        start = entering.pop(loop.head, None)
        if entering:
            outs, back = self._region(loop.items, entering, loop.nodes, loop.head)
            if back is not None:
                start = joined(start, back)
        if start is None:
            return outs
        solved = self._rounds.solve(loop, start.state)
        if self._rounds.recording:
            self._record_loop(loop, solved.outs, solved.trips, solved.never)
            if solved.turn is not None:
                self._settle_inner(loop, solved.turn, solved.last)
        for out in solved.outs:
            arrival = Arrival(
                out.arrival.state, start.cost + out.arrival.cost, start.guards | out.arrival.guards
            )
            outs.append(Out(out.source, out.target, out.kind, arrival, out.reason))
        return outs

    def _record_loop(self, loop: Loop, outs: list[Out], trips: Cost | None, never: object) -> None:
        total: Cost | None = None
        for out in outs:
            total = out.arrival.cost if total is None else either(total, out.arrival.cost)
        trips = trips or cycles(1, None, "it has no exit")
        if total is None:
            total = cycles(0, None, trips.reason or "it has no exit")
        for figure in (trips, total):
            self._want_cost(figure)
        before = self._record.loops.get(loop.key)
        if before is not None:
            trips, total = either(before.trips, trips), either(before.total, total)
        endless = "test" if never == "test" else "no exit" if never else ""
        self._record.loops[loop.key] = LoopCount(trips, total, endless)  # type: ignore[arg-type]

    def _settle_inner(self, loop: Loop, turn: Input, last: int | None) -> None:
        """Inner loops whose count depends on the turn of this one get the range over all its turns."""
        for key in dict.fromkeys(each.key for each in loop.inner()):
            inner = self._record.loops.get(key)
            if inner is None:
                continue
            trips, total = over_turns(inner.trips, turn, last), over_turns(inner.total, turn, last)
            self._record.loops[key] = LoopCount(trips, total, inner.never)

    # -- instructions ----------------------------------------------------------------------------------------

    def _node(self, index: int, arrival: Arrival) -> list[Out]:
        instruction = self._program.instructions[index]
        before = arrival.state
        for name, value in self._setting.stated_values(index):
            before.registers[name] = narrowed(before.get(name), value)
        action = self._setting.action(index)
        call = self._graph.calls.get(index)
        if TAKEN in action.conditions and (call is not None or index in self._graph.returns):
            return self._either_way(instruction, action, arrival)
        reader = self._run(instruction, action, before)
        edges = self._graph.edges[index]
        test = _test(reader.goes)
        ways = {way: self._steps(instruction, before, reader, way) for way in _ways(edges)}
        callee = None
        outs: list[Out] = []
        if call is not None:
            outs, callee = self._call(call, edges, before, reader.state, arrival, ways)
        elif index in self._graph.returns:
            outs = [self._back(instruction, reader, reader.state, arrival, ways["next"])]
        else:
            for edge in edges:
                outs += self._follow(edge, test, reader.state, arrival, ways[edge.way])
            if index in self._graph.lost:
                outs.append(self._lost(instruction, reader.state, arrival, ways))
        blurred = self._graph.blurred.get(index)
        if blurred is not None:
            outs = [over_unread_line(out, blurred) for out in outs]
        if self._rounds.recording:
            self._record_fact(instruction, before, reader, ways, callee)
        return outs

    def _run(
        self, instruction: Instruction, action: Action, before: State, assumed: bool | None = None
    ) -> Reader:
        index = instruction.index
        reader = Reader(
            before.copy(), lambda address, _: self._setting.volatile(index, address), assumed=assumed
        )
        with page(reader.state, action):
            run(self._setting.meaning(index), reader)
        self._unsettle(index, reader)
        return reader

    def _either_way(self, instruction: Instruction, action: Action, arrival: Arrival) -> list[Out]:
        """A conditional call or return: what it does, and straight on where its condition does not hold."""
        index, before = instruction.index, arrival.state
        call = self._graph.calls.get(index)
        condition = evaluate(action.conditions[TAKEN], Reader(before))
        readers = {way: self._run(instruction, action, before, way == "next") for way in ("next", "passed")}
        ways = {way: self._steps(instruction, before, reader, way) for way, reader in readers.items()}
        decided = term.decided(condition)
        outs: list[Out] = []
        callee = None
        for way, guard, holds in (("next", condition, True), ("passed", term.negate_truth(condition), False)):
            if decided is not None and decided is not holds:
                continue
            reader = readers[way]
            guards = arrival.guards | ({guard} if decided is None else set())
            state = granted(reader.state, guard) if decided is None else reader.state
            edges = tuple(e for e in self._graph.edges[index] if e.way == way)
            ahead = Arrival(before, arrival.cost, guards)
            if way == "next" and call is not None:
                found, callee = self._call(call, edges, before, state, ahead, ways)
                outs += found
            elif way == "next":
                outs.append(self._back(instruction, reader, state, ahead, ways["next"]))
            else:
                outs += [self._out(index, e.target, "edge", state, ahead, ways["passed"]) for e in edges]
            if self._rounds.recording:
                self._record_fact(instruction, before, reader, ways, callee)
                for edge in edges if decided is None and call is None else ():
                    self._note_poll(edge, guard)
        return outs

    def _open(self, instruction: Instruction, action: Action) -> frozenset[str]:
        """The conditions nobody can tell because the source does not say where the instruction lies."""
        if instruction.placed and instruction.certain:
            return frozenset()
        return varying(self._program.cpu, action, self._program.moving(instruction))

    def _unsettle(self, index: int, reader: Reader) -> None:
        """What an instruction loads is not known where the program writes into the instruction."""
        patched = self._setting.patched(index)
        if not patched:
            return
        for name in self._setting.action(index).used.writes - {COUNTER}:
            reader.state.registers[name] = unsure(patched, 0, (1 << reader.state.width(name)) - 1)

    def _follow(
        self, edge: Edge, test: Term | bool | None, state: State, arrival: Arrival, steps: Steps
    ) -> list[Out]:
        if edge.way not in ("taken", "passed") or test is None:
            return [self._out(edge.source, edge.target, "edge", state.copy(), arrival, steps)]
        if isinstance(test, bool):
            if test != (edge.way == "taken"):
                return []
            return [self._out(edge.source, edge.target, "edge", state.copy(), arrival, steps)]
        guard = test if edge.way == "taken" else term.negate_truth(test)
        if self._rounds.recording:
            self._note_poll(edge, guard)
        out = self._out(edge.source, edge.target, "edge", granted(state, guard), arrival, steps)
        out.arrival.guards |= {guard}
        return [out]

    def _out(
        self, index: int, target: int | None, kind: str, state: State, arrival: Arrival, steps: Steps
    ) -> Out:
        if target is not None and self._rounds.recording:
            self._record.passed.add((index, target))
        spent = arrival.cost + cycles(steps.fewest, steps.most, "" if steps.most is not None else _WAITS)
        return Out(index, target, kind, Arrival(state, spent, arrival.guards))  # type: ignore[arg-type]

    def _back(
        self, instruction: Instruction, reader: Reader, state: State, arrival: Arrival, steps: Steps
    ) -> Out:
        out = self._out(instruction.index, None, "return", state, arrival, steps)
        if not self._called or not elsewhere(reader.goes, reader.state):
            return out
        reason = f"line {instruction.origin.line} returns to what was put on the stack, not to its caller"
        return Out(out.source, None, "lost", out.arrival, reason)

    def _lost(
        self, instruction: Instruction, state: State, arrival: Arrival, ways: Mapping[str, Steps]
    ) -> Out:
        steps = next(iter(ways.values()))
        reason = f"line {instruction.origin.line} {self._graph.lost[instruction.index]}"
        out = self._out(instruction.index, None, "lost", state, arrival, steps)
        return Out(out.source, None, "lost", out.arrival, reason)

    # -- calls -----------------------------------------------------------------------------------------------

    def _call(
        self,
        call: Call,
        edges: tuple[Edge, ...],
        before: State,
        state: State,
        arrival: Arrival,
        ways: Mapping[str, Steps],
    ) -> tuple[list[Out], Context | None]:
        steps = next(iter(ways.values()))
        spent = arrival.cost + cycles(steps.fewest, steps.most)
        if call.target is None:
            reason = f"line {self._program.instructions[call.source].origin.line} {call.reason}"
            after = unknown_call(before, state, reason)
            end = Arrival(after, Cost(spent.fewest, None, reason), arrival.guards)
            return [self._beyond(call, edges, end)], None
        outcome = self._setting.callee(call.target, state)
        replace = resolver(0, state)
        self._record.wanted |= _resolved(outcome.wanted, replace)
        if outcome.cost is None:
            return [], outcome.context
        total = spent + outcome.cost.substituted(replace)
        if outcome.end is None:
            reason = f"{self._setting.name(call.target)}: {outcome.reason}"
            end = Arrival(
                unknown_call(before, state, reason), Cost(total.fewest, None, reason), arrival.guards
            )
        else:
            after = applied(outcome.end, 0, state)
            end = Arrival(after, total, arrival.guards)
        return [self._beyond(call, edges, end)], outcome.context

    def _beyond(self, call: Call, edges: tuple[Edge, ...], end: Arrival) -> Out:
        if call.tail:
            return Out(call.source, None, "return", end)
        if not edges:
            line = self._program.instructions[call.source].origin.line
            return Out(call.source, None, "lost", end, f"line {line} {self._graph.lost[call.source]}")
        return Out(call.source, edges[0].target, "edge", end)

    # -- records ---------------------------------------------------------------------------------------------

    def _record_fact(
        self,
        instruction: Instruction,
        before: State,
        reader: Reader,
        ways: Mapping[str, Steps],
        callee: Context | None,
    ) -> None:
        found = tuple(self._accesses(instruction, before, reader))
        masked = {flag: term.decided(reader.state.get(flag)) for flag in _masks(self._program.cpu)}
        unread = instruction.index in self._graph.blurred
        spans = {way: (steps.fewest, None if unread else steps.most) for way, steps in ways.items()}
        reads, writes = (
            frozenset(
                before.beside(touch.address, i)
                for touch in reader.touches
                for i in range(touch.size)
                if touch.way == way
            )
            for way in ("read", "write")
        )
        fact = Fact(spans, found, callee, masked, reads, writes)
        earlier = self._record.facts.get(instruction.index)
        self._record.facts[instruction.index] = fact if earlier is None else of_both(earlier, fact)

    def _accesses(self, instruction: Instruction, before: State, reader: Reader) -> Iterable[Access]:
        watched = self._setting.watched
        if not watched or not reader.touches:
            return
        byte_touches = [
            (touch.way, before.beside(touch.address, i), touch, i)
            for touch in reader.touches
            for i in range(touch.size)
        ]
        action, truth = self._on_the_bus(instruction, before, reader, "next")
        placed = [a for a in accesses(action, truth) if a.kind != "dummy"]
        for (way, address, touch, i), place in zip(byte_touches, placed, strict=False):
            if address.value is None:
                self._record.wanted |= {i for i in term.inputs([address]) if not self._is_stack(i)}
            elif address.value in watched:
                shift = 8 * (touch.size - 1 - i) if reader.state.cpu.endian == "big" else 8 * i
                value = term.bits(touch.value, shift + 7, shift)
                if way == "write" and value.value is None:
                    self._record.wanted |= term.inputs([value])
                values = frozenset({value.value}) if value.value is not None else None
                last = place.first if place.last is None else place.last
                more = beyond(touch.value) if way == "write" and values is None and touch.size == 2 else None
                byte = None if more is None else more >> shift & 0xFF
                yield Access(instruction.index, way, address.value, place.first, last, values, byte)

    def _steps(self, instruction: Instruction, before: State, reader: Reader, way: str) -> Steps:
        def count(expr: Expr) -> int | None:
            return evaluate(expr, Reader(before)).value

        action, truth = self._on_the_bus(instruction, before, reader, way)
        return cost(action, truth, count)

    def _on_the_bus(
        self, instruction: Instruction, before: State, reader: Reader, way: str
    ) -> tuple[Action, Truth]:
        """An instruction with the wait states of its accesses, and what its steps ask in the state before it."""
        action = self._setting.action(instruction.index)
        truth = _truth(action, before, way, self._open(instruction, action))
        waits = self._setting.waits
        if not waits.any:
            return action, truth
        target = evaluate(action.target, Reader(before)) if action.target is not None else None
        code = range(instruction.address, instruction.end)
        surely = instruction.placed and instruction.certain
        lies = places(code, reader.touches, action.flow, target, before, surely)
        return stretched(action, lies, waits, truth), asked(truth)

    def _is_stack(self, given: Input) -> bool:
        return isinstance(given.origin, Held) and given.origin.name in stack_pointers(self._program.cpu)

    def _note_poll(self, edge: Edge, guard: Term) -> None:
        poll = poll_of(guard)
        if poll is not None:
            self._record.polls[edge.source, edge.target] = poll


_WAITS: Final = "it waits for an interrupt"


def _truth(action: Action, before: State, way: str, unknown: frozenset[str]) -> Truth:
    """Answers the guards of an instruction's steps in the state before it, when it goes on that way."""

    def truth(name: str) -> bool | None:
        if name == TAKEN and (way in ("taken", "passed") or action.flow in ("call", "return")):
            return way != "passed"
        if name in unknown:
            return None
        if name not in action.conditions:
            return term.decided(evaluate(before.cpu.conditions[name], Reader(before)))
        return term.decided(evaluate(action.conditions[name], Reader(before)))

    return truth


def _masks(cpu: Cpu) -> frozenset[str]:
    return frozenset(i.mask.name for i in cpu.interrupts.values() if i.mask is not None)


def _ways(edges: tuple[Edge, ...]) -> list[str]:
    return [edge.way for edge in edges] or ["next"]


def _test(goes: Term | None) -> Term | bool | None:
    """The branch condition in what was written to the program counter: a truth value, or decided."""
    if goes is None:
        return False
    made = goes.atom
    if isinstance(made, Op) and made.name == "choose":
        return made.args[0]
    return True if goes.value is not None else None


def _resolved(wanted: frozenset[Input], replace: term.Replace) -> frozenset[Input]:
    found = (replace(i) for i in wanted)
    return term.inputs(value for value in found if value is not None)


def _from_caller(given: Input) -> bool:
    match given.origin:
        case Held(scope=0) | Cell(scope=0):
            return True
        case Slot(scope=0, address=address):
            return not address.parts or len(address.parts) == 1
    return False
