"""What the floor may import: the standard library's light part, and itself."""

import ast
from pathlib import Path

import pytest

import cfgaudit.physics

FILES = sorted(Path(cfgaudit.physics.__path__[0]).glob("*.py"))
LIGHT = {"cmath", "collections", "dataclasses", "functools", "itertools", "math", "typing"}


def imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add(node.module or "")
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_formula_module_imports_only_light_modules_and_its_own_floor(path: Path) -> None:
    for name in imported(path):
        assert name.startswith("cfgaudit.physics.") or name.split(".")[0] in LIGHT


def test_the_floor_has_the_modules_that_the_rules_lean_on() -> None:
    assert {"serial", "allocation", "filters", "power"} <= {path.stem for path in FILES}
