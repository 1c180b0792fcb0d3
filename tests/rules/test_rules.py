"""The list of rules and their pages."""

import textwrap
from importlib.resources import files

import pytest
from clockhop.rules import RULES

PARTS = ["What it finds", "Why it matters", "Example", "Mend", "When to leave it"]


def test_every_file_of_a_rule_is_in_the_list():
    texts = {
        path.name: path.read_text(encoding="utf-8")
        for path in files("clockhop.rules").iterdir()
        if path.name.endswith(".py")
    }
    with_rule = {name for name, text in texts.items() if "\nRULE = Rule(" in text}
    assert with_rule == {f"{rule.name.replace('-', '_')}.py" for rule in RULES}
    assert len(RULES) == len(with_rule)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_page_has_its_five_parts_in_order(rule):
    lines = textwrap.dedent(rule.explanation).strip().splitlines()
    assert [line.split(":")[0] for line in lines if not line.startswith(" ")] == PARTS
    assert not rule.summary.endswith(".")
