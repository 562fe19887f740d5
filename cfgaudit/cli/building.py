"""Which build sheet belongs to which craft: `--build`, else what the folder's settings say."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NoReturn

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.settings import House, is_file, shown
from cfgaudit.reports.safe import safe
from cfgaudit.settings import Settings


def sheets(
    inputs: Inputs,
    dumps: Sequence[str],
    crafts: Sequence[Settings],
    named: Sequence[str],
    *,
    one_craft: bool = False,
) -> list[Settings | None]:
    """The build sheet of each craft, None where it has none. Raises InputError, UsageError.

    `named` are the `--build` options; a craft that they leave out goes by its folder's settings.
    """
    given = shared_out(dumps, named, one_craft=one_craft, option="--build")
    read: dict[str, Settings] = {}
    found: list[Settings | None] = []
    for dump, settings, files in zip(dumps, crafts, given, strict=True):
        if len(files) > 1:
            raise click.UsageError(f"one craft has one build sheet; {dump} is given two")
        file = files[0] if files else _of_folder(inputs.folder(dump).craft, dump, settings)
        if file and file not in read:
            read[file] = open_sheet(file)
        found.append(read[file] if file else None)
    return found


def open_sheet(file: str, *, tell: bool = True) -> Settings:
    """What a build sheet states. Tells what is odd, or not; raises InputError with every fault."""
    from cfgaudit.craft.sheet import SheetError, read_sheet

    data, name = read_bytes(file, "standard input")
    try:
        sheet = read_sheet(data, name)
    except SheetError as error:
        count = len(error.faults)
        what = "a fault" if count == 1 else f"{count} faults"
        raise InputError(f"{name} has {what}:\n{error}") from None
    for note in sheet.dumps[0].notes if tell else ():
        click.echo(f"{safe(name)}: {safe(note)}", err=True)
    return sheet


def beside(settings: Settings, sheet: Settings | None) -> Settings:
    """The settings with those of the build sheet behind them, for a report that lists both."""
    if sheet is None:
        return settings
    return replace(settings, stated={**settings.stated, **sheet.stated})


def _of_folder(craft: House | None, dump: str, settings: Settings) -> str:
    """The sheet's file by the folder's settings; empty where they name none."""
    if craft is None:
        return ""
    said = craft.tables["craft"]
    if not isinstance(said, dict):
        _refuse(craft, (), "[craft] must be a table")
    name = settings["craft.name"].value if "craft.name" in settings else None
    keys: tuple[str, ...] = ()
    for own in (name, Path(dump).stem):
        if not keys and isinstance(own, str) and isinstance(said.get(own), dict):
            keys = (own, "build")
    _only_builds(craft, said)
    file = said[keys[0]]["build"] if keys else said.get("build")
    if not isinstance(file, str):
        return ""
    path = craft.file.parent / file
    if not is_file(path):
        _refuse(craft, keys or ("build",), f"build: there is no {file}")
    return shown(path)


def _only_builds(craft: House, said: dict[str, Any]) -> None:
    """See that [craft] and each table below it hold a build sheet's name and nothing else."""
    for name, value in said.items():
        if isinstance(value, dict):
            for key in value:
                if key != "build":
                    _refuse(craft, (name, key), f"{key} is no setting of a craft; build is")
            if not isinstance(value.get("build"), str):
                _refuse(craft, (name,), f'[craft.{name}] wants build = "FILE"')
        elif name != "build":
            _refuse(craft, (name,), f"{name} is no setting of [craft]; build is, or [craft.NAME]")
        elif not isinstance(value, str):
            _refuse(craft, (name,), 'build wants the name of a file, as in build = "FILE"')


def _refuse(craft: House, keys: tuple[str, ...], message: str) -> NoReturn:
    from cfgaudit.reading.toml import line_of, places

    line = line_of(places(craft.text), (*craft.above, "craft", *keys))
    raise InputError(f"{shown(craft.file)}:{line}: {message}")
