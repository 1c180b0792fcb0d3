"""Every figure of the part files is a published one kept in tests/reference; every file fits its schema."""

import json
import re
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
import yaml
from clockhop.board import families
from referencing import Registry, Resource

ROOT = Path(__file__).parents[2]
PART_FILES = sorted((ROOT / "shared" / "parts").glob("*.yaml"))
PUBLISHED = ROOT / "tests/reference/devices"


def plain(path):
    return yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)


FACTS = {
    fact["fact"]: fact for path in sorted(PUBLISHED.glob("*.yaml")) for fact in plain(path).get("facts", ())
}
LEFT_OUT = plain(PUBLISHED / "left_out.yaml")["left_out"]
UNITS = {
    **{"Hz": Fraction(1), "kHz": Fraction(10**3), "MHz": Fraction(10**6)},
    **{"s": Fraction(1), "ms": Fraction(1, 10**3), "us": Fraction(1, 10**6), "ns": Fraction(1, 10**9)},
}
NUMBER = r"\d+(?:\.\d+)?"
# "1.0 / 1.5 / 2.0 MHz" gives three figures in MHz, "120 ns" one in ns.
LISTED = re.compile(rf"((?:{NUMBER}\s*/\s*)*{NUMBER})\s*(MHz|kHz|Hz|ms|us|ns|s)\b")


# Facts whose figure stands in words beside the value; the list may only get shorter.
IN_WORDS = [
    "acia6551.07",
    "cpu8085.02",
    "cpuz80.09",
    "fdc179x.05",
    "psg8910.06",
    "shift595.02",
    "ttl_logic.11",
    "ttl_logic.12",
]
# "66..73 converter clocks" counts clocks, whatever unit the fact has.
COUNTED = re.compile(rf"({NUMBER}) (?:\w+ )?clocks\b")


def figures():
    for path in PART_FILES:
        part = plain(path)
        for section in ("limits", "ratings", "bus_times", "figures", "formulas", "cautions"):
            for number, figure in enumerate(part.get(section, ()), 1):
                yield pytest.param(part, figure, id=f"{path.stem}-{section}-{number}")
        for number, figure in enumerate(part.get("bus", {}).get("terms", {}).values(), 1):
            yield pytest.param(part, figure, id=f"{path.stem}-bus-{number}")
        if "slowest" in part.get("own_clock", ()):
            yield pytest.param(part, part["own_clock"], id=f"{path.stem}-own-clock")


def published(fact):
    """Every figure the fact mentions, in seconds or hertz; a bare number has the fact's own unit."""
    texts = [
        fact[key] for key in ("value", "condition", "note", "maximum", "quantity", "conflict") if key in fact
    ]
    found = {
        Fraction(number) * UNITS[unit]
        for text in texts
        for numbers, unit in LISTED.findall(text)
        for number in re.findall(NUMBER, numbers)
    }
    found |= {Fraction(number) for text in texts for number in COUNTED.findall(text)}
    plainly = texts if fact["fact"] in IN_WORDS else [fact["value"]]
    numbers = [Fraction(number) for text in plainly for number in re.findall(NUMBER, text)]
    return found | {number * UNITS.get(fact["unit"], Fraction(1)) for number in numbers}


def stated(figure):
    """Every amount of the figure in the unit `published` uses, whether one for all grades or one for each."""
    for key in ("least", "most", "clocks", "bits", "at", "slowest", "time"):
        if key in figure:
            amount = figure[key]
            for text in amount.values() if isinstance(amount, dict) else [amount]:
                number, _, unit = text.partition(" ")
                yield Fraction(number) * UNITS.get(unit, Fraction(1)), unit


@pytest.mark.parametrize(("part", "figure"), list(figures()))
def test_a_figure_is_the_published_one_and_names_its_source(part, figure):
    names = figure.get("fact", "").split()
    if not names:
        assert figure["note"].startswith("common practice")
        return
    facts = [FACTS[name] for name in names]
    known = {value for fact in facts for value in published(fact)}
    derived = figure.get("note", "").startswith("derived: ")
    for value, unit in stated(figure):
        # A clock may be published as the cycle it makes, and the other way round: 10 us are 100 kHz.
        turned = unit != "" and value and 1 / value in known
        assert value in known or turned or derived, (value, sorted(known))
    memory = [fact["from_memory"] for fact in facts]
    assert memory == [figure.get("from_memory", "false")] * len(facts)
    titles = {fact["source"]["title"] for fact in facts}
    if memory[0] == "false":
        source = part["sources"][figure["source"]]
        assert titles == {source["title"]}


def test_no_more_than_10_figures_are_derived_from_published_ones():
    """How is said in their note. The number may only get smaller."""
    derived = [item for item in figures() if item.values[1].get("note", "").startswith("derived: ")]
    known = {
        item.id: {value for name in item.values[1]["fact"].split() for value in published(FACTS[name])}
        for item in derived
    }
    new = [item.id for item in derived if any(v not in known[item.id] for v, _ in stated(item.values[1]))]
    assert len(new) == 10


def used_facts():
    """Every fact a part file names, wherever it names it."""
    waiting = [plain(path) for path in PART_FILES]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            yield from value.get("fact", "").split() if isinstance(value.get("fact", ""), str) else ()
            waiting += value.values()
        elif isinstance(value, list):
            waiting += value


def test_every_published_fact_is_used_by_a_part_or_left_out_for_a_reason():
    used, left = set(used_facts()), set(LEFT_OUT)
    assert used | left == set(FACTS)
    assert used & left == set()
    assert all(LEFT_OUT.values())


def test_of_416_published_facts_none_is_left_out():
    assert (len(FACTS), len(LEFT_OUT)) == (416, 0)


@pytest.mark.parametrize("path", PART_FILES, ids=lambda path: path.stem)
def test_a_part_file_fits_its_schema(path):
    jsonschema.validate(plain(path), json.loads((ROOT / "shared/schemas/part.json").read_text()))


def test_project_files_fit_their_schema_and_strange_keys_do_not():
    schemas = ROOT / "shared" / "schemas"
    part, project = (json.loads((schemas / name).read_text()) for name in ("part.json", "project.json"))
    registry = Registry().with_resource("part.json", Resource.from_contents(part))
    validator = jsonschema.Draft202012Validator(project, registry=registry)
    text = """\
processor: 6809
clock: 0.9216 MHz
families: [{family: hammer, title: hammer, kind: device, ports: {latch: 0}}]
parts:
  dial: {family: 44780, behind: {data: PIA_A, control: PIA_B, enable: bit 0, select: bit 1}}
  striker: {family: hammer, at: $8010, hurts: true}
"""
    assert list(validator.iter_errors(yaml.safe_load(text))) == []
    assert list(validator.iter_errors(yaml.safe_load(text + "colour: blue\n"))) != []


def test_a_name_means_one_family_or_grade_only():
    words = [
        word.casefold()
        for family in families()
        for word in {family.name, *family.names, *(name for grade in family.grades for name in grade.names)}
    ]
    assert len(words) == len(set(words))


def test_every_family_has_the_name_of_its_file():
    assert sorted(family.name for family in families()) == sorted(path.stem for path in PART_FILES)
