"""Reads what the user names: dumps, dialects, build sheets, and several dumps as one craft.

And writes dumps back that were edited.
"""

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cfgaudit.cli import InputError, Refusing, reason_of, say
from cfgaudit.cli.files import note_read, refuse_link_out, write_together
from cfgaudit.cli.folder import (
    FolderSettings,
    NamedSheets,
    folder_settings,
    is_file,
    named_sheets,
    settings_in,
    shown,
)
from cfgaudit.cli.options import ReadBy, bounds_asked_for
from cfgaudit.cli.output import watched
from cfgaudit.dialects.dialect import Dialect, DialectError, load_dialect
from cfgaudit.dialects.opening import (
    NoSuchPart,
    Opened,
    bundled_dialects,
    open_dump,
    open_every,
    parts_of,
)
from cfgaudit.reading.text import FileText, bounded_bytes
from cfgaudit.settings import Origin, Settings

if TYPE_CHECKING:  # most folders have no rules of their own; reading alone wants none
    from cfgaudit.audit.incremental import Auditor
    from cfgaudit.audit.plugins import Plugins
    from cfgaudit.cli.house import HouseRules
    from cfgaudit.dialects.editor import Dumps
    from cfgaudit.dialects.patch import Hunk

_TOP = 4_000  # bytes of a dump in which its firmware usually names itself
_USUAL = ReadBy()
_SHEETS = 100  # that are held
_HINTS = 10_000  # names of craft, among which one that is meant is looked for


