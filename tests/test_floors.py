"""Each package imports only from the floors below it, as the plan of the house says."""

import ast
from collections.abc import Iterator
from pathlib import Path

import clockhop
import pytest

# From the ground up. A package imports from itself and from lower floors, never from beside or above.
FLOORS = (
    (
        "errors",
        "quantity",
        "address",
        "visible",
        "looked",
        "tree",
        "cache",
        "packaged",
        "whole",
        "grammar",
        "shared",
    ),
    ("tables",),
    ("cpu",),
    ("source", "board"),
    ("assemble",),
    ("flow",),
    ("timing",),
    ("rules",),
    ("chain",),
    ("mend",),
    ("report",),
    ("editor",),
    ("cli",),
)
# On one floor: quantity raises what errors defines.
BESIDE = {("quantity", "errors"), ("quantity", "packaged"), ("packaged", "cache")}

ROOT = Path(clockhop.__file__).parent
FLOOR = {name: number for number, floor in enumerate(FLOORS) for name in floor}
MODULES = sorted(path for path in ROOT.rglob("*.py") if path != ROOT / "__init__.py")


def package_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[str]:
    """The packages of clockhop that a module imports, wherever in it the import stands."""
    depth = len(path.relative_to(ROOT).parts)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level == depth:
            # `from .. import x` names the packages in what it imports, `from ..x.y import z` in its module.
            names = [node.module] if node.module else [alias.name for alias in node.names]
            yield from (name.split(".")[0] for name in names if name != "__version__")
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            assert node.module.split(".")[0] != "clockhop", f"{path}: import relatively"


def test_every_package_has_its_floor():
    assert {package_of(path) for path in MODULES} <= FLOOR.keys()


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_down(path):
    package = package_of(path)
    for name in imported(path):
        if name != package and (package, name) not in BESIDE:
            assert FLOOR[name] < FLOOR[package], f"{package} imports {name}"


def test_no_stage_before_the_rules_knows_a_frequency():
    for path in MODULES:
        if package_of(path) in ("cpu", "assemble", "flow", "timing"):
            assert "quantity" not in set(imported(path)), path
