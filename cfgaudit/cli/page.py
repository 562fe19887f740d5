"""`cfgaudit page`: one HTML file that does cfgaudit's work in a browser, without a network."""

import os
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli import InputError, Refusing, say
from cfgaudit.cli.folder import FolderSettings, folder_settings, is_file

if TYPE_CHECKING:  # loaded where it is used
    from cfgaudit.work.page_runtime import Runtime


@click.command()
@click.argument("folder", default=".")
@click.option("--output", metavar="FILE", required=True, help="Write here, whole or not at all.")
@click.option(
    "--runtime", metavar="FOLDER", help="The npm package pyodide, unpacked; else npm fetches it."
)
def command(folder: str, output: str, runtime: str | None) -> int:
    """One HTML file that audits, compares and mends dumps in a browser, with this same Python.

    Opened from the file system it asks the network for nothing. The dialects, build sheets and
    rules that hold for FOLDER (this one, if not told otherwise) are put into it.

    Making it takes Node.js with npm, which fetches the browser's Python unless --runtime names it.
    """
    start = Path(folder)
    if not start.is_dir():
        raise InputError(f"{folder} is no folder")
    settings = folder_settings(start)
    files = baked_files(settings)
    made = _runtime(runtime)
    from cfgaudit.cli.files import note_read, refuse_own_input, write_atomically
    from cfgaudit.reports.offline_page import Contents, offline_html
    from cfgaudit.work.page_runtime import tarred

    top = _top([start.resolve(), *(file.parent for file in files)])
    for file in files:
        note_read(file)
    refuse_own_input(output)
    inside = {file.relative_to(top).as_posix(): file.read_bytes() for file in files}
    contents = Contents(
        made.script,
        made.wasm,
        made.library,
        made.packages,
        tarred(inside),
        start.resolve().relative_to(top).as_posix(),
        [os.path.relpath(file, start.resolve()) for file in files],
        _plugins(),
    )
    data = offline_html(contents).encode("utf-8")
    write_atomically(Path(output), data)
    for name in contents.baked:
        say(f"in it: {name}")
    for name in contents.missing:
        say(f"not in it: {name}")
    say(f"written: {output}, {len(data) / 1e6:.1f} MB")
    return 0


def baked_files(settings: FolderSettings) -> tuple[Path, ...]:
    """The files that a folder's settings speak of, and their own: settings, dialects, sheets."""
    if settings.file is None:
        return ()
    sheets: list[Path] = []
    craft = settings.craft.tables["craft"] if settings.craft is not None else {}
    for told in (craft, *craft.values()) if isinstance(craft, dict) else ():
        named = told.get("build") if isinstance(told, dict) else None
        if isinstance(named, str) and is_file(settings.file.parent / named):
            sheets.append(settings.file.parent / named)
    found = [settings.file, *settings.dialects, *sheets]
    return tuple(sorted({file.resolve() for file in found}))


def _runtime(named: str | None) -> "Runtime":
    """The browser's Python with all that it needs. Raises InputError."""
    from cfgaudit.work.page_runtime import CannotMake, made_runtime, runtime_folder

    unpacked = runtime_folder() if named is None else nullcontext(Path(named))
    with Refusing(CannotMake), unpacked as folder:
        return made_runtime(folder)


def _top(folders: list[Path]) -> Path:
    """The folder that all of these are in."""
    try:
        return Path(os.path.commonpath(folders))
    except ValueError:  # on several drives
        raise InputError("the dialects, sheets and settings are on several drives") from None


def _plugins() -> list[str]:
    """The rules of other packages that are installed here: a page has none of them."""
    from cfgaudit.audit.plugins import installed

    names = (Path(record).name.removesuffix(".dist-info") for record in installed(sys.path))
    return [f"the rules of {name}" for name in names]
