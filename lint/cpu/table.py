"""Reads a processor table: merges it with the one it extends and turns every section into its type."""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files

from ..errors import Place, TableError
from ..tables import Node, merge, nearest, packaged
from . import step
from .decode import opcodes
from .meaning import Expr, Register
from .model import Form, Hole, Operation, Packed, RegisterClass, Row, Variant
from .notation import Names, expression

_SECTIONS = """
    cpu extends title sources syntax endian address_bits clock registers flags views initial modes
    unplaced_idle conditions vectors places lists classes machine_cycles prefix forms operations opcodes
    interrupts synonyms outside port_bits spellings without on_chip refresh
"""
_HOLE = re.compile(r"(?:rel|n|d|a|s|b|c|m)\d+|R|[rx]\d|list")
# A machine cycle by its name, with how often and under which conditions it comes.
_CYCLE = re.compile(r"(?<![\w?&!*])(?P<name>[A-Z]\w*)(?P<count>(?:\*\d+)?)(?P<guards>(?:\?[\w!&]+)?)")
# Why a row is none of the maker's instructions: it was found by trying, or is kept free for later ones.
_MARKS = ("undocumented", "reserved")
_KINDS = {
    "n": "number",
    "d": "direct",
    "a": "address",
    "rel": "relative",
    "s": "signed",
    "b": "bit",
    "c": "bit",
    "R": "register",
    "r": "register",
    "x": "register",
    "m": "multiple",
    "list": "list",
}


def names() -> tuple[str, ...]:
    """The processors there are tables for, with their start modes (`6309-native`)."""
    found: list[str] = []
    for stem in _stems():
        found += [stem, *(f"{stem}-{mode}" for mode in _start_modes(_merged(stem)))]
    return tuple(found)


def is_known(name: str) -> bool:
    """Whether there is a table for that processor and start mode; no other table is read for that."""
    stem, _, mode = name.rpartition("-")
    return name in _stems() or (stem in _stems() and mode in _start_modes(_merged(stem)))


def find(name: str) -> tuple[Node, Mapping[str, Node]]:
    """The merged table of a processor, and what its start mode adds to the initial values.

    An unknown name raises TableError with the nearest ones.
    """
    if name in _stems():
        return _merged(name), {}
    stem, _, mode = name.rpartition("-")
    if stem in _stems() and mode in _start_modes(_merged(stem)):
        return _merged(stem), _start_modes(_merged(stem))[mode].mapping()
    raise TableError(f'unknown processor "{name}"; {nearest(name, names())}')


@cache
def _stems() -> tuple[str, ...]:
    tables = (file.name for file in files("clockhop.shared").joinpath("cpus").iterdir())
    return tuple(sorted(name.removesuffix(".yaml") for name in tables if name.endswith(".yaml")))


def _start_modes(root: Node) -> Mapping[str, Node]:
    node = root.mapping().get("modes")
    return node.mapping() if node else {}


@cache
def _raw(stem: str) -> Node:
    path = f"cpus/{stem}.yaml"
    root = packaged(path)
    root.fields(("cpu",), _SECTIONS.split())
    return root


@cache
def _merged(stem: str) -> Node:
    root = _raw(stem)
    parent = root.mapping().get("extends")
    if parent is None:
        return root
    # The rows of another maker's mnemonics are joined as opcode rows are.
    spelled = root.mapping().get("spellings")
    chained = ("opcodes", *(spelled.mapping() if spelled else ()))
    return merge(_merged(parent.choice(_stems())), root, chained)


