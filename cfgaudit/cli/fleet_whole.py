"""`cfgaudit fleet` over many craft: by several processes, in bounded memory, taken up again."""

import os
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.audit.crew import Alone, Crew, DaskCrew, Processes, Progress, audit_all
from cfgaudit.audit.engine import RANK
from cfgaudit.audit.overview import Overview, overview
from cfgaudit.audit.record import NO_DIALECT
from cfgaudit.audit.shelf import FileShelf, MemoryShelf, Shelf, ShelfError
from cfgaudit.audit.sources import Source, sources
from cfgaudit.cli import InputError, reason_of, say
from cfgaudit.cli.auditing import fail_on
from cfgaudit.cli.fleet_desk import FolderDesks
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import JudgedBy, ReadBy
from cfgaudit.cli.output import Output, write_and_tell
from cfgaudit.cli.progress import ProgressLine
from cfgaudit.reports.overview import answer_json, answer_screen, overview_json, overview_screen
from cfgaudit.rules.rule import Level

if TYPE_CHECKING:  # it loads this where there are many craft
    from cfgaudit.cli.fleet import AskedOfAll


def whole_fleet(
    places: Sequence[str],
    match: Sequence[str],
    reading: ReadBy,
    out: Output,
    judging: JudgedBy,
    asked: "AskedOfAll",
) -> int:
    """Audit every dump and tell what they say together; gives the exit status.

    Raises UsageError; InputError, also for who stops it, once what was found so far is kept.
    """
    if asked.shelf is None and (asked.query is not None or asked.parquet is not None):
        raise click.UsageError("--query and --parquet want a --shelf FILE")
    level = fail_on(Inputs(reading), _inside(places), judging)
    crew = _crew(asked)
    making = partial(FolderDesks, reading, judging)
    try:
        shelf: Shelf = MemoryShelf() if asked.shelf is None else FileShelf(asked.shelf)
        try:
            if places or asked.listed is not None:
                _work(_found(places, match, asked.listed), making, crew, shelf)
                _tell_tables(Inputs(reading), shelf)
            if isinstance(shelf, FileShelf):
                _write_tables(shelf, asked.parquet)
                if asked.query is not None:
                    table = shelf.query(asked.query)
                    if table.more:
                        say(
                            f"only the first {len(table.rows):,} rows; --parquet writes all of them"
                        )
                    out.put(lambda width: answer_screen(table, width), lambda: answer_json(table))
                    return 0
            found = overview(shelf)
        finally:
            shelf.close()
    except ShelfError as error:
        raise InputError(str(error)) from None
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
    ranks = [RANK[Level(entry.level)] for entry in found.rules]
    return int(level != "never" and any(rank <= RANK[Level(level)] for rank in ranks))


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


def _crew(asked: "AskedOfAll") -> Crew:
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


def _write_tables(shelf: FileShelf, folder: str | None) -> None:
    for file in shelf.to_parquet(folder) if folder is not None else ():
        say(f"written: {file}")


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