class Inputs:
    """What one command reads: each dump in its dialect, by the settings of its folder."""

    def __init__(self, reading: ReadBy = _USUAL) -> None:
        self._reading = reading
        self._loaded: dict[Path, Dialect] = {}
        self._folders: dict[Path, FolderSettings] = {}
        self._houses: dict[Path, HouseRules] = {}
        self._read_sheets: dict[str, Settings] = {}
        self._plugins: Plugins | None = None
        self.auditor: Auditor | None = None  # what it knows of the craft audited last is kept
        self._spoken: dict[str, Dialect] = {}  # of the dumps that were opened
        self._sheets: list[Settings] = []
        self._crafts: dict[
            str, Sequence[str]
        ] = {}  # the first dumps opened, with their craft's names
        self._spent = False  # standard input can be read once
        self._stead: dict[str, str] = {}  # the dump by whose folder another one goes

    def folder(self, dump: str) -> FolderSettings:
        """The settings of the folder that a dump is in, or those that were asked for instead."""
        if self._reading.no_settings:
            return FolderSettings()
        dump = self._stead.get(file_and_part(dump)[0], dump)
        start = Path.cwd() if dump == "-" else Path(dump).parent  # `-#2` is of that folder too
        if start not in self._folders:
            named = self._reading.settings_file
            found = folder_settings(start) if named is None else settings_in(Path(named))
            self._folders[start] = found
        return self._folders[start]

    def house(self, dump: str) -> "HouseRules | None":
        """What that folder says of the audit, if it says anything. Raises InputError."""
        house = self.folder(dump).house
        if house is None:
            return None
        if house.file not in self._houses:
            from cfgaudit.cli.house import read_house

            self._houses[house.file] = read_house(house, self.plugins())
        return self._houses[house.file]

    def plugins(self) -> "Plugins":
        """The rules of other packages; what is wrong with one is told once."""
        if self._plugins is None:
            from cfgaudit.audit.plugins import plugins_here

            self._plugins = plugins_here()
            for entry in self._plugins.left_out:
                name = f"{entry.area} of {entry.package}" if entry.area else entry.package
                say(f"cfgaudit: plug-in {name} is left out: {entry.why}")
        return self._plugins

    def open(self, dump: str, extra: Sequence[str] = ()) -> Opened:
        """Read a dump and the others of the same craft. Raises InputError."""
        return self.joined(self._open_one(dump, self._reading.dialect_for(dump)), extra)

    def open_parts(self, dump: str) -> list[Opened]:
        """Read every dump of a file, the one that is asked for first. Raises InputError."""
        first = self.open(dump)
        return [first, *self._beside(dump, first)]

    def parts_in(self, dump: str, data: bytes, name: str) -> list[Opened]:
        """Read bytes as every dump of that file would be read. Raises InputError."""
        first = self.open_bytes(dump, data, name, self._reading.dialect_for(dump))
        return [first, *self._beside(dump, first)]

    def _beside(self, dump: str, first: Opened) -> list[Opened]:
        file, number = file_and_part(dump)
        data, name = first.document.to_bytes(), first.document.name
        count = len(parts_of(replace(first.document, part=None), first.dialect))
        others = [f"{file}#{at}" for at in range(1, count + 1) if at != number]
        named = self._reading.dialect_for(dump)
        return [self.open_bytes(one, data, name, named) for one in others]

    def open_all(self, dumps: Sequence[str], *, one_craft: bool = False) -> list[Opened]:
        """Read dumps, each with those that --with names for it. Raises InputError, UsageError."""
        self._reading.refuse_strangers(dumps)
        theirs = shared_out(dumps, self._reading.extra, one_craft=one_craft)
        if one_craft:
            self._find_folders(dumps)
        pairs = list(zip(dumps, theirs, strict=True))
        if len(pairs) > 2:
            return [self.open(dump, own) for dump, own in watched(pairs, "reading")]
        return [self.open(dump, own) for dump, own in pairs]

    def _find_folders(self, dumps: Sequence[str]) -> None:
        """Let a copy without settings beside it go by another dump's folder, or by its own path.

        Such are what a shell pipes in under a name, and what git puts into a temporary folder.
        """
        files = [file_and_part(dump)[0] for dump in dumps]
        told = [file for file in files if self.folder(file).file is not None]
        for file in files:
            if file != "-" and file not in told:
                self._stead[file] = next(iter(told), "") or _tracked(file) or "-"

    def open_crafts(self, dumps: Sequence[str]) -> "list[Dumps]":
        """As `open_all`, the dumps of each craft by themselves. Raises InputError, UsageError."""
        self._reading.refuse_strangers(dumps)
        theirs = shared_out(dumps, self._reading.extra)
        return [self.open_each(dump, own) for dump, own in zip(dumps, theirs, strict=True)]

    def open_each(self, dump: str, extra: Sequence[str]) -> "Dumps":
        """Read the dumps of one craft, each by itself. Raises InputError, UsageError."""
        if [dump, *extra].count("-") > 1:
            raise read_twice()
        return (self.open(dump), *(self._open_one(other, None) for other in extra))

    def joined(self, first: Opened, extra: Sequence[str]) -> Opened:
        """A dump that was read, with the others of the same craft. Raises InputError."""
        settings = first.settings
        for other in extra:
            settings = settings.joined(self._open_one(other, None).settings)
        return Opened(first.document, first.dialect, settings)

    def _open_one(self, dump: str, named: str | None) -> Opened:
        from_stdin = file_and_part(dump)[0] == "-"
        if from_stdin and self._spent:
            raise read_twice()
        self._spent = self._spent or from_stdin
        data, name = read_bytes(dump, self._reading.stdin_name)
        note_read(Path(file_and_part(dump)[0]))
        return self.open_bytes(dump, data, name, named)

    def open_bytes(self, dump: str, data: bytes, name: str, named: str | None = None) -> Opened:
        """Read bytes as the dump of that path would be read. Raises InputError."""
        chosen = None if named is None else self._chosen(named, list(self._dialects(dump, b"")))
        known, bounds = self._dialects(dump, data), bounds_asked_for()
        _, part = file_and_part(dump)
        try:
            opened = open_dump(name, data, known, chosen, part=part, bounds=bounds)
            self._spoken[opened.dialect.name] = opened.dialect
            if len(self._crafts) < _SHEETS:
                self._crafts[dump] = _names_of(dump, opened.settings)
            return opened
        except NoSuchPart as lack:
            holds = "1 dump" if lack.count == 1 else f"{lack.count} dumps"
            raise InputError(f"{name} holds {holds}; there is no number {part}") from None
        except DialectError as error:
            raise InputError(str(error)) from None

    def further(self, dump: str, first: Opened) -> tuple[Opened, ...]:
        """The other dumps of a file whose first was read; none where one was asked for by number.

        Raises InputError.
        """
        if first.document.part is None or file_and_part(dump)[0] != dump:
            return ()
        name, named = first.document.name, self._reading.dialect_for(dump)
        return self.every(dump, first.document.to_bytes(), name, named)[1:]

    def every(
        self, dump: str, data: bytes, name: str, named: str | None = None
    ) -> tuple[Opened, ...]:
        """Every dump that the bytes hold, read as the file of that path. Raises InputError."""
        known = list(self._dialects(dump, data))
        chosen = None if named is None else self._chosen(named, known)
        with Refusing(DialectError):
            return open_every(name, data, known, chosen)

    def known(self, dump: str) -> tuple[tuple[Dialect, ...], Dialect | None]:
        """Every dialect that the dump of a path may be read in, and the one that was asked for.

        Raises InputError.
        """
        every, named = tuple(self._dialects(dump, b"")), self._reading.dialect_for(dump)
        return every, None if named is None else self._chosen(named, every)

    def _dialects(self, dump: str, data: bytes) -> Iterator[Dialect]:
        return loaded_in_turn(data, self.folder(dump).dialects, self._load)

    def _load(self, path: Path) -> Dialect:
        if path not in self._loaded:
            refuse_link_out(path)
            note_read(path)
            with Refusing(DialectError):
                self._loaded[path] = load_dialect(path)
        return self._loaded[path]

    def _chosen(self, named: str, dialects: Sequence[Dialect]) -> Dialect:
        for dialect in dialects:
            if dialect.name == named:
                return dialect
        if is_file(Path(named)):
            return self._load(Path(named))
        known = ", ".join(dialect.name for dialect in dialects)
        raise InputError(f"there is no dialect {named!r}; known here: {known}; or name a file")

    def sheets(
        self,
        dumps: Sequence[str],
        crafts: Sequence[Settings],
        named: Sequence[str],
        *,
        one_craft: bool = False,
        tell: bool = True,
    ) -> list[Settings | None]:
        """The build sheet of each craft, None where it has none. Raises InputError, UsageError.

        `named` are the `--build` options; a craft that they leave out goes by its folder's
        settings. A table there that is of none of the craft is told, and what is odd in a sheet,
        unless `tell` is off.
        """
        given = shared_out(dumps, named, one_craft=one_craft, option="--build")
        files: list[str] = []
        for dump, own in zip(dumps, given, strict=True):
            if len(own) > 1:
                raise click.UsageError(f"one craft has one build sheet; {dump} is given two")
            files += own or ("",)
        left = [number for number, file in enumerate(files) if not file]
        by_folder: dict[Path, list[int]] = {}
        for number in left:
            tables = self.folder(dumps[number]).craft
            if tables is not None:
                by_folder.setdefault(tables.file, []).append(number)
        for numbers in by_folder.values():
            found = self._sheets_of_folder(dumps, crafts, numbers, tell=tell)
            for number, file in zip(numbers, found, strict=True):
                files[number] = file
        read = {file: self._sheet(file, tell=tell) for file in dict.fromkeys(files) if file}
        self._sheets += read.values() if tell else ()
        return [read[file] if file else None for file in files]

    def _sheet(self, file: str, *, tell: bool) -> Settings:
        """A build sheet; many craft may share one, so what was read untold is kept."""
        if tell:
            return open_sheet(file)
        if file not in self._read_sheets:
            if len(self._read_sheets) >= _SHEETS:
                self._read_sheets.clear()
            self._read_sheets[file] = open_sheet(file, tell=False)
        return self._read_sheets[file]

    def other_names(self, *given: Settings | None) -> dict[str, str]:
        """What each port and pad is called by the firmwares of the dumps, and on the board.

        The board's print is told by the build sheets given, by those that were read, and by what
        the folders of the dumps name; of several craft each print with whose board it is on.
        """
        read = (*given, *self._sheets, *self._unread_sheets())
        sheets = list({sheet.dumps[0].file: sheet for sheet in read if sheet is not None}.values())
        several = len({names[0] for names in self._crafts.values() if len(names) > 1}) > 1
        return self._called(self._spoken, sheets, several=several)

    def names_for(self, craft: Settings, sheet: Settings | None) -> dict[str, str]:
        """The same for one craft alone, by its own firmwares and its own build sheet."""
        sheets = [sheet] if sheet is not None else []
        return self._called({dump.dialect for dump in craft.dumps}, sheets)

    def names_by(self, dump: str, firmwares: Iterable[str]) -> dict[str, str]:
        """The same by firmwares that are named, of craft in the folder of a dump; no boards' print.

        Raises InputError.
        """
        self._spoken |= {one.name: one for one in self.known(dump)[0]}
        return self._called(firmwares, ())

    def _called(
        self, firmwares: Iterable[str], sheets: Sequence[Settings], *, several: bool = False
    ) -> dict[str, str]:
        from cfgaudit.craft.sheet import printed_names
        from cfgaudit.dialects.lines import own_names

        found: dict[str, dict[str, None]] = {}
        for name in sorted(self._spoken.keys() & set(firmwares)):
            for ours, own in own_names(self._spoken[name]).items():
                found.setdefault(ours, {})[f"{own} in {name}"] = None
        for sheet in sheets:
            named = sheet.stated.get("sheet.craft.name")
            whose = named.value if named is not None else sheet.dumps[0].file
            board = f"{whose}'s board" if several else "the board"
            for ours, printed in printed_names(sheet).items():
                found.setdefault(ours, {})[f"{printed} on {board}"] = None
        return {ours: ", ".join(told) for ours, told in sorted(found.items())}

    def _unread_sheets(self) -> Iterator[Settings]:
        """The sheets that the folders of the dumps name, for commands that go by none.

        One that can't be read is passed over: nothing but names is wanted of it.
        """
        for dump, names in self._crafts.items():
            try:
                tables = self.folder(dump).craft
                if tables is None:
                    continue
                sheets = named_sheets(tables)
                file = sheets.file_for(next((n for n in names if n in sheets.of_craft), None))
                if file and all(sheet.dumps[0].file != file for sheet in self._sheets):
                    yield self._sheet(file, tell=False)
            except click.ClickException:
                continue

    def sheet_file(self, dump: str, craft: Settings) -> str:
        """The build sheet that the folder of a dump names for its craft; empty where it does not.

        Raises InputError.
        """
        if self.folder(dump).craft is None:
            return ""
        return self._sheets_of_folder([dump], [craft], [0], tell=False)[0]

    def unmatched_tables(self, crafts: Iterable[tuple[str, str]]) -> Iterator[str]:
        """A line for each `[craft.X]` of a folder's settings that is of none of these craft.

        `crafts` are the dump and the name of each, any number of them. Where all craft of a folder
        have tables of their own, the others may be of craft that are not here. Raises nothing: what
        is wrong with a folder's settings is told of each of its dumps.
        """
        found: dict[Path, tuple[NamedSheets, dict[str, None], dict[str, str]]] = {}
        left: set[Path] = set()  # the settings' files of craft without a table of their own
        for dump, name in crafts:
            try:
                tables = self.folder(dump).craft
                if tables is None:
                    continue
                if tables.file not in found:
                    found[tables.file] = named_sheets(tables), {}, {}
            except click.ClickException:
                continue
            sheets, names, dumps = found[tables.file]
            own = [each for each in (name, Path(dump).stem) if each]
            if sheets.of_craft.keys().isdisjoint(own):
                left.add(tables.file)
                own = own if len(names) < _HINTS else []
            names.update(dict.fromkeys(own))
            dumps.setdefault(str(Path(dump).parent), dump)
        for file in sorted(left):
            sheets, names, dumps = found[file]
            yield from sheets.unmatched(list(names), list(dumps.values()))

    def _sheets_of_folder(
        self,
        dumps: Sequence[str],
        crafts: Sequence[Settings],
        numbers: Sequence[int],
        *,
        tell: bool,
    ) -> list[str]:
        """The sheets' files of craft that go by one and the same folder's settings."""
        tables = self.folder(dumps[numbers[0]]).craft
        assert tables is not None  # as the numbers were found by it
        sheets = named_sheets(tables)
        names = [_names_of(dumps[number], crafts[number]) for number in numbers]
        own = [next((n for n in some if n in sheets.of_craft), None) for some in names]
        if tell and None in own:  # somebody's table may be misspelt
            known = list(dict.fromkeys(name for some in names for name in some))
            for line in sheets.unmatched(known, [dumps[number] for number in numbers]):
                say(line)
        for number, found in zip(numbers if tell else (), own, strict=False):
            stem = Path(dumps[number]).stem
            if found is not None and found != stem and stem in sheets.of_craft:
                say(
                    f"{dumps[number]} is a dump of {found}, so [craft.{stem}] of "
                    f"{shown(tables.file)} is not used: is it another craft's dump?"
                )
        return [sheets.file_for(name) for name in own]


