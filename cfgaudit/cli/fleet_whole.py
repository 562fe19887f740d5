"""`cfgaudit fleet` over many craft: by several processes, in bounded memory, taken up again."""

import os
from collections.abc import Iterator, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path

import click

from cfgaudit import __version__
from cfgaudit.audit.crew import Alone, Crew, DaskCrew, Processes, Progress, audit_all
from cfgaudit.audit.engine import Audit, fails
from cfgaudit.audit.overview import Overview, overview
from cfgaudit.audit.record import NO_DIALECT, Desk, Record, digest_of, stamp_of
from cfgaudit.audit.shelf import FileShelf, MemoryShelf, Shelf, ShelfError
from cfgaudit.audit.sources import Source, sources
from cfgaudit.cli import InputError, Refusing, reason_of, say
from cfgaudit.cli.auditing import audited, day_of, fail_on, rules_of
from cfgaudit.cli.folder import FolderSettings, named_sheets
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import AskedOfAll, JudgedBy, ReadBy
from cfgaudit.cli.output import Output, ProgressLine, write_and_tell
from cfgaudit.reports.fleet import answer_json, answer_screen, overview_json, overview_screen
from cfgaudit.rules.rule import Level, usual_limits
from cfgaudit.settings import Settings


class FolderDesks:
    """A desk for each folder's settings; what a worker process is given."""

    def __init__(self, reading: ReadBy, judging: JudgedBy) -> None:
        self._inputs, self._reading, self._judging = Inputs(reading), reading, judging
        self._desks: dict[object, Desk] = {}
        self._of_folder: dict[str, Desk] = {}

    def stamp(self, source: str) -> str:
        """As Auditing does: of the program, the rules, the dialects and the folder's settings."""
        return self._desk(source).stamp(source)

    def record(self, source: str, data: bytes) -> Record:
        """As Auditing does. What is wrong with a folder's settings is the reason."""
        try:
            desk = self._desk(source)
        except Exception as error:  # the settings file of one folder must not stop the others
            return Record(source, digest_of(data), reason=f"its folder's settings: {error}")
        return desk.record(source, data)

    def _desk(self, source: str) -> Desk:
        folder = str(Path(source).parent)
        found = self._of_folder.get(folder)
        if found is None:
            if len(self._of_folder) > 10_000:
                self._of_folder.clear()
            settings = self._inputs.folder(source)
            key = _same_for(settings)
            found = self._desks.get(key)
            if found is None:
                found = self._desks[key] = self._made(source, settings)
            self._of_folder[folder] = found
        return found

    def _made(self, source: str, folder: FolderSettings) -> Desk:
        rules, moved = rules_of(self._inputs, source)
        limits = usual_limits() if moved is None else moved
        dialects, chosen = self._inputs.known(source)
        files = [*folder.dialects, *_sheets(folder)]
        texts = [path.read_text("utf-8", "backslashreplace") for path in files]
        texts += [part.text for part in (folder.house, folder.craft) if part is not None]
        house = self._inputs.house(source)
        if house and house.waivers:
            texts.append(day_of(self._judging).isoformat())  # by which they run out
        return Desk(
            dialects,
            rules,
            limits,
            chosen,
            stamp_of(__version__, rules, limits, [*texts, self._reading.dialect or ""]),
            self._whole,
        )

    def _whole(self, source: str, settings: Settings) -> Audit | None:
        """The audit of a craft with a build sheet, or with waivers; None for any other."""
        house = self._inputs.house(source)
        waives = house is not None and bool(house.waivers)
        if self._inputs.folder(source).craft is None and not waives:
            return None
        sheets = self._inputs.sheets((source,), (settings,), (), tell=False)
        if sheets == [None] and not waives:
            return None
        (made,) = audited(
            self._inputs, (source,), (settings,), self._judging, sheets=sheets, tell=False
        )
        return made


def _sheets(folder: FolderSettings) -> list[Path]:
    """The build sheets that a folder's settings name, as far as they are there."""
    if folder.craft is None:
        return []
    named = named_sheets(folder.craft)
    files = dict.fromkeys((named.usual, *named.of_craft.values()))
    paths = [folder.craft.file.parent / file for file in files if file]
    return [path for path in paths if path.is_file()]


def _same_for(folder: FolderSettings) -> object:
    """What is the same for folders whose dumps are audited alike."""
    files = tuple(part.file for part in (folder.house, folder.craft) if part is not None)
    return folder.dialects, files


