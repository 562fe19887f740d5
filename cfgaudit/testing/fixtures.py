"""Loads fixtures: one TOML file a rule, `<area>/<what-is-wrong>.toml`.

A case of a fleet rule has `dumps`, a list, in place of `dump`; its paths and what it lacks say
whose they are: `"0: craft.name"` is the first craft's. `factory` holds factory values by path, as
a dialect records them; the plain form has none of its own. `sheet` is the craft's build sheet.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from cfgaudit.craft.sheet_file import read_sheet

LEAST: Final = {"fires": 2, "quiet": 2, "not_checked": 1}  # cases of each kind
_LEVELS: Final = ("error", "warning", "note")


class FixtureError(ValueError):
    """A fixture file that is not as it must be; the text names the file and what is wrong."""


@dataclass(frozen=True, slots=True)
class Case:
    """A dump in the plain form, or several, and what the rule must say of it."""

    kind: str  # fires, quiet or not_checked
    name: str
    dump: str = ""
    dumps: tuple[str, ...] = ()  # in place of `dump`, for a fleet rule
    paths: tuple[str, ...] = ()
    message: tuple[str, ...] = ()
    figures: tuple[tuple[str, float], ...] = ()
    level: str = ""  # empty: not looked at
    mend: tuple[str, ...] | None = None  # None: not looked at
    advice: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    factory: tuple[tuple[str, str], ...] = ()
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class Fixture:
    """All cases of one rule."""

    rule: str
    cases: tuple[Case, ...]


def fixture_files(folder: Path) -> list[Path]:
    """Every fixture file below a folder, sorted."""
    return sorted(folder.glob("*/*.toml"))


def load_fixture(file: Path, *, fleet: bool = False) -> Fixture:
    """Read one file. Raises FixtureError where anything in it is not as it must be."""
    try:
        data = tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise FixtureError(f"{file}: {error}") from None
    unknown = sorted(data.keys() - {"rule", *LEAST})
    if unknown:
        raise FixtureError(f"{file}: unknown key {unknown[0]}")
    expected = f"{file.parent.name}/{file.stem}"
    if data.get("rule") != expected:
        raise FixtureError(f"{file}: rule = {expected!r} is expected")
    cases: list[Case] = []
    for kind, least in LEAST.items():
        tables = data.get(kind, [])
        if not isinstance(tables, list) or len(tables) < least:
            raise FixtureError(f"{file}: at least {least} of [[{kind}]] are expected")
        cases += [_case(file, kind, table, fleet) for table in tables]
    names = [(case.kind, case.name) for case in cases]
    twice = [f"{kind} {name!r}" for kind, name in names if names.count((kind, name)) > 1]
    if twice:
        raise FixtureError(f"{file}: {twice[0]} stands there twice")
    return Fixture(expected, tuple(cases))


# Key: (whether it must be there, how its value is read).
_Reader = Callable[[Any], Any]
_Keys = Mapping[str, tuple[bool, _Reader]]


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("a text is expected")
    return value


def _any_texts(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError("a list is expected")
    return tuple(_text(item) for item in value)


def _texts(value: object) -> tuple[str, ...]:
    texts = _any_texts(value)
    if not texts:
        raise ValueError("the list is empty")
    return texts


def _several(value: object) -> tuple[str, ...]:
    texts = _any_texts(value)
    if len(texts) < 2:
        raise ValueError("two or more are expected")
    return texts


def _figures(value: object) -> tuple[tuple[str, float], ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("a table of numbers is expected")
    for figure in value.values():
        if isinstance(figure, bool) or not isinstance(figure, int | float):
            raise ValueError("a table of numbers is expected")
    return tuple((name, float(figure)) for name, figure in value.items())


def _factory(value: object) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("a table of texts is expected")
    return tuple((path, _text(text)) for path, text in value.items())


def _sheet(value: object) -> str:
    text = _text(value)
    read_sheet(text.encode(), "sheet")
    return text


def _level(value: object) -> str:
    if value not in _LEVELS:
        raise ValueError(f"one of {', '.join(_LEVELS)} is expected")
    return str(value)


_ALWAYS: _Keys = {"name": (True, _text), "dump": (True, _text), "note": (False, _text),
                  "factory": (False, _factory), "sheet": (False, _sheet)}  # fmt: skip
_KEYS: Final[Mapping[str, _Keys]] = {
    "fires": {
        **_ALWAYS,
        # A line that can't be read has no path: there the list is empty.
        "paths": (True, _any_texts),
        "message": (True, _texts),
        "figures": (False, _figures),
        "level": (False, _level),
        "mend": (False, _any_texts),
        "advice": (False, _texts),
    },
    "quiet": _ALWAYS,
    "not_checked": {**_ALWAYS, "lacks": (True, _texts)},
}


def _case(file: Path, kind: str, table: object, fleet: bool) -> Case:
    if not isinstance(table, dict):
        raise FixtureError(f"{file}: [[{kind}]] is expected to be a table")
    where = f"{file}: {kind} {table.get('name', '')!r}"
    keys = dict(_KEYS[kind])
    if fleet:
        del keys["dump"], keys["factory"], keys["sheet"]
        keys["dumps"] = (True, _several)
    unknown = sorted(table.keys() - keys.keys())
    if unknown:
        raise FixtureError(f"{where}: unknown key {unknown[0]}")
    read: dict[str, Any] = {}
    for key, (needed, reader) in keys.items():
        if key in table:
            try:
                read[key] = reader(table[key])
            except ValueError as error:
                raise FixtureError(f"{where}: {key}: {error}") from None
        elif needed:
            raise FixtureError(f"{where}: lacks {key}")
    read.pop("note", None)
    return Case(kind, **read)