def _tracked(dump: str) -> str:
    """The one file of this name in the repository that we stand in; empty where that is unsure."""
    from cfgaudit.git.repository import GitError, ask, find_repository  # few dumps want it

    try:
        top = find_repository(Path.cwd()).top
        found = ask(["ls-files", "-z", f":(top,glob)**/{Path(dump).name}"], top)
    except GitError:
        return ""
    names = found.out.decode("utf-8", "surrogateescape").split("\0")[:-1]
    return str(top / names[0]) if len(names) == 1 else ""


def _names_of(dump: str, settings: Settings) -> list[str]:
    """What a craft's table may be called: its name, its dump's without the ending."""
    named = settings["craft.name"].value if "craft.name" in settings else None
    return [*([named] if isinstance(named, str) else []), Path(dump).stem]


_BY_CHANCE: Final = 5  # settings: fewer can be read in a dialect that is another firmware's
_MANY: Final = 20  # lines not understood: a dump with fewer may be short


def refuse_foreign(reading: ReadBy, dumps: Sequence[str], opened: Sequence[Opened]) -> None:
    """Raise InputError where one of several dumps is not of the dialect that was named for all.

    Held against each other they would differ in everything. A dialect that reads none of them is
    not finished, or misnamed: that is told elsewhere.
    """
    if reading.dialect is None:
        return
    read = [sum(e.origin is Origin.DUMP for e in o.settings.stated.values()) for o in opened]
    for dump, one, count in zip(dumps, opened, read, strict=True):
        unknown = sum(not raw.known for raw in one.settings.raw.values())
        if count < _BY_CHANCE and unknown >= _MANY and max(read) > _MANY:
            raise InputError(
                f"{dump} is not of this dialect: {one.dialect.name} reads {count} of its lines, "
                f"and {unknown} not; name its own with --dialect-of {dump}=NAME|FILE"
            )


