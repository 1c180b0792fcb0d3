"""Terms of one input as a function in Python, for those that nothing solves and that are tried value by value."""

from collections.abc import Callable
from typing import Final

from .term import Input, Op, Term, inputs


def stepper(terms: tuple[Term, ...], of: Input) -> Callable[[int], tuple[int, ...]] | None:
    """A function from the value of `of` to the terms' values, or None where they hold another input."""
    if inputs(terms) - {of}:
        return None
    text = "lambda k: (" + "".join(_python(term) + "," for term in terms) + ")"
    made: Callable[[int], tuple[int, ...]] = eval(text, {"__builtins__": {}})
    return made


def _python(a: Term) -> str:
    parts = [str(a.constant)]
    for part, factor in a.parts:
        parts.append(f"{factor}*{'k' if isinstance(part, Input) else _python_op(part)}")
    return "(" + "+".join(parts) + ")"


def _python_op(part: Op) -> str:
    args = [_python(x) for x in part.args]
    match part.name:
        case "wrap":
            return f"({args[0]}&{(1 << part.numbers[0]) - 1})"
        case "bits":
            high, low = part.numbers
            return f"(({args[0]}>>{low})&{(1 << (high - low + 1)) - 1})"
        case "and" | "or" | "xor":
            return f"({args[0]}{_SIGN[part.name]}{args[1]})"
        case "times":
            return f"({args[0]}*{args[1]})"
        case "quotient" | "remainder":
            whole = f"({args[0]}//{args[1]} if {args[1]} else 0)"
            return whole if part.name == "quotient" else f"({args[0]}-{whole}*{args[1]})"
        case "zero":
            return f"({args[0]}==0)"
        case "negative":
            return f"({args[0]}<0)"
        case "left":
            return f"({args[0]}<<{args[1]})"
        case "right":
            return f"({args[0]}>>{args[1]})"
        case "parity":
            return f"(1-{args[0]}.bit_count()%2)"
        case "choose":
            return f"({args[1]} if {args[0]} else {args[2]})"
    raise AssertionError(f"no operation {part.name}")


_SIGN: Final = {"and": "&", "or": "|", "xor": "^"}
