"""The settings of a folder: cfgaudit.toml, or [tool.cfgaudit] in pyproject.toml, found upwards."""

import os
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import click

_KEYS = {"dialects", "fail_on"}
_HOUSE = {"limits", "limit", "waive"}  # tables that house_tables.py understands
_CRAFT = {"craft"}  # the table that building.py understands
_TABLES = {"cfgaudit", *_CRAFT, *_HOUSE}  # what a cfgaudit.toml can hold


class House(NamedTuple):
    """Tables of a folder's settings as they were read, for the module that understands them.

    Of the audit itself (limits, rules of its own, waivers), or of its craft. `above` is the path
    of the table that the tables stand in.
    """

    file: Path
    text: str
    above: tuple[str, ...]
    tables: dict[str, Any]


class FolderSettings(NamedTuple):
    """What a folder asks for; `dialects` are dialect files, in order of name."""

    dialects: tuple[Path, ...] = ()
    fail_on: str = "error"
    house: House | None = None  # where it says something of the audit
    craft: House | None = None  # where it names build sheets
    file: Path | None = None  # where it stands


def folder_settings(start: Path) -> FolderSettings:
    """The settings that hold for a folder. Raises click.UsageError with file and key."""
    start = start.resolve()
    for folder in (start, *start.parents):
        own = folder / "cfgaudit.toml"
        if is_file(own):
            data, text = _load(own)
            _only(data, _TABLES, own, "table")
            made = _made(data.get("cfgaudit", {}), own)
            return _told(made, data, own, text, ())
        project = folder / "pyproject.toml"
        if is_file(project):
            data, text = _load(project)
            tools = data.get("tool")
            if isinstance(tools, dict) and "cfgaudit" in tools:
                return _of_project(tools["cfgaudit"], project, text)
    return FolderSettings()


def _of_project(table: object, file: Path, text: str) -> FolderSettings:
    """The settings in [tool.cfgaudit], and the tables below it."""
    if not isinstance(table, dict):
        return _made(table, file)
    tables = {key: value for key, value in table.items() if key in _TABLES - {"cfgaudit"}}
    made = _made({key: value for key, value in table.items() if key not in tables}, file)
    return _told(made, tables, file, text, ("tool", "cfgaudit"))


def _told(
    made: FolderSettings, data: dict[str, Any], file: Path, text: str, above: tuple[str, ...]
) -> FolderSettings:
    """The settings with the tables that other modules understand."""

    def some(names: set[str]) -> House | None:
        tables = {key: value for key, value in data.items() if key in names}
        return House(file, text, above, tables) if tables else None

    return made._replace(house=some(_HOUSE), craft=some(_CRAFT), file=file)


def shown(file: Path) -> str:
    """A file's name for reports: as it is reached from the working folder."""
    try:
        return os.path.relpath(file)
    except ValueError:  # on another drive
        return str(file)


def is_file(path: Path) -> bool:
    """Whether there is such a file, as far as it can be seen from here."""
    try:
        return path.is_file()
    except OSError:  # a folder that may not be searched, a name too long
        return False


def _load(file: Path) -> tuple[dict[str, Any], str]:
    """What a file says, and its text."""
    try:
        text = file.read_text(encoding="utf-8")
        return tomllib.loads(text), text
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise click.UsageError(f"{file}: {error}") from None


def _only(table: dict[str, Any], known: set[str], file: Path, what: str) -> None:
    for key in table:
        if key not in known:
            from difflib import get_close_matches

            near = get_close_matches(key, known, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            if what == "table" and key in _KEYS:
                hint = "; it belongs below [cfgaudit]"
            raise click.UsageError(f"{file}: {key} is no {what} of cfgaudit{hint}")


def _made(table: object, file: Path) -> FolderSettings:
    if not isinstance(table, dict):
        raise click.UsageError(f"{file}: [cfgaudit] must be a table")
    _only(table, _KEYS, file, "setting")
    fail_on = table.get("fail_on", "error")
    if fail_on not in ("error", "warning", "note", "never"):
        raise click.UsageError(f"{file}: fail_on must be error, warning, note or never")
    named = table.get("dialects", [])
    if not isinstance(named, list) or not all(isinstance(item, str) for item in named):
        raise click.UsageError(f"{file}: dialects must be a list of files or folders")
    dialects: list[Path] = []
    for item in named:
        path = file.parent / item
        if path.is_dir():
            dialects += sorted(path.glob("*.toml"))
        elif path.is_file():
            dialects.append(path)
        else:
            raise click.UsageError(f"{file}: dialects: there is no {item}")
    return FolderSettings(tuple(dialects), fail_on)
