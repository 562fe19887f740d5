"""The settings of a folder: cfgaudit.toml, or [tool.cfgaudit] in pyproject.toml, found upwards.

What they say of the audit itself is understood in house.py, which wants the rules for that.
"""

import os
from collections.abc import Collection, Iterable, Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

import click

from cfgaudit.cli import InputError, did_you_mean
from cfgaudit.cli.files import note_read, refuse_link_out
from cfgaudit.reading.text import Place, bounded_bytes
from cfgaudit.reading.toml import Key, TomlError, line_of, parsed, places

_KEYS = {"dialects", "fail_on"}
_HOUSE = {"limits", "limit", "waive"}  # tables that house.py understands
_CRAFT = {"craft"}
_TABLES = {"cfgaudit", *_CRAFT, *_HOUSE}  # what a cfgaudit.toml can hold


_places = lru_cache(maxsize=4)(places)  # many a place of one file is asked for


class FolderTables(NamedTuple):
    """Tables of a folder's settings as they were read, to be understood where they are wanted.

    Of the audit itself (limits, rules of its own, waivers), or of its craft. `above` is the path
    of the table that the tables stand in.
    """

    file: Path
    text: str
    above: tuple[str, ...]
    tables: dict[str, Any]

    def place(self, keys: Key) -> Place:
        """Where a path below the tables stands."""
        return Place(shown(self.file), line_of(_places(self.text), (*self.above, *keys)))

    def refuse(self, keys: Key, message: str) -> NoReturn:
        """Raise InputError for what stands there."""
        raise InputError(f"{self.place(keys)}: {message}")


class FolderSettings(NamedTuple):
    """What a folder asks for; `dialects` are dialect files, in order of name."""

    dialects: tuple[Path, ...] = ()
    fail_on: str = "error"
    house: FolderTables | None = None  # where it says something of the audit
    craft: FolderTables | None = None  # where it names build sheets
    file: Path | None = None  # where it stands
    found: bool = False  # as the nearest one, and not by its name


def folder_settings(start: Path) -> FolderSettings:
    """The settings that hold for a folder. Raises click.UsageError with file and key."""
    start = start.resolve()
    for folder in (start, *start.parents):
        own = folder / "cfgaudit.toml"
        if is_file(own):
            return settings_in(own)._replace(found=True)
        project = folder / "pyproject.toml"
        if is_file(project):
            data, text = _load(project)
            tools = data.get("tool")
            if isinstance(tools, dict) and "cfgaudit" in tools:
                return _of_project(tools["cfgaudit"], project, text)._replace(found=True)
    return FolderSettings()


def settings_in(own: Path) -> FolderSettings:
    """The settings in a cfgaudit.toml. Raises click.UsageError with file and key."""
    data, text = _load(own)
    _only(data, _TABLES, own, "table")
    made = _made(data.get("cfgaudit", {}), own)
    return _told(made, data, own, text, ())


@cache
def passed_over(file: Path) -> Path | None:
    """The next settings further up than some, which are not used for them."""
    for folder in file.parent.parents:
        if is_file(folder / "cfgaudit.toml"):
            return folder / "cfgaudit.toml"
        project = folder / "pyproject.toml"
        try:
            if is_file(project) and "[tool.cfgaudit" in bounded_bytes(project).decode("utf-8"):
                return project
        except (OSError, UnicodeDecodeError):
            continue  # what can't be read says nothing here either
    return None


def changes_told(settings: FolderSettings) -> str:
    """In one line what a folder's settings change of an audit; empty where they change nothing.

    Also what they keep from being used: settings further up.
    """
    over = passed_over(settings.file) if settings.found and settings.file is not None else None
    told = [_changes(settings)]
    if settings.file is not None and over is not None:
        told.append(f"{shown(settings.file)} is used here, and {shown(over)} further up is not")
    return "; ".join(filter(None, told))


def _changes(settings: FolderSettings) -> str:
    tables = settings.house.tables if settings.house is not None else {}
    said = [] if settings.fail_on == "error" else [f"fail_on is {settings.fail_on}"]
    for table, what in (("limits", "limits moved"), ("limit", "limits added"), ("waive", "waived")):
        if count := _leaves(tables.get(table, ())):
            said.append(f"{what}: {count}")
    if not said or settings.file is None:
        return ""
    return f"{shown(settings.file)} changes the audit: {', '.join(said)}"


