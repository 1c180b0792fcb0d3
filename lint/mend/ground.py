"""What the evidence of a mend rests on, and what near it was not understood."""

from __future__ import annotations

from collections.abc import Iterable

from ..chain import Chain


def rests(chain: Chain, data: str = "") -> str:
    """The tables it rests on, with what is taken to hold from the start, and how control is taken to come there."""
    held = ", ".join(f"{name} = {value}" for name, value in sorted(chain.timings.analysis.modes.items()))
    table = f"the {chain.program.cpu.name} table" + (f" with {held}" if held else "")
    return f"rests on {table}{f' and {data}' if data else ''}, entered only as the text shows"


def not_understood(chain: Chain, nodes: Iterable[int]) -> str:
    """What among these instructions, or right before or behind them, was not understood; an empty text for nothing.

    A mend there is at most shown.
    """
    graph, instructions = chain.graph, chain.program.instructions
    for node in sorted(set(nodes)):
        instruction = instructions[node]
        if not instruction.certain:
            return "a line before it was not understood"
        near = graph.blurred.get(node) or graph.blurred.get(node - 1)
        if near:
            return f"{near}, and stands beside it"
        if node in graph.missing:
            return f"{graph.missing[node]} in line {instruction.origin.line} has no known value"
    return ""
