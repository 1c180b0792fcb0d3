"""Published single-step vectors: a state, one instruction, the state and every bus cycle after it."""

import gzip
import json
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from clockhop.cpu import Cpu, Machine

VECTORS = Path(__file__).parents[1] / "reference" / "vectors"

Cycle = tuple[int, int, str]  # address, value, read or write


@dataclass(frozen=True)
class Case:
    """One instruction: the state before it, the state after it, its bus cycles in order."""

    before: dict[str, int]
    memory: dict[int, int]
    after: dict[str, int]
    memory_after: dict[int, int]
    cycles: list[Cycle]


@cache
def cases(name: str, status: str) -> dict[str, list[Case]]:
    """The cases of a file by opcode; `status` names the bits of the status byte, high bit first, - for none."""
    found = defaultdict(list)
    with gzip.open(VECTORS / f"{name}.jsonl.gz", "rt", encoding="utf-8") as file:
        for line in file:
            case = json.loads(line)
            found[case["op"].upper()].append(_case(case, status))
    return found


def _case(case: dict[str, Any], status: str) -> Case:
    before, after = ({**case[when]} for when in ("initial", "final"))
    memory, memory_after = (dict(map(tuple, state.pop("ram"))) for state in (before, after))
    cycles = [(address, value, way) for address, value, way in case["cycles"]]
    return Case(_registers(before, status), memory, _registers(after, status), memory_after, cycles)


def _registers(state: dict[str, int], status: str) -> dict[str, int]:
    flags = {flag: state["p"] >> 7 - place & 1 for place, flag in enumerate(status) if flag != "-"}
    return {name.upper(): value for name, value in state.items() if name != "p"} | flags


def step(processor: Cpu, case: Case) -> Machine:
    """A machine after the one instruction of the case, with every access in its log."""
    memory = defaultdict(int, case.memory)
    machine = Machine(processor, memory, case.before, watched=range(0x10000))
    assert machine.step() is not None
    return machine
