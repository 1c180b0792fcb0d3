"""The README says what is so: its session is what is printed; its commands, options, keys and notes are the tool's.

`pytest tests/test_readme.py --write-golden` writes the outputs of the session anew.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import click
from clockhop.assemble import words
from clockhop.board import read
from clockhop.cli.entry import commands
from clockhop.cpu import load
from clockhop.rules import RULES
from clockhop.source import parse

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
TEXT = README.read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMAND = re.compile(r"^\$ (.*)$", re.M)
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)


def tool() -> dict[str, click.Command]:
    """Every command by its name."""
    with click.Context(commands) as ctx:
        found = {name: commands.get_command(ctx, name) for name in commands.list_commands(ctx)}
    return {name: command for name, command in found.items() if command is not None}


def chapter(heading: str) -> str:
    return re.split(r"^#+ ", TEXT.split(f"# {heading}\n", 1)[1], maxsplit=1, flags=re.M)[0]


def fenced(language: str) -> list[str]:
    return [body for found, body in FENCE.findall(TEXT) if found == language]


def printed(session: str, folder: Path) -> str:
    """The session with what its commands print today, run one by one in `folder`."""
    path = os.pathsep.join((str(Path(sys.executable).parent), os.environ["PATH"]))
    told = ""
    for command in COMMAND.findall(session):
        done = subprocess.run(
            ["bash", "-c", command],
            cwd=folder,
            env={**os.environ, "PATH": path},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.stderr == ""
        told += f"$ {command}\n{done.stdout}"
    return told


def test_the_session_is_what_the_tool_prints(request, tmp_path):
    folder = tmp_path / "tower"
    shutil.copytree(ROOT / "examples_asm" / "belltower", folder)
    told = FENCE.sub(
        lambda found: f"```console\n{printed(found[2], folder)}```" if found[1] == "console" else found[0],
        TEXT,
    )
    if request.config.getoption("--write-golden"):
        README.write_text(told, encoding="utf-8")
    assert told == README.read_text(encoding="utf-8")


def test_the_first_two_lines_with_a_prompt_install_check_and_test():
    first, second = COMMAND.findall(TEXT)[:2]
    assert first.endswith(".venv/bin/clockhop check examples_asm/belltower/main.asm")
    assert ".venv/bin/pytest" in second


def test_every_command_is_named_and_is_one():
    said = set(re.findall(r"^(?:\$ )?clockhop (\w+)|(?<=`)clockhop (\w+)", TEXT, re.M))
    assert {first or second for first, second in said} == tool().keys() - {"cpus"}
    assert set(re.findall(r"`(\w+)`", chapter("Changes"))) == tool().keys()


def test_every_option_is_one():
    known = {option for command in tool().values() for each in command.params for option in each.opts}
    ours = "\n".join(line for line in TEXT.splitlines() if ".venv/bin/pip" not in line)
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", ours)) <= known


def test_the_session_lists_every_finding_there_is():
    for rule in RULES:
        assert f"\n{rule.name} " in "".join(fenced("console"))


def test_the_project_file_shows_every_key_and_reads():
    (example,) = fenced("yaml")
    project = read(example.replace("crystal:", "# crystal:").replace("divide:", "clock: 1 MHz #"), Path("x"))
    assert [build.name for build in project.builds] == ["tower"]
    assert read(example, Path("clockhop.yaml")).clocks[0].hz == 921600

    schema = json.loads(files("clockhop.shared").joinpath("schemas/project.json").read_text("utf-8"))
    for key in keys(schema["properties"]):
        assert re.search(rf"(?<!\w){key}:", example), key


def keys(properties: dict) -> set[str]:
    """The keys of a schema and of what is inside, without the names a person gives."""
    found = set()
    for name, inner in properties.items():
        found.add(name)
        for held in (inner, inner.get("additionalProperties"), inner.get("items")):
            if isinstance(held, dict):
                found |= keys(held.get("properties", {}))
    return found


def test_every_timing_note_in_it_is_understood():
    notes = re.findall(r"`(timing: .*?)`", chapter("Timing notes"))
    notes += re.findall(r"timing: takes .*|timing: runs .*", fenced("")[0])
    assert len(notes) == 10
    for note in notes:
        source = parse(f"TOLL NOP ; {note}\n".encode(), "bell.asm", words(load("6809")))
        assert len(source.notes) == 1
        assert source.bad_notes == ()


def test_the_contributors_guide_names_files_that_are_there():
    for path in re.findall(r"`((?:lint|grammar|shared|tests|\.ci)/[^` ]*)`", GUIDE):
        assert "NAME" in path or (ROOT / path).exists(), path


def test_the_contributors_guide_shows_python_that_runs():
    (shown,) = re.findall(r"^```python\n(.*?)^```$", GUIDE, re.M | re.S)
    done = subprocess.run(
        [sys.executable, "-c", shown], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert "\nPANFILL Exact(cycles=768) Exact(cycles=9984)\n" in done.stdout
