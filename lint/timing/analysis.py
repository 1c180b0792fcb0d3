"""Counts the routines of a program, each once per set of values its callers are known to hand over."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from copy import copy
from dataclasses import replace
from typing import Final

from ..address import is_port
from ..assemble import Program
from ..cpu import Action, term
from ..cpu.meaning import Statement, kept, registers
from ..cpu.symbolic import State, serial, unsure
from ..cpu.term import Cell, Held, Input, Seen, Term
from ..flow import FirstReads, Graph, Loop, Routine, liveness, routine
from ..source import Runs, With
from . import wording
from .handler import Handler
from .head import Shape
from .lasting import lasting
from .memory import (
    Stores,
    device_like,
    patched_through_pointers,
    read_elsewhere,
    stores,
    through_pointers,
)
from .mode import modes
from .node import nodes
from .onchip import on_chip
from .polynomial import Cost, cycles
from .refresh import Between, between
from .remembered import NOTHING, Asked, Byte, Former, Generation, Part, Remembered, Told, ToldPart, Wording
from .result import Context, Known, Outcome, Total
from .rounds import Kept, Reads
from .waitstate import NONE, WaitStates
from .walk import Walk
from .wayback import called
from .ways import Out

# A routine called with more different sets of known values than this is counted once for all the rest.
_MOST_CONTEXTS: Final = 24


class Analysis:
    """The outcomes of one program.

    `watched` are addresses whose accesses are wanted and which don't keep what is written to them. `handlers` are
    those of interrupts: they begin with what the interrupt stacked. `waits` are the board's wait states, `memory` its
    stretches of memory. `changing` are addresses that hold another value by themselves: what is read there is not what
    was stored; `on_chip` are those of them that belong to the processor's own chip. `remembered` is what earlier counts
    of the program left.
    """

    def __init__(
        self,
        graph: Graph,
        watched: frozenset[int] = frozenset(),
        handlers: Iterable[Handler] = (),
        waits: WaitStates = NONE,
        memory: Iterable[range] = (),
        remembered: Remembered | None = None,
    ) -> None:
        self.graph = graph
        self.watched = watched
        self.waits = waits
        self._program = graph.program
        self._replaced: Mapping[int, Action] = {}
        self._outcomes: dict[Context, Outcome] = {}
        self._routines: dict[int, Routine] = {}
        self._contexts: dict[int, int] = {}
        self._first_reads = FirstReads(graph)
        self._loop_reads: dict[Loop, Reads] = {}
        self._shapes: dict[tuple[Loop, Kept], tuple[Shape, Asked]] = {}
        self._running: list[int] = []
        self._asking = [Asked()]
        self._told: dict[Context, list[Told]] = {}
        self._parts: dict[Part, ToldPart] = {}
        self._remembered = remembered
        self._former: Former = NOTHING
        self.handlers = tuple(handlers)
        self._stores: Stores = stores(graph, (handler.entry for handler in self.handlers))
        self.stated_turns: Mapping[int, tuple[int, int]] = _stated_turns(graph)
        self._values = _stated_values(graph.program)
        self._lasting: Mapping[str, int] = lasting(graph, self.handlers)
        # What the registers that decide on cycles hold everywhere but in the reset routine.
        self.modes: Mapping[str, int] = modes(graph)
        begun = self._program.cpu.initial.items() & self.modes.items()
        self._refreshes = between(self._program.cpu, self.modes), between(self._program.cpu, dict(begun))
        self._memory = tuple(memory)
        self.on_chip = on_chip(graph, self.modes, self._memory)
        self.changing = device_like(graph.program) | self.on_chip
        self._live = liveness(graph)
        self._followed = _followed(graph.program)
        self._meanings: dict[int, tuple[Statement, ...]] = {}
        self._kept: dict[Hashable, tuple[int, ...]] = {}
        self._reset = {e.index for e in graph.entries if e.kind in ("reset", "start")}
        if remembered is not None:
            self._nodes = nodes(graph, self._idle)
            self._former = remembered.beside(self._whole(), self._nodes)

    def replacing(self, actions: Mapping[int, Action]) -> Analysis:
        """The same program with some instructions counted as if they were others."""
        made = copy(self)
        made._replaced = {**self._replaced, **actions}
        made._outcomes, made._contexts, made._running, made._shapes, made._meanings = {}, {}, [], {}, {}
        made._asking, made._former, made._parts = [Asked()], NOTHING, {}
        return made

    def fragment(self, part: Routine) -> Walk:
        """A walk over a part of a routine, from a state of which nothing but the start mode is known."""
        context = Context(part.entry)
        return Walk(self, part, context, self._start(context))

    def ends(self, part: Routine) -> tuple[Out, ...]:
        """Every way out of a part of a routine, entered like a `fragment`."""
        key, start = (part.entry, part.nodes), self._begins(part)
        for told in self._former.parts(key):
            if told.start == start and self._still(told.asked):
                break
        else:
            self._asking.append(Asked())
            outs = tuple(self.fragment(part).ends())
            told = ToldPart(outs, start, self._asking.pop())
        self._parts[key] = told
        return told.outs

    def between(self, entry: int) -> Between:
        """What comes between the cycles of a routine. That of the reset may set it: it has what it begins with, too."""
        return self._refreshes[entry in self._reset]

    def total(self, cost: Cost, entry: int) -> Total:
        """Cycles of a part of a routine with those that come between."""
        return self.between(entry).total(wording.total(cost, self.graph))

    # -- what a walk asks ------------------------------------------------------------------------------------

    def action(self, index: int) -> Action:
        return self._replaced.get(index) or self._program.instructions[index].action

    def meaning(self, index: int) -> tuple[Statement, ...]:
        """What an instruction does, without the flags it sets that nothing reads before they are set again."""
        found = self._meanings.get(index)
        if found is None:
            action = self.action(index)
            # What is left out of a meaning is the same for all alike.
            key = action.alike, self._live.after[index]
            places = self._kept.get(key)
            if places is None:
                places = self._kept[key] = kept(action.meaning, self._idle(index))
            found = self._meanings[index] = tuple(action.meaning[place] for place in places)
        return found

    def _idle(self, index: int) -> frozenset[str]:
        """The flags that nothing reads behind an instruction before they are set again."""
        return frozenset(self._program.cpu.flags) - self._followed - self._live.after[index]

    def callee(self, entry: int, at: State) -> Outcome:
        """The outcome of a call with that state, counted for the values in it that are known and matter."""
        general = self.outcome(Context(entry))
        known = frozenset(_known(general.wanted, at))
        found = self._with(general, known)
        self._asking[-1].calls[entry, known] = general, found
        return found

    def _with(self, general: Outcome, known: Known) -> Outcome:
        """The outcome for known values, as long as there are not too many of them."""
        if not known:
            return general
        context = Context(general.context.entry, known)
        if context not in self._outcomes:
            entry = context.entry
            self._contexts[entry] = self._contexts.get(entry, 0) + 1
            if self._contexts[entry] > _MOST_CONTEXTS:
                return general
        return self.outcome(context)

    def reads(self, loop: Loop) -> Reads:
        """What a turn of the loop reads first, and what it leaves alone."""
        found = self._reads(loop)
        # Without a call it rests on the instructions alone.
        if any(node in self.graph.calls for node in loop.nodes):
            self._asking[-1].reads[loop] = found
        return found

    def _reads(self, loop: Loop) -> Reads:
        found = self._loop_reads.get(loop)
        if found is None:
            first = self._first_reads
            found = Reads(first.exposed(loop.head, loop.nodes), first.untouched(loop.nodes))
            self._loop_reads[loop] = found
        return found

    def volatile(self, instruction: int, address: int) -> Term | None:
        """The value of a byte that does not come from what the routine itself stored there."""
        found = self._asking[-1].memory[address] = self._byte(address)
        match found:
            case None:
                return None
            case int():
                return term.number(found)
            case "":
                return term.atom(Input(Seen(instruction, address, serial()), 0, 255))
            case reason:
                return unsure(reason, 0, 255)

    def _byte(self, address: int) -> Byte:
        if address in self.watched or address in self.changing or is_port(address):
            return ""
        if address in self._stores.by_handlers:
            return f"{self._program.shown(address)} is also written by an interrupt handler"
        if address in self._program.data and address not in self._stores.written:
            return self._program.data[address]
        return None

    def is_memory(self, address: int) -> bool:
        """Whether reading there is known, or taken, to do nothing: the zero page, what the source or the board says,
        and what the program stores to by name."""
        if is_port(address) or address in self.watched or address in self.changing:
            return False
        stated = any(address in stretch for stretch in self._memory)
        return address < 0x100 or stated or address in self._stores.written or self._program.owns(address)

    def shape(self, loop: Loop, kept: Kept, read: Callable[[], Shape]) -> Shape:
        """What `read` makes of a turn of the loop; it is read once, and asks for whoever needs it."""
        found = self._shapes.get((loop, kept))
        if found is None:
            self._asking.append(Asked())
            try:
                shape = read()
            finally:
                asked = self._asking.pop()
            found = self._shapes[loop, kept] = shape, asked
        self._asking[-1].add(found[1])
        return found[0]

    def name(self, index: int) -> str:
        """The author's name for an instruction."""
        found = self._asking[-1].names[index] = self.graph.name(index)
        return found

    def stated_values(self, instruction: int) -> Iterable[tuple[str, Term]]:
        """What a timing note says registers hold before an instruction."""
        return self._values.get(instruction, ())

    def patched(self, instruction: int) -> str:
        """The reason why an instruction may not be the one in the text, or an empty text."""
        line = self._stores.patched.get(instruction)
        if line is not None:
            return f"line {line} writes into this instruction"
        name = self.graph.missing.get(instruction)
        return f"{name} has no known value" if name is not None else ""

    def reason(self, inputs: frozenset[Input], loop: Loop) -> str:
        return self._worded(("reason", inputs, loop))

    def until(self, cells: frozenset[Input], loop: Loop) -> str:
        return self._worded(("until", cells, loop))

    def _worded(self, asked: Wording) -> str:
        found = self._asking[-1].words[asked] = self._words(asked)
        return found

    def _words(self, asked: Wording) -> str:
        what, inputs, loop = asked
        said = wording.reason if what == "reason" else wording.until
        return said(inputs, self.graph, self._stores.written, loop)

    # -- results ---------------------------------------------------------------------------------------------

    def routine(self, entry: int) -> Routine:
        if entry not in self._routines:
            self._routines[entry] = self._former.routine(entry) or routine(self.graph, entry)
        return self._routines[entry]

    def outcome(self, context: Context) -> Outcome:
        """The routine from its entry to its return, in that context."""
        found = self._outcomes.get(context)
        if found is not None:
            return found
        if context.entry in self._running:
            return _recursive(self.graph, context)
        self._running.append(context.entry)
        try:
            told = self._told_before(context) or self._walked(context)
        finally:
            self._running.pop()
        if self._remembered is not None:
            self._told.setdefault(context, []).append(told)
        self._outcomes[context] = told.outcome
        return told.outcome

    def _walked(self, context: Context) -> Told:
        self._asking.append(Asked())
        try:
            found = Walk(self, self.routine(context.entry), context, self._start(context)).outcome()
        finally:
            asked = self._asking.pop()
        return Told(found, self._begins(self.routine(context.entry)), asked)

    def _told_before(self, context: Context) -> Told | None:
        """What an earlier count found, where everything that was asked for it has the same answer."""
        part = self.routine(context.entry)
        for told in self._former.told(context, part):
            if told.start == self._begins(part) and self._still(told.asked):
                return told
        return None

    def _still(self, asked: Asked) -> bool:
        return (
            all(self._byte(address) == found for address, found in asked.memory.items())
            and all(self.graph.name(index) == found for index, found in asked.names.items())
            and all(self._reads(loop) == found for loop, found in asked.reads.items())
            and all(self._words(words) == found for words, found in asked.words.items())
            # In the order of the walk: which sets of values are counted by themselves hangs on it.
            and all(
                self.outcome(Context(entry)) is general and self._with(general, known) is found
                for (entry, known), (general, found) in asked.calls.items()
            )
        )

    def remember(self) -> None:
        """Leaves what was counted for the next count of the program, where one is to come."""
        if self._remembered is not None:
            self._remembered.keep(
                Generation(self._whole(), self._nodes, self._routines, self._told, self._parts)
            )

    def _whole(self) -> object:
        """What every walk rests on."""
        return self._program.cpu, self.watched, self.waits, self.modes, self._followed

    def _begins(self, part: Routine) -> object:
        """What the state at the start of a routine is made from, who calls it, and what stores into it."""
        entry, patched = part.entry, self._stores.patched
        entered = tuple(handler.interrupt for handler in self.handlers if handler.entry == entry)
        lasting_ = self._lasting if entered else {}
        stored = frozenset((node, patched[node]) for node in patched.keys() & part.nodes)
        return entry in self._reset, entered, lasting_, entry in called(self.graph), stored

    def learn(self) -> bool:
        """Takes up what only counting shows; True where something counted so far rests on the opposite.

        That is data and code taken for constant that stores through pointers hit, and memory that some loop waits for
        and that was read elsewhere as what the program stored there. Then everything counted so far is forgotten.
        """
        facts = [each for o in self._outcomes.values() for each in o.facts.items()]
        writes = dict.fromkeys((index, address) for index, fact in facts for address in fact.writes)
        stored = through_pointers(self._program, {address for _, address in writes}) - self._stores.written
        patched = patched_through_pointers(self.graph, writes)
        waited = {each for o in self._outcomes.values() for each in o.waited}
        changing = read_elsewhere(self._program, waited) - self.changing - self.watched
        if not stored and not changing and patched.keys() <= self._stores.patched.keys():
            return False
        self._stores = replace(
            self._stores,
            written=self._stores.written | stored,
            patched={**patched, **self._stores.patched},
        )
        self.changing |= changing
        self._outcomes, self._contexts, self._shapes = {}, {}, {}
        return True

    def outcomes(self) -> Mapping[Context, Outcome]:
        """All that has been counted so far."""
        return self._outcomes

    def _start(self, context: Context) -> State:
        state = State(self._program.cpu, 0)
        start = self._program.cpu.initial if context.entry in self._reset else self.modes
        for name, value in start.items():
            state.registers[name] = term.number(value)
        for given, value in context.known:
            match given.origin:
                case Held(name=name):
                    state.registers[name] = term.number(value)
                case Cell(address=address):
                    state.memory[term.number(address)] = term.number(value)
                case _:
                    pass
        entered = [handler for handler in self.handlers if handler.entry == context.entry]
        if entered:
            state.registers.update({name: term.number(value) for name, value in self._lasting.items()})
        if len(entered) == 1:
            entered[0].enter(state)
        return state