def _leaves(table: object) -> int:
    """How many entries there are in a list, or in tables however deep."""
    if isinstance(table, dict):
        return sum(_leaves(value) if isinstance(value, dict) else 1 for value in table.values())
    return len(table) if isinstance(table, list) else 0


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

    def some(names: set[str]) -> FolderTables | None:
        tables = {key: value for key, value in data.items() if key in names}
        return FolderTables(file, text, above, tables) if tables else None

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
    refuse_link_out(file)
    note_read(file)
    try:
        text = bounded_bytes(file).decode("utf-8").replace("\r\n", "\n")
        return parsed(text), text
    except TomlError as error:
        raise click.UsageError(f"{file}:{error.line}: {error}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise click.UsageError(f"{file}: {error}") from None


def _only(table: dict[str, Any], known: set[str], file: Path, what: str) -> None:
    for key in table:
        if key not in known:
            hint = did_you_mean(key, known, start="; did")
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


class NamedSheets(NamedTuple):
    """The build sheets that a folder's settings name."""

    tables: FolderTables
    usual: str  # the file for craft without a table of their own; empty where there is none
    of_craft: dict[str, str]  # by the craft's name, or its dump's without the ending

    def file_for(self, own: str | None) -> str:
        """The sheet's file as it is reached from here; empty where none is named."""
        file = self.of_craft[own] if own is not None else self.usual
        path = self.tables.file.parent / file
        if file and not is_file(path):
            keys = ("build",) if own is None else (own, "build")
            self.tables.refuse(("craft", *keys), f"build: there is no {file}")
        return shown(path) if file else ""

    def unmatched(self, names: Collection[str], dumps: Iterable[str]) -> Iterator[str]:
        """A line for each table of no craft: neither of one with these names, nor of a file there.

        `dumps` are the dumps that were read; a table may be of another one in a folder of theirs.
        """
        read = {Path(dump).resolve() for dump in dumps}
        folders = {self.tables.file.parent.resolve(), *(path.parent for path in read)}
        inside = [folder for folder in folders if folder.is_dir()]  # and no archive
        files = [file for folder in inside for file in folder.iterdir()]
        there = {file.stem for file in files}
        others = {file.stem.casefold() for file in files if file not in read}
        for own in self.of_craft:
            # a dump that was not read may be of a craft that writes its name otherwise
            if own not in there and own not in names and own.casefold() not in others:
                alike = [name for name in names if name.casefold() == own.casefold()]
                hint = f"; letter case counts: {alike[0]}" if alike else ""
                hint = hint or did_you_mean(own, names, start="; did")
                if self.usual and not hint:
                    continue  # the craft has a sheet, and that table is of none like it
                place = self.tables.place(("craft", own))
                yield f"{place}: [craft.{own}] is of no craft here{hint}"


def named_sheets(tables: FolderTables) -> NamedSheets:
    """Understand [craft] and what is below it. Raises InputError, with file and line."""
    said = tables.tables["craft"]
    if not isinstance(said, dict):
        tables.refuse(("craft",), "[craft] must be a table")
    _only_builds(tables, said)
    own = {name: value["build"] for name, value in said.items() if isinstance(value, dict)}
    return NamedSheets(tables, said.get("build", ""), own)


def _only_builds(craft: FolderTables, said: dict[str, Any]) -> None:
    """See that [craft] and each table below it hold a build sheet's name and nothing else."""
    for name, value in said.items():
        if isinstance(value, dict):
            for key in value:
                if key != "build":
                    craft.refuse(("craft", name, key), f"{key} is no setting of a craft; build is")
            if not isinstance(value.get("build"), str):
                craft.refuse(("craft", name), f'[craft.{name}] wants build = "FILE"')
        elif name != "build":
            craft.refuse(
                ("craft", name), f"{name} is no setting of [craft]; build is, or [craft.NAME]"
            )
        elif not isinstance(value, str):
            craft.refuse(("craft", name), 'build wants the name of a file, as in build = "FILE"')


def dialect_files(top: Path, beside: Iterable[str]) -> tuple[Path, ...]:
    """The dialect files that hold in a repository: of its top folder and of others named, once.

    Raises click.UsageError where settings can't be read.
    """
    folders = [top, *(top / name for name in beside)]
    return tuple(dict.fromkeys(path for f in folders for path in folder_settings(f).dialects))
