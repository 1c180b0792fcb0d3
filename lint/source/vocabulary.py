"""What cutting a line into fields must know: the habits of the syntax and the processor's operation words."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from ..errors import TableError
from ..tables import Node, merge, nearest, packaged

Evaluation = Literal["precedence", "from_left", "as_fits"]
Shape = Literal["none", "plain", "values", "mixed", "text", "rest"]
_HABIT = ("what", "sign", "changes"), ("against",)
_QUOTED_OR_NOT = re.compile(r"'[^']*'|\"[^\"]*\"|[^'\"]+|['\"]")
_SHAPES: Mapping[str, Shape] = {
    **{"none": "none", "values": "values", "mixed": "mixed", "text": "text", "rest": "rest"}
}


@dataclass(frozen=True, slots=True)
class LocalMarks:
    """Which characters make a name local: in front, behind, inside."""

    prefix: str = ""
    suffix: str = ""
    inside: str = ""

    def of(self, name: str) -> bool:
        """Whether `name` carries one of the marks (a name that is all marks does not)."""
        if not name:
            return False
        marked = name[0] in self.prefix or name[-1] in self.suffix or any(map(name.__contains__, self.inside))
        return marked and name.strip(self.prefix + self.suffix + self.inside) != ""


@dataclass(frozen=True, slots=True)
class Habit:
    """A way of writing that files of one syntax may have or not: what it does, and the sign of it in a text."""

    what: str
    sign: re.Pattern[str]
    against: re.Pattern[str] | None

    def is_in(self, text: str) -> bool:
        """Whether a text shows the habit, and nothing that speaks against it."""
        return bool(self.sign.search(text)) and not (self.against and self.against.search(text))


@dataclass(frozen=True, slots=True)
class Several:
    """A way of writing that stands for one or more instructions: `word` may be * for any.

    With `lacking` it counts only for a processor that has no such word itself.
    """

    word: str
    lacking: bool
    operand: re.Pattern[str]
    instructions: tuple[str, ...]

    def mnemonics(self) -> frozenset[str]:
        """What a processor must have for it."""
        return frozenset(each.partition(" ")[0] for each in self.instructions) - {"*"}

    def of(self, word: str, operand: str) -> tuple[tuple[str, str], ...] | None:
        """The mnemonics and operands that a mnemonic and operand stand for; None when it is not this way of writing."""
        found = self.operand.fullmatch(operand) if self.word in ("*", word) else None
        if found is None:
            return None
        made = (
            (found.expand(each.replace("*", word, 1)) if "\\" in each else each) for each in self.instructions
        )
        return tuple((name, rest) for name, _, rest in (each.partition(" ") for each in made))


@dataclass(frozen=True, slots=True, eq=False)
class Syntax:
    """One file of shared/syntaxes: spelling habits as data, all words in upper case.

    `habits` are those its files may have beyond that, `taken` those that this one has.
    """

    name: str
    grammar: str
    column_one_comments: str
    indented_comments: str
    trailing_comment: str
    slash_comments: tuple[str, ...]
    separators: str
    escapes: bool
    bare_hexadecimal: bool
    include_endings: tuple[str, ...]
    column_one_operations: bool
    unmarked_comments: bool
    name_takers: frozenset[str]
    local_by_label: LocalMarks
    local_by_blank: LocalMarks
    local_by_module: LocalMarks
    local_numbers: bool
    anonymous: bool
    zero_offset_omitted: bool
    brackets_point: bool
    forward_wide: bool
    evaluation: Evaluation
    undefined_zero: bool
    direct_page: int
    system_call: str
    register_spellings: Mapping[str, str]
    here: str
    label_mark: str
    split_operations: frozenset[str]
    index_registers: frozenset[str]
    blank_separated: Mapping[str, int]
    direct_sections: frozenset[str]
    operation_forms: Mapping[str, str]
    alone: Mapping[str, str]
    directives: Mapping[str, str]
    shapes: Mapping[str, Shape]
    several: tuple[Several, ...]
    habits: Mapping[str, Habit]
    taken: frozenset[str]
    silent_marks: str
    flags: str
    flag_operations: Mapping[str, str]
    text_functions: re.Pattern[str] | None

    def mask(self, operation: str, operand: str) -> str | None:
        """The operand that a list of flags stands for, #249 for Z,V that are cleared; None where it is no such list."""
        names = operand.upper().split(",")
        way = self.flag_operations.get(operation)
        if way is None or any(len(name) != 1 or name not in self.flags for name in names):
            return None
        bits = sum(0x80 >> self.flags.index(name) for name in set(names))
        return f"#{bits if way == 'set' else 0xFF - bits}"

    def is_comment(self, text: str, position: int) -> bool:
        """Whether a comment begins at a place behind other fields."""
        return text[position] == self.trailing_comment or (
            text[position] == "/" and text[position : position + 2] in self.slash_comments
        )

    def operand(self, text: str) -> str:
        """An operand text without the marks that mean nothing here and with functions of texts worked out.

        Each character stays in its place.
        """
        if self.text_functions and '"' in text:
            text = self.text_functions.sub(_of_text, self.text_functions.sub(_of_text, text))
        if not any(mark in text for mark in self.silent_marks):
            return text
        parts = _QUOTED_OR_NOT.findall(text)
        return "".join(part if part[0] in "'\"" else part.translate(self._blanks) for part in parts)

    @property
    def _blanks(self) -> dict[int, str]:
        return dict.fromkeys(map(ord, self.silent_marks), " ")

    def directive(self, word: str) -> str | None:
        """The kind of directive `word` is ("bytes"), or None. Case, blanks and a leading dot or # don't matter."""
        word = "".join(word.upper().split())
        kind = self.directives.get(word)
        return kind if kind or word[:1] not in (".", "#") else self.directives.get(word[1:])


