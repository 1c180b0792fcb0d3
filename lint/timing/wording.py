"""Puts what a count depends on into words: formulas in the author's names, reasons a person can act on."""

from __future__ import annotations

from fractions import Fraction

from ..address import shown
from ..cpu import term
from ..cpu.term import Cell, Held, Input, Op, Seen, Slot, Term, Turn, Unsure
from ..flow import Graph, Loop
from .after import DIFFERS
from .polynomial import Cost, Count, Polynomial
from .result import Exact, Formula, Range, Total, Unknown


def total(cost: Cost, graph: Graph) -> Total:
    """A cost as an exact figure, a range, a formula in named inputs, or unknown with its reason."""
    if cost.most is None:
        return Unknown(cost.reason or "nothing in the text bounds it", cost.least)
    fewest = cost.fewest.value
    open_reason = _open(cost.fewest.inputs | cost.most.inputs)
    if open_reason:
        return Unknown(_with_hint(open_reason), cost.least)
    if cost.exact:
        if fewest is not None:
            return Exact(fewest)
        if _plain(cost.fewest):
            low, high = cost.fewest.bounds
            names = tuple(
                sorted({name for count in cost.fewest.counts for name in _names(count.term, graph)})
            )
            return Formula(formula(cost.fewest, graph), max(0, low), high, names)
    return Range(cost.least, cost.most.bounds[1])


def _plain(polynomial: Polynomial) -> bool:
    """Whether a formula says something to a person: sums of registers and cells, and no bit arithmetic."""
    atoms = [a for count in polynomial.counts for a in term.atoms(count.term)]
    known = not any(isinstance(i.origin, Turn | Unsure) for i in polynomial.inputs)
    return known and all(isinstance(a, Input) or a.name == "wrap" for a in atoms)


def _open(inputs: frozenset[Input]) -> str:
    """The reason of an input nothing bounds but the width of its register, if there is one."""
    found = [
        given.origin.reason
        for given in inputs
        if isinstance(given.origin, Unsure) and given.low == 0 and given.high & (given.high + 1) == 0
    ]
    return min(found, key=_informing, default="")


def _with_hint(text: str) -> str:
    return text if "timing note" in text else f"{text}; state how often it runs in a timing note"


def formula(polynomial: Polynomial, graph: Graph) -> str:
    """The polynomial with highest powers first: "5*B + 12"."""
    parts = [
        (sum(power for _, power in monomial), _product(monomial, graph), factor)
        for monomial, factor in polynomial.parts
    ]
    parts.sort(key=lambda part: (-part[0], part[1]))
    text = ""
    for _, product, factor in parts:
        sign = "-" if factor < 0 else "+"
        text += f" {sign} " if text else ("-" if factor < 0 else "")
        text += _scaled(abs(factor), product)
    return text or "0"


def _scaled(factor: Fraction, product: str) -> str:
    if not product:
        return str(factor)
    if factor == 1:
        return product
    return f"{factor}*{product}" if factor.denominator == 1 else f"({factor})*{product}"


def _product(monomial: frozenset[tuple[Count, int]], graph: Graph) -> str:
    factors = []
    for count, power in monomial:
        text = spelled(count.term, graph)
        if " " in text or text.startswith("-"):
            text = f"({text})"
        factors.append(text if power == 1 else f"{text}^{power}")
    return "*".join(sorted(factors))


def spelled(value: Term, graph: Graph) -> str:
    """A term as text in the names of its inputs."""
    whole = _pair(value, graph)
    if whole is not None:
        return whole
    parts = sorted(
        ((_atom(part, graph), factor) for part, factor in value.parts), key=lambda p: (p[1] < 0, p[0])
    )
    text = ""
    for name, factor in parts:
        text += (" - " if text else "-") if factor < 0 else (" + " if text else "")
        text += name if abs(factor) == 1 else f"{abs(factor)}*{name}"
    if value.constant or not text:
        sign = ("- " if value.constant < 0 else "+ ") if text else ("-" if value.constant < 0 else "")
        text += f"{' ' if text else ''}{sign}{abs(value.constant)}"
    return text


def _pair(value: Term, graph: Graph) -> str | None:
    """The name of a register made of two others, where the term is high * 256 + low of just these."""
    held = {
        factor: part.origin.name
        for part, factor in value.parts
        if isinstance(part, Input) and isinstance(part.origin, Held)
    }
    if value.constant or len(value.parts) != 2 or set(held) != {256, 1}:
        return None
    for register in graph.program.cpu.views.values():
        if [name for name, _ in register.parts] == [held[256], held[1]]:
            return register.name
    return None


def _names(value: Term, graph: Graph) -> set[str]:
    whole = _pair(value, graph)
    return {whole} if whole else {name_of(i, graph) for i in term.inputs([value])}