def _known(wanted: frozenset[Input], at: State) -> Iterator[tuple[Input, int]]:
    for given in wanted:
        match given.origin:
            case Held(name=name):
                value = at.get(name).value
            case Cell(address=address):
                value = at.byte(term.number(address)).value
            case _:
                value = None
        if value is not None:
            yield given, value


def _recursive(graph: Graph, context: Context) -> Outcome:
    reason = f"{graph.name(context.entry)} calls itself"
    return Outcome(
        context,
        cycles(0, None, reason),
        reason,
        None,
        frozenset(),
        {},
        {},
        {},
        frozenset(),
        frozenset(),
    )


def _stated_turns(graph: Graph) -> dict[int, tuple[int, int]]:
    """Loops whose number of turns a note gives, by the index of the instruction the note stands at."""
    return {
        bound.index: (bound.note.note.low, bound.note.note.high)
        for bound in graph.program.notes
        if isinstance(bound.note.note, Runs)
    }


def _stated_values(program: Program) -> dict[int, list[tuple[str, Term]]]:
    found: dict[int, list[tuple[str, Term]]] = {}
    for bound in program.notes:
        note = bound.note.note
        if isinstance(note, With):
            found.setdefault(bound.index, []).extend(_registers(program, note))
    return found


def _registers(program: Program, note: With) -> Iterator[tuple[str, Term]]:
    """The stored registers a note speaks of, with their values."""
    name = note.name.upper()
    if name not in program.cpu.registers and name not in program.cpu.views:
        return
    register = program.cpu.register(name)
    whole = (
        term.number(note.low)
        if note.low == note.high
        else unsure(f"a note says {name} is {note.low} to {note.high}", note.low, note.high)
    )
    low = 0
    for part, width in reversed(register.parts):
        yield part, term.bits(whole, low + width - 1, low)
        low += width


def _followed(program: Program) -> frozenset[str]:
    """Flags that decide on more than what instructions compute: on interrupts, and on cycles."""
    cpu = program.cpu
    found = {i.mask.name for i in cpu.interrupts.values() if i.mask is not None}
    found |= {name for expr in cpu.conditions.values() for name in registers(expr)}
    for instruction in program.instructions:
        for expr in instruction.action.conditions.values():
            found |= registers(expr) - instruction.action.used.reads
    return frozenset(found)
