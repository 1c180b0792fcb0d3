"""Which habits a file has, told from its text: whose mnemonics it uses, and what its marks mean."""

import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Final

from .vocabulary import Vocabulary

# A word where an operation stands: behind blanks, a label, or at the start of the line.
_OPERATIONS = re.compile(
    r"(?:^|[\r\n])(?:[\w.@?$]*:)?(?:[\w.@?$]+[ \t]+|[ \t]*)([A-Za-z]{2,5})(?![\w.:=$@?])"
)
# A file is written in the words of two makers where those of the second come more than once, and not far less often.
_FAR_LESS: Final = 4


@dataclass(frozen=True, slots=True, eq=False)
class Dialects:
    """What a file may be written in.

    `words` are the mnemonics of each maker by syntax, that to take where a text does not tell first; `made` gives the
    vocabulary of one of these syntaxes with a set of habits. `stated` are habits that somebody has decided: those a
    text has (true) or has not (false), whatever it looks like.
    """

    words: Mapping[str, frozenset[str]]
    made: Callable[[str, frozenset[str]], Vocabulary]
    stated: Mapping[str, bool] = field(default_factory=dict)

    def of(self, text: str) -> Vocabulary:
        """The vocabulary to read a text with."""
        found = Counter(map(str.upper, _OPERATIONS.findall(text))) if len(self.words) > 1 else Counter[str]()
        syntax = self._syntax(found)
        habits = self.made(syntax, frozenset()).syntax.habits
        seen = {name for name, habit in habits.items() if habit.is_in(text)}
        taken = {name for name in habits if self.stated.get(name, name in seen)}
        made = self.made(syntax, frozenset(taken))
        return made if self._mixed(syntax, found) else _unmixed(made)

    def _mixed(self, syntax: str, found: Counter[str]) -> bool:
        """Whether a file may have words of another maker; what is not the processor's own syntax lacks some."""
        first, *others = self.words
        own = _count(found, self._only(syntax))
        counts = [_count(found, self._only(other)) for other in others]
        return syntax != first or not others or any(n > 1 and n * _FAR_LESS >= own for n in counts)

    def _syntax(self, found: Counter[str]) -> str:
        """The syntax whose own words come most often; the first where no other has more."""
        first = next(iter(self.words))
        return max(self.words, key=lambda syntax: (_count(found, self._only(syntax)), syntax == first))

    def _only(self, syntax: str) -> frozenset[str]:
        return _only(syntax, tuple(self.words.items()))


@cache
def _unmixed(vocabulary: Vocabulary) -> Vocabulary:
    return replace(vocabulary, mixed=False)


@cache
def _only(syntax: str, words: tuple[tuple[str, frozenset[str]], ...]) -> frozenset[str]:
    return dict(words)[syntax].difference(*(found for other, found in words if other != syntax))


def _count(found: Counter[str], words: frozenset[str]) -> int:
    return sum(found[word] for word in words)
