"""One class name, one meaning: what a name stands for never hangs on the module it is read in."""

import ast
from collections.abc import Iterator
from pathlib import Path

import cfgaudit

PACKAGE = Path(cfgaudit.__path__[0])


def defined(module: ast.Module) -> Iterator[str]:
    """The classes of a module, those inside of others too, and its own names for types.

    A name for a type is assigned once, and begins as a class does; one letter is a type variable.
    """
    for node in ast.walk(module):
        if isinstance(node, ast.ClassDef):
            yield node.name
    for node in module.body:
        targets = node.targets if isinstance(node, ast.Assign) else []
        yield from (t.id for t in targets if isinstance(t, ast.Name) and _is_class_name(t.id))


def _is_class_name(name: str) -> bool:
    own = name.lstrip("_")
    return own[:1].isupper() and not own.isupper()


def test_what_is_looked_for_are_classes_and_names_for_types() -> None:
    text = "class A(B):\n    class Inner: ...\n_Pair = tuple[A, A]\nT = TypeVar('T')\nMOST = 3\n"
    assert list(defined(ast.parse(text))) == ["A", "Inner", "_Pair"]


def test_no_two_modules_give_one_name_to_two_classes() -> None:
    found: dict[str, list[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        for name in defined(ast.parse(path.read_text(encoding="utf-8"))):
            # private or not: _Line and Line would still be mixed up by who reads both
            found.setdefault(name.lstrip("_"), []).append(f"{path.relative_to(PACKAGE)}: {name}")
    assert len(found) > 500  # so that a folder that is not found is noticed
    assert {name: places for name, places in found.items() if len(places) > 1} == {}
