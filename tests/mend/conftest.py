"""Mends sources held in memory, and puts every mend through the whole chain and the executor again."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path
from random import Random

import pytest
from clockhop.assemble import assemble, words
from clockhop.board import read
from clockhop.chain import Chain, Request, run
from clockhop.cpu import load
from clockhop.cpu.execute import Machine, Stop
from clockhop.mend import Left, Mend, Options, Plan, plan
from clockhop.quantity import parse_clock
from clockhop.rules import Case, Finding, judge
from clockhop.source import parse

SHORT = ("access-too-soon", "wait-too-short")
STACK = range(0x7E00, 0x8000)
# Processors whose stack pointer is the address of the next free byte; those of another order of bytes name it SP.
NEXT_FREE = ("6800", "6801", "6303", "68hc11")
LITTLE = ("z80", "z180", "8080", "8085")
OUTSIDE = 0xFFF0  # the return address of whoever calls the program
MOST_INSTRUCTIONS = 400_000


@dataclass(frozen=True)
class Mended:
    """A plan and what became of it: the files afterwards, cycles of the program from its start to its return."""

    plan: Plan
    before: Mapping[str, bytes]
    after: Mapping[str, bytes]
    old_cycles: int
    new_cycles: int
    findings: list[Finding]

    @property
    def text(self) -> str:
        """The main file afterwards."""
        return self.after["tower.asm"].decode("latin-1")

    @property
    def mends(self) -> list[tuple[str, str, str]]:
        return [(mend.kind, mend.subject, mend.evidence.grade) for mend in self.plan.mends]

    @property
    def left(self) -> list[tuple[str, str]]:
        return [(left.subject, left.reason) for left in self.plan.left]

    def line(self, number: int) -> str:
        """A line of the main file afterwards, from 1, without its end."""
        return self.text.splitlines()[number - 1]


class Bench:
    """One program on one board: planned, edited, judged and run again."""

    def __init__(self, files: Mapping[str, bytes], cpu: str, board: str, gaps_at: tuple[str, ...]) -> None:
        self.files = files
        self.cpu = cpu
        self.board = board
        self.gaps_at = gaps_at

    def chain(self, files: Mapping[str, bytes], options: Options) -> Chain:
        project = read(f"processor: {self.cpu}\n{self.board}", Path("clockhop.yaml")) if self.board else None
        request = Request(
            "tower.asm", self.cpu, (options.clock,), options.written_for, project, gaps_at=self.gaps_at
        )
        vocabulary = words(load(self.cpu))
        chain = run(request, lambda path: parse(files[path], path, vocabulary))
        assert [(opaque.origin.line, opaque.cause) for opaque in chain.program.opaque] == []
        return chain

    def planned(self, files: Mapping[str, bytes], options: Options) -> tuple[Chain, Plan]:
        chain = self.chain(files, options)
        return chain, plan(chain, options)

    def mended(self, options: Options, states: int) -> Mended:
        old, made = self.planned(self.files, options)
        after = {**self.files, **made.after}
        assert dict(made.before) == {path: self.files[path] for path in made.after}
        for path in self.files:
            assert_other_lines_equal(self.files[path], after[path], path, made, options.by_symbol)
        new, second = self.planned(after, options)
        assert dict(second.after) == {}, "a second run changes something"
        assert [m for m in second.mends if m.made] == []
        case = Case(new.timings, new.board, (options.clock,), options.written_for)
        found = [v for v in judge(case).verdicts if isinstance(v, Finding) and v.name in SHORT]
        ran = [(0, 0), *(agreeing(old, new, seed) for seed in range(states))]
        return Mended(made, self.files, after, *ran[-1], found)


def assert_other_lines_equal(
    before: bytes, after: bytes, path: str, made: Plan, symbol: str | None = None
) -> None:
    """Lines are changed where the mends say so; in between, only whole new lines are put.

    Those have no label or a new one, but for the line that defines the clock symbol.
    """
    defined = (b" ", b"\t", *([symbol.encode()] if symbol else []))
    touched = {place.line for mend in made.mends for place in mend.places if place.path == path}
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        for line in range(a + 1, b + 1):
            assert line in touched, f"{path}:{line} is changed and no mend says so"
        for line in new[c + (b - a) : d]:
            assert line.startswith(defined) or line.split()[0].rstrip(b":") not in before, line


def agreeing(old: Chain, new: Chain, seed: int) -> tuple[int, int]:
    """Cycles of old and new from one start state, having left the same registers, memory and accesses behind."""
    first, then = started(old, seed), started(new, seed)
    for machine in (first, then):
        assert machine.run(lambda m: m.counter == OUTSIDE, MOST_INSTRUCTIONS) is Stop.REACHED
    names = [name for name in (*old.program.cpu.registers, *old.program.cpu.flags) if name != "PC"]
    assert {n: first[n] for n in names} == {n: then[n] for n in names}
    kept = [a for a in range(0x8000) if a not in STACK]
    code = old.program.code.keys() | new.program.code.keys()
    assert not code & set(kept), "code stands above $8000 in these tests"
    assert bytes(first.state.memory[a] for a in kept) == bytes(then.state.memory[a] for a in kept)
    assert [(b.kind, b.address, b.value) for b in first.log] == [
        (b.kind, b.address, b.value) for b in then.log
    ]
    assert first.fewest == first.most
    assert then.fewest == then.most
    return first.fewest, then.fewest


def started(chain: Chain, seed: int) -> Machine:
    """The program called from outside, with registers and memory of nobody knows what."""
    random = Random(seed)
    program = chain.program
    memory = bytearray(random.randbytes(65536))
    for address, byte in (*program.data.items(), *program.code.items()):
        memory[address] = byte
    top = STACK.stop - 4
    below = program.cpu.name in NEXT_FREE
    little = program.cpu.name in LITTLE
    memory[top + below : top + below + 2] = OUTSIDE.to_bytes(2, "little" if little else "big")
    registers = {
        name: random.randrange(1 << register.width)
        for name, register in ((name, program.cpu.register(name)) for name in program.cpu.registers)
        if name not in program.cpu.initial
    }
    flags = {name: random.randrange(2) for name in program.cpu.flags}
    start = program.instructions[0].address
    watched = chain.timings.analysis.watched
    pointer = {"SP" if little else "S": top}
    return Machine(program.cpu, memory, {**registers, **flags, **pointer, "PC": start}, watched)


@pytest.fixture
def mend() -> Callable[..., Mended]:
    """Mends a source text (the main file, tower.asm) and checks what every mend has to keep.

    Findings are those left at the new clock. The program is called at its first instruction from `states` start
    states and has to come back; 0 where it does not.
    """

    def make(
        text: str | bytes,
        clock: str,
        written_for: str | None = None,
        *,
        board: str = "",
        cpu: str = "6809",
        gaps_at: tuple[str, ...] = (),
        files: Mapping[str, str] | None = None,
        states: int = 2,
        **options: object,
    ) -> Mended:
        data = text.encode("latin-1") if isinstance(text, str) else text
        every = {"tower.asm": data, **{path: t.encode("latin-1") for path, t in (files or {}).items()}}
        old = parse_clock(written_for) if written_for else None
        bench = Bench(every, cpu, board, gaps_at)
        return bench.mended(Options(parse_clock(clock), old, **options), states)

    return make


def left(mended: Mended, subject: str) -> str:
    """The reason why that one was left."""
    (reason,) = [reason for name, reason in mended.left if name == subject]
    return reason


__all__ = ["Left", "Mend", "Mended", "left"]


@pytest.fixture
def encoded() -> Callable[[str, str], bytes]:
    """The bytes of one instruction at $C000."""

    def encode(cpu: str, line: str) -> bytes:
        processor = load(cpu)
        text = f"        ORG   $C000\n        {line}\n".encode()
        program = assemble("line.asm", processor, reader=lambda path: parse(text, path, words(processor)))
        (instruction,) = program.instructions
        return instruction.action.code

    return encode