def open_sheet(file: str, *, tell: bool = True) -> Settings:
    """What a build sheet states. Tells what is odd, or not; raises InputError with every fault."""
    from cfgaudit.craft.sheet import SheetError, read_sheet, record_name  # most craft have none

    data, name = read_bytes(file, _USUAL.stdin_name)
    note_read(Path(file))
    try:
        sheet = read_sheet(data, name)
    except SheetError as error:
        count = len(error.faults)
        what = "a fault" if count == 1 else f"{count} faults"
        raise InputError(f"{name} has {what}:", *map(str, error.faults)) from None
    if tell and not sheet.stated:
        say(f"{name}: the build sheet states nothing; `cfgaudit bench --new` makes one to fill in")
    for note in sheet.dumps[0].notes if tell else ():
        say(f"{name}: {note}")
    record = Path(record_name(file))
    return _with_record(sheet, record) if file != "-" and is_file(record) else sheet


def _with_record(sheet: Settings, record: Path) -> Settings:
    """The sheet, marked where what was seen at the bench speaks against it."""
    from cfgaudit.work.record import RecordError, disputed, read_record  # few sheets have one

    try:
        return disputed(sheet, read_record(bounded_bytes(record).decode("utf-8")))
    except (OSError, UnicodeDecodeError, RecordError):
        return sheet  # `bench` says what is wrong with it