class Reader:
    """Turns the sections of one merged table into values; `Cpu` is put together from them."""

    def __init__(self, root: Node, syntax: str = "") -> None:
        """`syntax` is the spelling asked for; empty for the table's own."""
        self.sections = root.mapping()
        self.registers = self._registers()
        self._cycles = self.texts("machine_cycles")
        self.prefix = self._steps(self.sections.get("prefix")) or step.read("f")
        self.classes = {name: self._class(node) for name, node in self.section("classes").items()}
        self.forms = {name: self._form(name, node) for name, node in self.section("forms").items()}
        self.operations = {name: self._operation(name) for name in self.section("operations")}
        self.syntax = syntax or self.text("syntax")

    def section(self, name: str) -> Mapping[str, Node]:
        """A section's entries; none where the table has no such section."""
        node = self.sections.get(name)
        return node.mapping() if node else {}

    def texts(self, name: str) -> dict[str, str]:
        """A section of plain texts."""
        return {key: node.text() for key, node in self.section(name).items()}

    def integers(self, name: str) -> dict[str, int]:
        """A section of whole numbers."""
        return {key: node.integer() for key, node in self.section(name).items()}

    def text(self, name: str) -> str:
        """A section that is one text."""
        return self.sections[name].text() if name in self.sections else ""

    @property
    def flags(self) -> tuple[str, ...]:
        """The flags, high bit of the flag register first."""
        return tuple(self.text("flags").split())

    def _registers(self) -> dict[str, Register]:
        stored = {name: node.integer(1, 64) for name, node in self.section("registers").items()}
        stored |= dict.fromkeys(self.flags, 1)
        found = {name: Register(name, width, ((name, width),)) for name, width in stored.items()}
        for name, node in self.section("views").items():
            parts = tuple(part for word in node.text().split() for part in found[word].parts)
            found[name] = Register(name, sum(width for _, width in parts), parts)
        return found

    def register(self, name: str, node: Node) -> Register:
        """A register, flag or view by name."""
        found = self.registers.get(name)
        if found is None:
            node.fail(f'unknown register "{name}"; {nearest(name, self.registers)}')
        return found

    def lists(self) -> dict[str, tuple[Register, ...]]:
        """Named lists of registers for `each`."""
        return {
            name: tuple(self.register(word, node) for word in node.text().split())
            for name, node in self.section("lists").items()
        }

    def _class(self, node: Node) -> RegisterClass:
        codes: dict[str, int] = {}
        registers: dict[str, Expr] = {}
        for key, code in node.mapping().items():
            spelling, _, stored = key.partition("=")
            codes[spelling] = code.integer(0, 255)
            registers[spelling] = self._stored(stored or spelling, code)
        return RegisterClass(codes, registers)

    def _stored(self, text: str, node: Node) -> Expr:
        """What a spelling stands for: a register, else an expression over registers."""
        if text.isidentifier():
            return self.register(text, node)
        return expression(text, Names(self.registers))

    def _form(self, name: str, node: Node) -> Form:
        keys = (
            "like",
            "operand",
            "bytes",
            "postbyte",
            "ea",
            "after",
            "value",
            "steps",
            "classes",
            "conditions",
            "modes",
            "modes_of",
        )
        entries = node.fields((), keys)
        if "like" in entries:
            former = self.section("forms")[entries["like"].choice(self.section("forms"))]
            entries = {**former.fields((), keys), **entries}
        shared = {key: value for key, value in entries.items() if key not in ("modes", "modes_of")}
        return Form(name, tuple(self._variant(mode) for mode in self._modes(entries, shared)))

    def _modes(self, entries: Mapping[str, Node], shared: dict[str, Node]) -> Iterator[dict[str, Node]]:
        """Each variant's entries: the form's, then the mode's (bytes, steps and pattern appended)."""
        if "modes_of" in entries:
            modes = self.section("forms")[entries["modes_of"].text()].mapping()["modes"]
        elif "modes" in entries:
            modes = entries["modes"]
        else:
            yield shared
            return
        for pattern, mode in modes.mapping().items():
            own = mode.fields((), ("postbyte", "bytes", "ea", "after", "steps"))
            yield {
                **shared,
                **own,
                "operand": _joined(shared.get("operand"), Node(mode.place, pattern, TableError), ""),
                "bytes": _joined(shared["bytes"], own.get("bytes"), " "),
                "steps": _joined(shared["steps"], own.get("steps"), " "),
            }

    def _variant(self, entries: Mapping[str, Node]) -> Variant:
        pattern = entries["operand"].text()
        classes = entries["classes"].mapping() if "classes" in entries else {}
        holes = tuple(self._hole(name, classes) for name in dict.fromkeys(_HOLE.findall(_spaced(pattern))))
        layout = tuple(_layout(word, entries) for word in entries["bytes"].text().split() if word != "op")
        widths = {hole.name: hole.width // 8 for hole in holes}
        return Variant(
            pattern=pattern,
            holes=holes,
            layout=layout,
            ea=entries["ea"].text() if "ea" in entries else None,
            after=entries["after"].text() if "after" in entries else "",
            value=entries["value"].text() if "value" in entries else None,
            steps=self._steps(entries.get("steps")),
            size=sum(1 if isinstance(part, Packed) else max(widths[part], 1) for part in layout),
            conditions=_texts(entries.get("conditions")),
        )

    def _hole(self, name: str, classes: Mapping[str, Node]) -> Hole:
        letters = name.rstrip("0123456789") if name != "list" else name
        kind = _KINDS[letters]
        if kind in ("register", "list"):
            key = classes[letters if letters in classes else name]
            return Hole(name, kind, 8, 0, 0, self.classes[key.text()])
        width = int(name[len(letters) :])
        if kind == "multiple":
            return Hole(name, kind, width, 0, (1 << width) - 8, None)
        if kind == "bit":
            return Hole(name, kind, width, 0, (1 << width) - 1, None)
        low, high = _range(kind, width, int(self.text("address_bits")))
        return Hole(name, kind, width, low, high, None)

    def _steps(self, node: Node | None) -> tuple[step.Group, ...]:
        if node is None:
            return ()
        try:
            return step.read(_CYCLE.sub(self._cycle, node.text()))
        except TableError as fault:
            raise TableError(fault.message, node.place) from None

    def _cycle(self, word: re.Match[str]) -> str:
        """A machine cycle as its steps; what stands behind it holds for each of them."""
        steps = self._cycles.get(word["name"])
        if steps is None:
            return word[0]
        if "?" not in steps:
            return f"({steps}){word['count']}{word['guards']}"
        guarded = f"&{word['guards'][1:]}" if word["guards"] else ""
        return " ".join(f"{each}{guarded if '?' in each else word['guards']}" for each in steps.split())

    def _operation(self, name: str) -> Operation:
        entries = self._inherited(name)
        return Operation(
            name=name,
            meaning=entries["meaning"].text() if "meaning" in entries else "",
            size=entries["size"].integer(1, 8) if "size" in entries else 1,
            ports="meaning" in entries and "[port " in entries["meaning"].text(),
            steps=self._steps(entries.get("steps")),
            flow=entries["flow"].text() if "flow" in entries else "next",
            flow_to_counter=entries["flow_to_counter"].text() if "flow_to_counter" in entries else "jump",
            conditions=_texts(entries.get("conditions")),
            shields="shields" in entries and entries["shields"].choice(["yes", "no"]) == "yes",
        )

    def _inherited(self, name: str) -> Mapping[str, Node]:
        """An operation's entries; `like` names another that gives those it has not itself."""
        keys = ("like", "meaning", "size", "steps", "flow", "flow_to_counter", "conditions", "shields")
        entries = self.section("operations")[name].fields((), keys)
        if "like" not in entries:
            return entries
        return {**self._inherited(entries["like"].choice(self.section("operations"))), **entries}

    def rows(self) -> tuple[Row, ...]:
        """The opcode rows in opcode order; a later table's row takes the place of an inherited one.

        Inherited rows with the mark that the table is `without` are left out.
        """
        found: dict[str, tuple[Row, Place]] = {}
        without = self.text("without")
        own = self.sections["cpu"].place.path
        for node in self.sections["opcodes"].sequence():
            row = self._row(node)
            if row.mark and row.mark == without and node.place.path != own:
                continue
            key = node.sequence()[0].text()
            former = found.get(key)
            if former is not None and former[1].path == node.place.path:
                node.fail(
                    f"opcode {key.lower()[2:]} stands twice, first in line {former[1].line}; keep one row"
                )
            found[key] = (row, node.place)
        others = self._other_rows()
        taken = {code for row in others for code in _codes(row)}
        kept = [row for row, _ in found.values() if not taken.issuperset(_codes(row))]
        return tuple(sorted([*kept, *others], key=lambda row: (len(row.code), row.code)))

    def _other_rows(self) -> tuple[Row, ...]:
        """The rows that are written in another way in the syntax asked for, where that is not the table's own."""
        if self.syntax == self.text("syntax"):
            return ()
        section = self.section("spellings")
        if self.syntax not in section:
            raise TableError(
                f'the {self.text("cpu")} is not written in "{self.syntax}"; '
                f"accepted: {', '.join([self.text('syntax'), *section])}"
            )
        return tuple(self._row(node) for node in section[self.syntax].sequence())

    def words(self) -> dict[str, frozenset[str]]:
        """The mnemonics by the syntax they belong to, the table's own first."""
        written = {self.text("syntax"): self.sections["opcodes"]} | dict(self.section("spellings"))
        words = {
            syntax: {word for row in rows.sequence() for word in row.sequence()[1].text().split("/")}
            for syntax, rows in written.items()
        }
        words[self.text("syntax")].update(self.section("synonyms"))
        return {syntax: frozenset(found) for syntax, found in words.items()}

    def _row(self, node: Node) -> Row:
        items = node.sequence()
        if len(items) not in (6, 7):
            columns = "opcode, mnemonics, form, operation, bindings, source, mark"
            node.fail(f"a row has 6 or 7 columns: {columns}")
        code, mnemonics, form, operation, bindings, source = items[:6]
        for word in source.text().split():
            if word not in self.section("sources"):
                source.fail(f'unknown source "{word}"; {nearest(word, self.section("sources"))}')
        before, tail, insets = _opcode(code)
        return Row(
            code=before,
            tail=tail,
            insets=insets,
            mnemonics=tuple(mnemonics.text().split("/")),
            form=self.forms[form.choice(self.forms)],
            operation=self.operations[operation.choice(self.operations)],
            bindings=dict(_binding(word, bindings) for word in bindings.text().split()),
            source=source.text(),
            mark=items[6].choice(_MARKS) if len(items) > 6 else "",
        )


def _codes(row: Row) -> set[tuple[bytes, bytes]]:
    return {(code, tail) for code, tail, _ in opcodes(row)}


def _texts(node: Node | None) -> dict[str, str]:
    return {key: text.text() for key, text in node.mapping().items()} if node else {}


def _joined(first: Node | None, second: Node | None, between: str) -> Node:
    texts = [node.text() for node in (first, second) if node is not None]
    place = first or second
    assert place is not None
    return Node(place.place, between.join(texts), TableError)


def _spaced(pattern: str) -> str:
    """The pattern with constant register names blanked out, so that only holes are found in it."""
    return re.sub(r"[A-Z]{2,}", " ", pattern)


def _layout(word: str, entries: Mapping[str, Node]) -> str | Packed:
    return Packed(tuple(_parts(entries["postbyte"]))) if word == "postbyte" else word


def _parts(node: Node) -> Iterator[tuple[str | int | None, int]]:
    for word in node.text().split():
        name, _, width = word.partition(":")
        if width:
            yield name, int(width)
        elif set(word) == {"x"}:
            yield None, len(word)
        else:
            yield int(word, 2), len(word)


def _range(kind: str, width: int, address_bits: int) -> tuple[int, int]:
    if kind in ("direct", "address", "relative"):
        return 0, (1 << max(width, address_bits)) - 1
    half = 1 << (width - 1)
    # A number of full address width wraps: the maker's manuals write both $FFFF and -1 for it.
    return (-half, half - 1) if kind == "signed" and width < address_bits else (-half, 2 * half - 1)


_OPCODE = re.compile(r"(?:0x)?((?:[0-9A-Fa-f]{2})+)(?:_+([0-9A-Fa-f]{2}))?((?:\|[a-z]+\d+(?:<<\d+)?)*)")


def _opcode(node: Node) -> tuple[bytes, bytes, tuple[tuple[str, int], ...]]:
    """The bytes before and behind the operand's, and the holes that lie in them."""
    found = _OPCODE.fullmatch(node.text())
    if found is None:
        node.fail(f'"{node.text()}" is no opcode; write its bytes as hex, such as 0x1012')
    before, tail, insets = found.groups()
    holes = (inset.partition("<<") for inset in insets.split("|")[1:])
    return bytes.fromhex(before), bytes.fromhex(tail or ""), tuple((n, int(by or 0)) for n, _, by in holes)


def _binding(word: str, node: Node) -> tuple[str, str]:
    name, sign, value = word.partition("=")
    if not sign or not value:
        node.fail(f'binding "{word}" is not name=value')
    return name, value
