"""Reads what the user names: dumps, dialects, and several dumps as one craft."""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.limits import bounds_asked_for
from cfgaudit.cli.settings import FolderSettings, folder_settings, is_file
from cfgaudit.dialects.dialect import Dialect, DialectError, load_dialect
from cfgaudit.dialects.opening import NoSuchPart, Opened, Reading, bundled_dialects, open_dump
from cfgaudit.dialects.reader import read_settings

if TYPE_CHECKING:  # most folders have no rules of their own; reading alone wants none
    from cfgaudit.audit.plugins import Plugins
    from cfgaudit.cli.house_tables import HouseRules

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
        start = Path.cwd() if dump == "-" else Path(dump).parent  # `-#2` is of that folder too
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
        return self.joined(self._open_one(dump, self._named), extra)

    def joined(self, first: Opened, extra: Sequence[str]) -> Opened:
        """A dump that was read, with the others of the same craft. Raises InputError."""
        settings = first.settings
        for other in extra:
            settings = settings.joined(self._open_one(other, None).settings)
        return Opened(first.document, first.dialect, settings)

    def _open_one(self, dump: str, named: str | None) -> Opened:
        from_stdin = file_and_part(dump)[0] == "-"
        if from_stdin and self._spent:
            raise click.UsageError("standard input can be read once; `-` is named twice")
        self._spent = self._spent or from_stdin
        data, name = read_bytes(dump, self._stdin_name)
        return self.open_bytes(dump, data, name, named)

    def open_bytes(
        self,
        dump: str,
        data: bytes,
        name: str,
        named: str | None = None,
        reading: Reading = read_settings,
    ) -> Opened:
        """Read bytes as the dump of that path would be read. Raises InputError."""
        chosen = None if named is None else self._chosen(named, tuple(self._dialects(dump, b"")))
        known, bounds = self._dialects(dump, data), bounds_asked_for()
        _, part = file_and_part(dump)
        try:
            return open_dump(name, data, known, chosen, part=part, bounds=bounds, reading=reading)
        except NoSuchPart as lack:
            holds = "1 dump" if lack.count == 1 else f"{lack.count} dumps"
            raise InputError(f"{name} holds {holds}; there is no number {part}") from None
        except DialectError as error:
            raise InputError(str(error)) from None

    def known(self, dump: str) -> tuple[tuple[Dialect, ...], Dialect | None]:
        """Every dialect that the dump of a path may be read in, and the one that was asked for.

        Raises InputError.
        """
        every = tuple(self._dialects(dump, b""))
        return every, None if self._named is None else self._chosen(self._named, every)

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


def file_and_part(dump: str) -> tuple[str, int]:
    """The file of a dump, and its number there: `paste.txt#2` is the second one in paste.txt."""
    file, mark, number = dump.rpartition("#")
    if not mark or not (number.isascii() and number.isdigit() and len(number) < 5):
        return dump, 1
    if is_file(Path(dump)) or not int(number):
        return dump, 1
    return file, int(number)


def read_bytes(dump: str, stdin_name: str) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input for `-`; and the name for reports."""
    dump, _ = file_and_part(dump)
    most = bounds_asked_for().file_bytes
    size = most + 1 if most < sys.maxsize else -1
    if dump == "-":
        return _no_more(sys.stdin.buffer.read(size), most, stdin_name)
    try:
        with Path(dump).open("rb") as file:
            return _no_more(file.read(size), most, dump)
    except IsADirectoryError:
        raise InputError(f"{dump} is a folder; a dump file is expected") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{dump} can't be read: {reason}") from None


def _no_more(data: bytes, most: int, name: str) -> tuple[bytes, str]:
    """The bytes and the name, unless there are more than are read. Raises InputError."""
    if len(data) > most:
        raise InputError(
            f"{name} is larger than {most / 1e6:,.0f} MB, and so no dump; --no-limits reads it"
        )
    return data, name
