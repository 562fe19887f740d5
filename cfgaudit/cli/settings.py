"""The settings of a folder: cfgaudit.toml, or [tool.cfgaudit] in pyproject.toml, found upwards."""

import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import click

_KEYS = {"dialects", "fail_on"}
_TABLES = {"cfgaudit", "craft"}  # what a cfgaudit.toml can hold


class FolderSettings(NamedTuple):
    """What a folder asks for; `dialects` are dialect files, in order of name."""

    dialects: tuple[Path, ...] = ()
    fail_on: str = "error"


def folder_settings(start: Path) -> FolderSettings:
    """The settings that hold for a folder. Raises click.UsageError with file and key."""
    start = start.resolve()
    for folder in (start, *start.parents):
        own = folder / "cfgaudit.toml"
        if is_file(own):
            data = _load(own)
            _only(data, _TABLES, own, "table")
            return _made(data.get("cfgaudit", {}), own)
        project = folder / "pyproject.toml"
        if is_file(project):
            tools = _load(project).get("tool")
            if isinstance(tools, dict) and "cfgaudit" in tools:
                return _made(tools["cfgaudit"], project)
    return FolderSettings()


def is_file(path: Path) -> bool:
    """Whether there is such a file, as far as it can be seen from here."""
    try:
        return path.is_file()
    except OSError:  # a folder that may not be searched, a name too long
        return False


def _load(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
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