def whole_fleet(
    places: Sequence[str],
    match: Sequence[str],
    reading: ReadBy,
    out: Output,
    judging: JudgedBy,
    asked: AskedOfAll,
) -> int:
    """Audit every dump and tell what they say together; gives the exit status.

    Raises UsageError; InputError, also for who stops it, once what was found so far is kept.
    """
    if asked.shelf is None and (asked.query is not None or asked.parquet is not None):
        raise click.UsageError("--query and --parquet want a --shelf FILE")
    nothing_new = not places and asked.listed is None
    if nothing_new and asked.shelf is not None and not Path(asked.shelf).is_file():
        raise InputError(f"there is no shelf {asked.shelf}")
    level = fail_on(Inputs(reading), _inside(places), judging)
    crew = _crew(asked)
    making = partial(FolderDesks, reading, judging)
    with (
        Refusing(ShelfError),
        closing(MemoryShelf() if asked.shelf is None else FileShelf(asked.shelf)) as shelf,
    ):
        if not nothing_new:
            _work(_found(places, match, asked.listed), making, crew, shelf)
            _tell_tables(Inputs(reading), shelf)
        if isinstance(shelf, FileShelf):
            for file in shelf.to_parquet(asked.parquet) if asked.parquet is not None else ():
                say(f"written: {file}")
            if asked.query is not None:
                table = shelf.query(asked.query)
                if table.more:
                    say(f"only the first {len(table.rows):,} rows; --parquet writes all of them")
                out.put(lambda width: answer_screen(table, width), lambda: answer_json(table))
                return 0
        found = overview(shelf)
    if not found.craft and {entry.reason for entry in found.refused} <= {NO_DIALECT}:
        raise InputError(f"no dialect knows any file in {', '.join(places)}")
    if asked.limits is not None:
        tables = [learnt.limit() for learnt in found.relations]
        write_and_tell(asked.limits, ("\n\n".join(tables) + "\n").encode())
    firmwares = [tally.name.partition(" ")[0] for tally in found.shares["firmware"]]
    out.put(
        lambda width: overview_screen(found, width, long=asked.every),
        lambda: overview_json(found),
        lambda: Inputs(reading).names_by(_inside(places), firmwares),
    )
    return _status(found, level)


def _inside(places: Sequence[str]) -> str:
    """A path in the folder whose settings say what fails."""
    if not places:
        return "-"
    return str(Path(places[0]) / "any") if Path(places[0]).is_dir() else places[0]


def _status(found: Overview, level: str) -> int:
    """2 where a dump was not audited that may be a craft's, 1 where a rule fails it, else 0."""
    if any(entry.reason != NO_DIALECT for entry in found.refused):
        return 2
    return int(any(fails(Level(entry.level), level) for entry in found.rules))


def _work(found: Iterator[Source], making: partial[FolderDesks], crew: Crew, shelf: Shelf) -> None:
    """Audit what is to be audited. Raises InputError where somebody stops it."""
    telling = _ProgressTeller()
    try:
        done = audit_all(found, making, crew, shelf, telling.told)
    except KeyboardInterrupt:
        kept = "; run it again to go on" if isinstance(shelf, FileShelf) else ""
        raise InputError(f"stopped after {telling.last.seen:,} dumps{kept}") from None
    finally:
        telling.end()
    if done.before:
        say(f"{done.before:,} dumps are as they were audited before")


def _found(places: Sequence[str], match: Sequence[str], listed: str | None) -> Iterator[Source]:
    """The sources, each once."""
    if listed is None and len(places) == 1:
        yield from sources(places, match)
        return
    seen: set[bytes] = set()
    for part in (sources(places, match), _listed(listed) if listed is not None else ()):
        for source in part:
            name = os.fsencode(source.name)
            if name not in seen:
                seen.add(name)
                yield source


def _listed(file: str) -> Iterator[Source]:
    """The files that a file, or standard input, names line by line. Raises InputError."""
    try:
        with click.open_file(file, encoding="utf-8", errors="surrogateescape") as lines:
            for line in lines:
                if line.strip():
                    yield from sources([line.rstrip("\r\n")])
    except OSError as error:
        raise InputError(f"{file} can't be read: {reason_of(error)}") from None


def _crew(asked: AskedOfAll) -> Crew:
    if asked.engine == "dask":
        if asked.scheduler is None:
            raise click.UsageError("--engine dask wants the --scheduler ADDRESS of a cluster")
        return DaskCrew(asked.scheduler)
    if asked.scheduler is not None:
        raise click.UsageError("--scheduler goes with --engine dask")
    workers = asked.workers or os.cpu_count() or 1
    return Alone() if workers == 1 else Processes(workers)


def _tell_tables(inputs: Inputs, shelf: Shelf) -> None:
    """Say which `[craft.X]` of a folder's settings is of no craft: it may be misspelt."""
    crafts = (
        (record.source, record.craft)
        for record in shelf.records(settings=False)
        if not record.reason
    )
    for line in inputs.unmatched_tables(crafts):
        say(line)


class _ProgressTeller:
    """Says on a terminal how far it has come, with what was found so far."""

    def __init__(self) -> None:
        self.last = Progress()
        self._line = ProgressLine()

    def told(self, now: Progress) -> None:
        """Note how far it has come, and say it now and then."""
        self.last = now
        self._line.say(
            lambda: (
                f"auditing {now.seen:,} dumps, {now.with_errors:,} craft with errors so far, "
                f"{now.failed:,} not audited"
            )
        )

    def end(self) -> None:
        """Take the line away."""
        self._line.end()