@dataclass(frozen=True, slots=True, eq=False)
class Vocabulary:
    """A syntax with one processor's operation words (upper-case).

    `bare` are those without operand, `halves` what can stand apart from each of the syntax's second words, `foreign`
    the words for the same processor that another maker's syntax has; these count only where a file is `mixed`.
    """

    syntax: Syntax
    mnemonics: frozenset[str]
    bare: frozenset[str]
    halves: frozenset[str]
    foreign: frozenset[str] = frozenset()
    formed: re.Pattern[str] | None = None
    mixed: bool = True

    def form(self, written: str) -> tuple[str, str] | None:
        """The mnemonic and the operand of an operation that names its form: STA and ({}),Y for `STA(),Y`."""
        found = self.formed.fullmatch(written.upper()) if self.formed else None
        return (found[1], self.syntax.operation_forms[found[2]]) if found else None

    def mnemonic(self, written: str) -> str | None:
        """The mnemonic that an operation stands for, LDAA for `lda a`; None when it is no instruction."""
        found = "".join(written.upper().split())
        return found if found in self.mnemonics or found in self.foreign else None

    def knows(self, word: str) -> bool:
        """Whether `word` is an instruction, the first half of one, or a directive."""
        upper = word.upper()
        is_instruction = upper in self.mnemonics or upper in self.halves or upper in self.foreign
        return is_instruction or self.form(word) is not None or self.syntax.directive(word) is not None

    def shape(self, word: str) -> Shape:
        """What can follow `word`; an unknown word may be a macro: values and strings."""
        mnemonic = self.mnemonic(word)
        if mnemonic:
            return "none" if mnemonic in self.bare else "plain"
        form = self.form(word)
        if form:
            return "plain" if "{}" in form[1] else "none"
        kind = self.syntax.directive(word)
        return self.syntax.shapes.get(kind, "plain") if kind else "values"


def vocabulary(
    syntax: str,
    mnemonics: Iterable[str],
    bare: Iterable[str],
    foreign: frozenset[str] = frozenset(),
    habits: frozenset[str] = frozenset(),
) -> Vocabulary:
    """The vocabulary of a processor that uses `syntax` with some of its habits.

    Raises TableError when there is no such syntax.
    """
    spelling = load_syntax(syntax, habits)
    words = frozenset(map(str.upper, mnemonics))
    halves = _halves(words, spelling.split_operations)
    formed = _formed(words, spelling)
    return Vocabulary(spelling, words, frozenset(map(str.upper, bare)), halves, foreign - words, formed)


def _formed(mnemonics: frozenset[str], habits: Syntax) -> re.Pattern[str] | None:
    """Finds a mnemonic with a form behind it."""
    if not habits.operation_forms:
        return None
    both = (
        "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
        for words in (mnemonics, habits.operation_forms)
    )
    return re.compile("({})({})".format(*both))