def refuse_unmerged(*settings: Settings, then: str) -> None:
    """See that no dump holds both sides of a merge. Raises InputError, with what to do `then`."""
    for one in settings:
        if one.unmerged is not None:
            raise InputError(
                f"{one.unmerged.place}: a merge was left unfinished. Choose one side of each "
                f"conflict and take the marks out; then {then}"
            )


def tell_unmerged(*settings: Settings) -> None:
    """Say of which dumps what is shown may be either side of a merge."""
    for one in settings:
        if one.unmerged is not None:
            say(f"{one.unmerged.place}: a merge was left unfinished; one side of each shows")


def refuse_silent(*named: tuple[str, Settings], raw: bool = False) -> None:
    """See that each dump states something, lines without a neutral meaning too with `raw`.

    Raises InputError: of nothing, or of what is hardly a text, nothing can be told.
    """
    for dump, settings in named:
        if settings.dumps and all(facts.hardly_text for facts in settings.dumps):
            raise InputError(f"{dump}: most of its lines can't be read as text; is it a dump?")
        stated = any(entry.origin is Origin.DUMP for entry in settings.stated.values())
        if not stated and not (raw and settings.raw):
            raise InputError(f"{dump} states no setting, so nothing was done. Is it whole?")


def beside(settings: Settings, sheet: Settings | None) -> Settings:
    """The settings with those of the build sheet behind them, for a report that lists both."""
    if sheet is None:
        return settings
    return replace(settings, stated={**settings.stated, **sheet.stated})


def loaded_in_turn(
    data: bytes, files: Sequence[Path], load: Callable[[Path], Dialect]
) -> Iterator[Dialect]:
    """Dialects, loaded one by one as they are taken, those first whose name a dump's top has."""
    top = data[:_TOP]
    for path in sorted(files, key=lambda path: path.stem.encode() not in top):
        yield load(path)
    yield from bundled_dialects()


