"""Reads what the user names: dumps, dialects, and several dumps as one craft."""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.settings import FolderSettings, folder_settings, is_file
from cfgaudit.dialects.load import load_dialect
from cfgaudit.dialects.model import Dialect, DialectError
from cfgaudit.dialects.opening import Opened, bundled_dialects, open_dump

if TYPE_CHECKING:  # most folders have no rules of their own; reading alone wants none
    from cfgaudit.cli.house_tables import HouseRules
    from cfgaudit.rules.plugins import Plugins

_TOP = 4_000  # bytes of a dump in which its firmware usually names itself


class Inputs:
    """What one command reads: each dump in its dialect, by the settings of its folder."""

    def __init__(self, dialect: str | None = None, stdin_name: str = "standard input") -> None:
        self._named = dialect
        self._stdin_name = stdin_name
        self._loaded: dict[Path, Dialect] = {}
        self._folders: dict[Path, FolderSettings] = {}
        self._houses: dict[Path, HouseRules] = {}
        self._plugins: Plugins | None = None
        self._spent = False  # standard input can be read once

    def folder(self, dump: str) -> FolderSettings:
        """The settings of the folder that a dump is in."""
        start = Path.cwd() if dump == "-" else Path(dump).parent
        if start not in self._folders:
            self._folders[start] = folder_settings(start)
        return self._folders[start]

    def house(self, dump: str) -> "HouseRules | None":
        """What that folder says of the audit, if it says anything. Raises InputError."""
        house = self.folder(dump).house
        if house is None:
            return None
        if house.file not in self._houses:
            from cfgaudit.cli.house_tables import read_house

            self._houses[house.file] = read_house(house, self.plugins())
        return self._houses[house.file]

    def plugins(self) -> "Plugins":
        """The rules of other packages; what is wrong with one is told once."""
        if self._plugins is None:
            from cfgaudit.cli.plugins import plugins_here

            self._plugins = plugins_here()
        return self._plugins

    def open(self, dump: str, extra: Sequence[str] = ()) -> Opened:
        """Read a dump and the others of the same craft. Raises InputError."""
        first = self._open_one(dump, self._named)
        settings = first.settings
        for other in extra:
            settings = settings.joined(self._open_one(other, None).settings)
        return Opened(first.document, first.dialect, settings)

    def _open_one(self, dump: str, named: str | None) -> Opened:
        if dump == "-" and self._spent:
            raise click.UsageError("standard input can be read once; `-` is named twice")
        self._spent = self._spent or dump == "-"
        data, name = read_bytes(dump, self._stdin_name)
        chosen = None if named is None else self._chosen(named, list(self._dialects(dump, b"")))
        try:
            return open_dump(name, data, self._dialects(dump, data), chosen)
        except DialectError as error:
            raise InputError(str(error)) from None

    def _dialects(self, dump: str, data: bytes) -> Iterator[Dialect]:
        """Loaded one by one as they are taken, those first whose name the dump's top mentions."""
        top = data[:_TOP]
        files = self.folder(dump).dialects
        for path in sorted(files, key=lambda path: path.stem.encode() not in top):
            yield self._load(path)
        yield from bundled_dialects()

    def _load(self, path: Path) -> Dialect:
        if path not in self._loaded:
            try:
                self._loaded[path] = load_dialect(path)
            except DialectError as error:
                raise InputError(str(error)) from None
        return self._loaded[path]

    def _chosen(self, named: str, dialects: Sequence[Dialect]) -> Dialect:
        for dialect in dialects:
            if dialect.name == named:
                return dialect
        if is_file(Path(named)):
            return self._load(Path(named))
        known = ", ".join(dialect.name for dialect in dialects)
        raise InputError(f"there is no dialect {named!r}; known here: {known}; or name a file")


def read_bytes(dump: str, stdin_name: str) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input for `-`; and the name for reports."""
    if dump == "-":
        return sys.stdin.buffer.read(), stdin_name
    try:
        return Path(dump).read_bytes(), dump
    except IsADirectoryError:
        raise InputError(f"{dump} is a folder; a dump file is expected") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{dump} can't be read: {reason}") from None