def _halves(mnemonics: frozenset[str], seconds: frozenset[str]) -> frozenset[str]:
    """What makes a mnemonic with every second word: ADD with A and B, but not BR, though BRA is one."""
    stems = [{word[: -len(second)] for word in mnemonics if word.endswith(second)} for second in seconds]
    return frozenset(set.intersection(*stems)) if stems else frozenset()


@cache
def load_syntax(name: str, habits: frozenset[str] = frozenset()) -> Syntax:
    """What shared/syntaxes/`name`.yaml says, with some of its habits; raises TableError when it is missing or wrong."""
    folder = files("clockhop.shared").joinpath("syntaxes")
    known = sorted(entry.name.removesuffix(".yaml") for entry in folder.iterdir())
    if name not in known:
        raise TableError(f'no syntax "{name}"; {nearest(name, known)}')
    root = _merged(name)
    for habit, node in _habits(root).items():
        if habit in habits:
            root = merge(root, node.fields(*_HABIT)["changes"])
    return _syntax(root, habits)


def _habits(root: Node) -> Mapping[str, Node]:
    node = root.mapping().get("habits")
    return node.mapping() if node else {}


def _several(node: Node) -> Several:
    word, operand, *instructions = node.sequence()
    name = word.text().upper()
    return Several(
        name.lstrip("!"),
        name.startswith("!"),
        _expression(operand),
        tuple(each.text() for each in instructions),
    )


def _habit(node: Node) -> Habit:
    entries = node.fields(*_HABIT)
    against = entries.get("against")
    return Habit(
        entries["what"].text(), _expression(entries["sign"]), _expression(against) if against else None
    )


def _expression(node: Node) -> re.Pattern[str]:
    try:
        return re.compile(node.text(), re.IGNORECASE | re.MULTILINE)
    except re.error as fault:
        node.fail(f"no regular expression: {fault}")


def _merged(name: str) -> Node:
    """The file of a syntax, put over the one it extends."""
    root = packaged(f"syntaxes/{name}.yaml", f"{name}.yaml")
    parent = root.mapping().get("extends")
    return merge(_merged(parent.text()), root) if parent else root


