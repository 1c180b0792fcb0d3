"""What the JSON forms print of every example is what their schemas say, and the schemas require every key they name."""

import json
from pathlib import Path

import jsonschema
import pytest
from clockhop.cli import entry

ROOT = Path(__file__).parents[2]
EXAMPLES = ("belltower", "chimebox", "diallamp", "striker", "tidebell")
COMMANDS = ("check", "margins", "durations", "budget")


def schema(command):
    return json.loads((ROOT / f"shared/schemas/report-{command}.json").read_text())


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_json_form_of_an_example_is_what_its_schema_says(name, monkeypatch, tmp_path, capsys):
    monkeypatch.chdir(ROOT / "examples_asm" / name)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    (source,) = [
        path.name
        for path in Path().glob("*.asm")
        if f"source: {path.name}" in Path("clockhop.yaml").read_text()
    ]
    for command in COMMANDS:
        wanted = [] if command == "budget" else [source]
        entry.run([command, *wanted, "--form", "json", *(["--clock", "3 MHz"] if wanted else [])])
        jsonschema.validate(json.loads(capsys.readouterr().out), schema(command))


@pytest.mark.parametrize("command", ["check", "margins", "budget", "mend", "compose"])
def test_a_schema_requires_every_key_that_it_names_and_allows_no_other(command):
    for where, node in objects(schema(command), command):
        assert node.get("additionalProperties") is False, where
        assert set(node.get("required", ())) == set(node["properties"]), where


def objects(node, where):
    if isinstance(node, dict):
        if isinstance(node.get("properties"), dict):
            yield where, node
        for key, value in node.items():
            yield from objects(value, f"{where}/{key}")
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from objects(value, f"{where}/{number}")
