"""Terms of few inputs as a function in Python, for those that nothing solves and that are tried value by value."""

from collections.abc import Callable
from functools import lru_cache
from typing import Final

from .term import Input, Op, Term, inputs

Stepper = Callable[..., tuple[int, ...]]


def stepper(terms: tuple[Term, ...], *of: Input) -> Stepper | None:
    """A function from the values of `of` to the terms' values, or None where they hold another input.

    Terms of the same form give the same function, whatever inputs they are made of.
    """
    if inputs(terms).difference(of):
        return None
    names = {given: f"i{place}" for place, given in enumerate(of)}
    return _made(
        f"lambda {', '.join(names.values())}: ({''.join(_python(term, names) + ',' for term in terms)})"
    )


@lru_cache(maxsize=4096)
def _made(text: str) -> Stepper:
    made: Stepper = eval(text, {"__builtins__": {}})
    return made


def _python(a: Term, names: dict[Input, str]) -> str:
    parts = [
        f"{factor}*{names[part] if isinstance(part, Input) else _python_op(part, names)}"
        for part, factor in a.parts
    ]
    return f"({'+'.join([str(a.constant), *sorted(parts)])})"


def _python_op(part: Op, names: dict[Input, str]) -> str:
    args = [_python(x, names) for x in part.args]
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