def shared_out(
    dumps: Sequence[str],
    extra: Sequence[str],
    *,
    one_craft: bool = False,
    option: str = "--with",
) -> list[tuple[str, ...]]:
    """The further files of each dump named: `--with FILE`, or `--with DUMP=FILE` for one of them.

    A bare FILE belongs to the only dump there is, or to every one where all are of `one_craft`.
    Raises click.UsageError where nobody can tell whose it is.
    """
    what = "dump" if option == "--with" else "build sheet"
    given: dict[str, list[str]] = {dump: [] for dump in dumps}
    for entry in extra:
        # of dumps that an entry begins with, before an equals sign, the longest is meant
        owner = max((dump for dump in dumps if entry.startswith(f"{dump}=")), key=len, default="")
        if owner:
            given[owner].append(entry[len(owner) + 1 :])
        elif one_craft or len(given) == 1:
            for files in given.values():
                files.append(entry)
        else:
            raise click.UsageError(
                f"whose {what} is {entry}? With several craft, say {option} {dumps[0]}={entry}"
            )
    return [tuple(given[dump]) for dump in dumps]


def file_and_part(dump: str) -> tuple[str, int]:
    """The file of a dump, and its number there: `paste.txt#2` is the second one in paste.txt."""
    file, mark, number = dump.rpartition("#")
    if not mark or not (number.isascii() and number.isdigit() and len(number) < 5):
        return dump, 1
    if not file or is_file(Path(dump)) or not int(number):
        return dump, 1
    return file, int(number)


def read_bytes(dump: str, stdin_name: str) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input for `-`; and the name for reports."""
    dump, _ = file_and_part(dump)
    most = bounds_asked_for().file_bytes
    size = most + 1 if most < sys.maxsize else -1
    try:
        if dump == "-":
            data, name = sys.stdin.buffer.read(size), stdin_name
        else:
            refuse_link_out(Path(dump))
            with Path(dump).open("rb") as file:
                data, name = file.read(size), dump
    except IsADirectoryError:
        raise InputError(f"{dump} is a folder; a dump file is expected") from None
    except OSError as error:
        raise InputError(f"{dump} can't be read: {reason_of(error)}") from None
    if len(data) > most:
        raise InputError(
            f"{name} is larger than {most / 1e6:,.0f} MB, and so no dump; --no-limits reads it"
        )
    return data, name


def read_twice() -> click.UsageError:
    """The refusal of a second `-`."""
    return click.UsageError("standard input can be read once; `-` is named twice")


def refuse_stream(write: bool, files: Sequence[str]) -> None:
    """Standard input can't be edited in place. Raises UsageError."""
    if write and "-" in files:
        raise click.UsageError("--write edits a file; standard input can't be edited in place")


def write_back(files: Sequence[str], before: "Dumps", after: "Dumps") -> tuple[str, ...]:
    """Write each file whose dump changed, and give their names. Raises InputError.

    A file that has changed since it was read is left alone, and so are all others then. Several
    dumps of one file (`paste.txt#2`) are put into it together. What each file was stands beside it
    then, for `confirm --before`.
    """
    from cfgaudit.dialects.patch import hunks  # most commands write nothing

    names: dict[Path, str] = {}
    texts: dict[Path, FileText] = {}
    changes: dict[Path, list[Hunk]] = {}
    for file, old, new in zip(files, before, after, strict=True):
        made = hunks(old.document.text, new.document.text)
        if made:
            name = file_and_part(file)[0]
            path = Path(name).resolve()
            names.setdefault(path, name)
            texts[path] = old.document.text
            changes.setdefault(path, []).extend(made)
    wanted = {p: _changed(names[p], texts[p], made) for p, made in changes.items()}
    kept = {p.with_name(f"{p.name}.before"): texts[p].to_bytes() for p in wanted}
    write_together(
        {**kept, **{Path(names[p]): data for p, data in wanted.items()}},
        {Path(names[p]): text.to_bytes() for p, text in texts.items()},
    )
    return tuple(names.values())


def _changed(file: str, text: FileText, made: "Sequence[Hunk]") -> bytes:
    """A file's bytes with the changes of all its dumps made. Raises InputError."""
    from cfgaudit.dialects.patch import patched

    data = read_bytes(file, file)[0]
    if data != text.to_bytes():
        raise InputError(f"{file} has changed since it was read; nothing was written")
    try:
        return patched(data, text.encoding, text.bom, sorted(set(made)))
    except ValueError:
        raise InputError(
            f"{file} would be changed twice at one place; nothing was written"
        ) from None