def _atom(part: term.Atom, graph: Graph) -> str:
    if isinstance(part, Input):
        return name_of(part, graph)
    if part.name == "wrap":
        return _wrapped(part, graph)
    inside = ", ".join(spelled(x, graph) for x in part.args)
    return f"{part.name}({inside})"


def _wrapped(part: Op, graph: Graph) -> str:
    (inner,) = part.args
    size = 1 << part.numbers[0]
    parts = frozenset((a, k - size if k > size // 2 else k) for a, k in inner.parts)
    constant = inner.constant - size if inner.constant > size // 2 else inner.constant
    return spelled(Term(constant, parts), graph)


def name_of(given: Input, graph: Graph) -> str:
    """What an input is called: the register, the symbol at its address, or its address."""
    match given.origin:
        case Held(name=name):
            return name
        case Cell(address=address):
            return graph.program.symbol_at(address) or f"[{shown(address)}]"
        case Seen(address=address, instruction=index):
            return graph.symbol(index) or graph.program.shown(address)
        case Slot():
            return "memory"
        case Turn(loop=loop):
            return f"turn of {graph.name(loop)}"
        case Unsure():
            return "?"


def reason(inputs: frozenset[Input], graph: Graph, written: frozenset[int], loop: Loop) -> str:
    """Why the count of a loop is not known, and what supplies it."""
    given = sorted(inputs, key=lambda i: (_rank(i), name_of(i, graph), *_told_apart(i, graph)))
    if not given:
        return "its exit test can't be solved; state how often it runs in a timing note"
    worst = given[0]
    name = _name_in(loop, worst, graph)
    match worst.origin:
        case Seen():
            return f"loops until what is read at {name} changes; state how often it runs in a timing note"
        case Unsure(reason=text):
            return _with_hint(text)
        case Held():
            names = ", ".join(sorted({name_of(i, graph) for i in given if isinstance(i.origin, Held)}))
            return f"depends on {names} from its caller; state the values in a timing note"
        case Cell(address=address) if address in written:
            return f"depends on {name}, which is set elsewhere; state how often it runs in a timing note"
        case Cell(address=address):
            where = "" if name.startswith("[") else f" ({shown(address)})"
            return f"{name}{where} is never written in this program; state how often it runs in a timing note"
        case Slot(address=where) if _pointers(where, graph):
            return f"depends on what {_pointers(where, graph)} points to; state how often it runs in a timing note"
        case Slot() | Turn():
            return "depends on memory at a computed address; state how often it runs in a timing note"


def until(cells: frozenset[Input], graph: Graph, written: frozenset[int], loop: Loop) -> str:
    """What a loop waits for that only compares memory and changes none of it."""
    names = []
    for given in cells:
        assert isinstance(given.origin, Cell)
        name, address = _name_in(loop, given, graph), given.origin.address
        names.append(name if address in written or name.startswith("[") else f"{name} ({shown(address)})")
    text = f"loops until {' or '.join(sorted(names))} changes"
    if not any(i.origin.address in written for i in cells if isinstance(i.origin, Cell)):
        text += ", which nothing in this program writes"
    return _with_hint(text)


def _name_in(loop: Loop, given: Input, graph: Graph) -> str:
    """What an input is called in the loop: of several names of one address the one that stands there."""
    if isinstance(given.origin, Cell):
        for index in sorted(loop.nodes):
            for operand in graph.program.instructions[index].operands:
                if operand.value == given.origin.address and operand.symbol is not None:
                    return operand.symbol
    return name_of(given, graph)


def _pointers(address: Term, graph: Graph) -> str:
    """The registers and cells an address is made of; two halves of a register by its own name."""
    names = {name_of(i, graph) for i in term.inputs([address]) if isinstance(i.origin, Held | Cell)}
    for register in graph.program.cpu.views.values():
        parts = {name for name, _ in register.parts}
        if register.width == graph.program.cpu.address_bits and parts <= names:
            names = names - parts | {register.name}
    return " and ".join(sorted(names))


def _told_apart(given: Input, graph: Graph) -> tuple[bool, str]:
    """What puts inputs of one name in order: what is said of them, or what points to them."""
    match given.origin:
        case Unsure(reason=reason):
            return _informing(reason)
        case Slot(address=where):
            return False, _pointers(where, graph)
    return False, ""


def _informing(reason: str) -> tuple[bool, str]:
    """Puts reasons in order: one that something is open before one that only joins what is."""
    return reason.endswith(DIFFERS), reason


def _rank(given: Input) -> int:
    order = (Seen, Unsure, Slot, Turn, Cell, Held)
    return order.index(type(given.origin))