def _syntax(root: Node, habits: frozenset[str]) -> Syntax:
    top = root.fields(
        required=[
            "syntax",
            "grammar",
            "comments",
            "column_one_operations",
            "unmarked_comments",
            "name_takers",
            "locals",
            "zero_offset",
            "indexed_brackets",
            "forward",
            "evaluation",
            "undefined",
            "direct_page",
            "system_call",
            "register_spellings",
            "shapes",
            "directives",
        ],
        optional=[
            *("extends", "here", "label_mark", "split_operations", "index_registers", "blank_separated"),
            *("habits", "silent_marks", "separators", "direct_sections", "operation_forms", "alone"),
            *("include_endings", "several", "escapes", "bare_hexadecimal", "flags", "text_functions"),
        ],
    )
    comments = top["comments"].fields(required=["column_one", "indented", "trailing"], optional=["slashes"])
    flags = top["flags"].fields(required=["names", "set", "clear"]) if "flags" in top else None
    local = top["locals"].fields(required=["by_label", "by_blank", "by_module", "numbered", "anonymous"])
    return Syntax(
        name=top["syntax"].text(),
        grammar=top["grammar"].text(),
        column_one_comments=comments["column_one"].text(),
        indented_comments=comments["indented"].text(),
        trailing_comment=comments["trailing"].text(),
        slash_comments=tuple(comments["slashes"].text().split()) if "slashes" in comments else (),
        include_endings=(
            tuple(word.text() for word in top["include_endings"].sequence())
            if "include_endings" in top
            else ()
        ),
        escapes="escapes" in top and _yes(top["escapes"]),
        bare_hexadecimal="bare_hexadecimal" in top and _yes(top["bare_hexadecimal"]),
        separators=top["separators"].text() if "separators" in top else "",
        column_one_operations=_yes(top["column_one_operations"]),
        unmarked_comments=_yes(top["unmarked_comments"]),
        name_takers=_words(top["name_takers"]),
        local_by_label=_marks(local["by_label"]),
        local_by_blank=_marks(local["by_blank"]),
        local_by_module=_marks(local["by_module"]),
        local_numbers=_yes(local["numbered"]),
        anonymous=_yes(local["anonymous"]),
        zero_offset_omitted=top["zero_offset"].choice(["omitted", "kept"]) == "omitted",
        brackets_point=top["indexed_brackets"].choice(["expression", "pointer"]) == "pointer",
        forward_wide=top["forward"].choice(["wide", "narrow"]) == "wide",
        evaluation=_evaluation(top["evaluation"]),
        undefined_zero=top["undefined"].choice(["zero", "unknown"]) == "zero",
        direct_page=top["direct_page"].integer(0, 255),
        system_call=top["system_call"].text().upper(),
        register_spellings={
            written.upper(): node.text().upper()
            for written, node in top["register_spellings"].mapping().items()
        },
        here=top["here"].text() if "here" in top else "*",
        label_mark=top["label_mark"].text() if "label_mark" in top else "",
        split_operations=_words(top.get("split_operations")),
        index_registers=_words(top.get("index_registers")),
        blank_separated=(
            {word.upper(): node.integer(1) for word, node in top["blank_separated"].mapping().items()}
            if "blank_separated" in top
            else {}
        ),
        direct_sections=_words(top.get("direct_sections")),
        operation_forms=_texts(top.get("operation_forms")),
        alone=_texts(top.get("alone")),
        directives=_directives(top["directives"]),
        shapes={
            kind.text(): _SHAPES[shape]
            for shape, kinds in top["shapes"].fields(optional=list(_SHAPES)).items()
            for kind in kinds.sequence()
        },
        several=tuple(_several(node) for node in top["several"].sequence()) if "several" in top else (),
        habits={name: _habit(node) for name, node in _habits(root).items()},
        taken=habits,
        silent_marks=top["silent_marks"].text() if "silent_marks" in top else "",
        flags="".join(name.text() for name in flags["names"].sequence()) if flags else "",
        flag_operations=(
            {word.text().upper(): way for way in ("set", "clear") for word in flags[way].sequence()}
            if flags
            else {}
        ),
        text_functions=_functions(top["text_functions"]) if "text_functions" in top else None,
    )


def _functions(node: Node) -> re.Pattern[str]:
    names = node.fields(required=["length", "character"])
    length, character = (
        "|".join(re.escape(word.text()) for word in each.sequence()) for each in names.values()
    )
    return re.compile(
        rf'(?:(?P<length>{length})|(?:{character}))\s*\(\s*"(?P<text>[^"]*)"\s*(?:,\s*(?P<at>\d{{1,4}}(?:\s*[-+]\s*\d{{1,4}})?)\s*)?\)',
        re.IGNORECASE,
    )


def _of_text(found: re.Match[str]) -> str:
    """The length of a text, or the code of one of its characters; as it stands where it has no such character."""
    text, at = found["text"], found["at"]
    if found["length"] and at is None:
        return str(len(text)).ljust(len(found[0]))
    place = sum(map(int, re.findall(r"[-+]?\d+", "".join(at.split())))) if at else -1
    if found["length"] or not 0 <= place < len(text):
        return found[0]
    return str(ord(text[place])).ljust(len(found[0]))


def _words(node: Node | None) -> frozenset[str]:
    return frozenset(word.text().upper() for word in node.sequence()) if node else frozenset()


def _evaluation(node: Node) -> Evaluation:
    found = node.choice(["precedence", "from_left", "as_fits"])
    return "precedence" if found == "precedence" else "from_left" if found == "from_left" else "as_fits"


def _texts(node: Node | None) -> Mapping[str, str]:
    return {word.upper(): text.text() for word, text in node.mapping().items()} if node else {}


def _yes(node: Node) -> bool:
    return node.choice(["yes", "no"]) == "yes"


def _marks(node: Node) -> LocalMarks:
    marks = node.fields(optional=["prefix", "suffix", "inside"])
    return LocalMarks(**{key: value.text() for key, value in marks.items()})


def _directives(node: Node) -> Mapping[str, str]:
    kinds: dict[str, str] = {}
    for kind, words in node.mapping().items():
        for word in words.sequence():
            spelling = word.text().upper()
            if spelling in kinds:
                word.fail(f'directive "{spelling}" stands twice ({kinds[spelling]}, {kind}); keep one')
            kinds[spelling] = kind
    return kinds
