"""Judges source texts on boards of the bell tower's clock controller."""

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from clockhop.assemble import assemble, words
from clockhop.board import Board, Project, bare, read
from clockhop.chain.chain import memory, wait_states
from clockhop.cpu import load
from clockhop.flow import connect
from clockhop.quantity import Clock, parse_clock
from clockhop.rules.base import Case
from clockhop.source import parse
from clockhop.timing import count, handlers


@pytest.fixture
def case() -> Callable[..., Case]:
    """The case of a source text at clocks, on the board of a project file's text (without it: no parts)."""

    def make(
        text: str,
        *clocks: str,
        board: str = "",
        written_for: str | None = None,
        cpu: str = "6809",
        files: dict[str, str] | None = None,
        turned: dict[str, Clock] | None = None,
    ) -> Case:
        processor = load(cpu)
        texts = {"tower.asm": text, **(files or {})}
        program = assemble(
            "tower.asm", processor, reader=lambda path: parse(texts[path].encode(), path, words(processor))
        )
        judged = tuple(map(parse_clock, clocks)) or (parse_clock("1 MHz"),)
        named = Path("clockhop.yaml")
        project = read(f"processor: {cpu}\n{board}", named, turned or {}) if board else None
        made = _board(project, {n: s.value for n, s in program.symbols.items() if s.value is not None}, cpu)
        entries = [*(("entry", at) for at in made.entries), *((i.name, i.entry) for i in made.interrupts)]
        graph = connect(program, entries)
        waits = wait_states(made)
        entered = handlers(graph, [(i.name, i.entry) for i in made.interrupts], waits)
        timings = count(graph, made.watched, entered, waits, memory(made))
        old = parse_clock(written_for) if written_for else made.written_for
        return Case(timings, made, judged, old, project.accept if project else ())

    return make


def _board(project: Project | None, symbols: dict[str, int], cpu: str) -> Board:
    return project.resolve(symbols) if project else bare(cpu, ())


@pytest.fixture
def judge(case: Callable[..., Case]) -> Callable[..., list[object]]:
    """What one rule (a module) says of a source text."""

    def run(rule: ModuleType, text: str, *clocks: str, **more: object) -> list[object]:
        return list(rule.judge(case(text, *clocks, **more)))

    return run
