"""Every processor table has the shape of shared/schemas/cpu.json and the order a reader counts on."""

import json
from importlib.resources import files
from typing import Any

import jsonschema
import pytest
import yaml

SHARED = files("clockhop.shared")
TABLES = [file.name for file in SHARED.joinpath("cpus").iterdir() if file.name.endswith(".yaml")]


def raw(name: str) -> dict[str, Any]:
    text = SHARED.joinpath("cpus", name).read_text(encoding="utf-8")
    found: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)
    return found


@pytest.mark.parametrize("name", TABLES)
def test_a_table_has_the_shape_of_its_schema(name: str) -> None:
    schema = json.loads(SHARED.joinpath("schemas", "cpu.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(raw(name))
    assert raw(name)["cpu"] + ".yaml" == name


@pytest.mark.parametrize("name", TABLES)
def test_rows_stand_in_opcode_order(name: str) -> None:
    codes = [bytes.fromhex(row[0].partition("|")[0].replace("_", "")[2:]) for row in raw(name)["opcodes"]]
    assert codes == sorted(codes, key=lambda code: (len(code), code))


def test_a_table_of_another_shape_is_refused() -> None:
    schema = json.loads(SHARED.joinpath("schemas", "cpu.json").read_text(encoding="utf-8"))
    with pytest.raises(jsonschema.ValidationError, match="'0x1' does not match"):
        jsonschema.validate(
            {"cpu": "1", "title": "", "sources": {}, "opcodes": [["0x1", "NOP", "", "", "", ""]]}, schema
        )
