"""`cfgaudit fleet` over many craft: by several processes, in bounded memory, taken up again."""

import os
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import NamedTuple

import click

from cfgaudit.audit.crew import Alone, Crew, DaskCrew, Processes, Progress, audit_all
from cfgaudit.audit.record import NO_DIALECT
from cfgaudit.audit.shelf import FileShelf, MemoryShelf, Shelf, ShelfError
from cfgaudit.audit.sources import Source, sources
from cfgaudit.cli.errors import InputError
from cfgaudit.cli.fleet_desk import FolderDesks
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.cli.writing import write_atomically

_WAITING = 0.5  # seconds between two words on the progress


class Stopped(click.ClickException):
    """Somebody stopped it."""

    exit_code = 130


class Asked(NamedTuple):
    """What was asked of a whole fleet."""

    places: tuple[str, ...]
    match: tuple[str, ...] = ()
    listed: str | None = None  # a file of paths, `-` for standard input
    dialect: str | None = None
    shelf: str | None = None
    workers: int | None = None
    engine: str = "processes"
    scheduler: str | None = None
    query: str | None = None
    parquet: str | None = None
    limits: str | None = None
    long: bool = False
    form: str = "terminal"
    output: str | None = None
    color: str = "auto"
    today: date = date.min


def whole_fleet(asked: Asked, fail_on: str) -> int:
    """Audit every dump and tell what they say together; gives the exit status.

    Raises InputError; Stopped once what was found so far is kept.
    """
    try:
        shelf: Shelf = MemoryShelf() if asked.shelf is None else FileShelf(asked.shelf)
        needs_file = asked.query is not None or asked.parquet is not None
        if needs_file and not isinstance(shelf, FileShelf):
            raise click.UsageError("--query and --parquet want a --shelf FILE")
        levels = _worked(asked, shelf)
        shelf.close()
    except ShelfError as error:
        raise InputError(str(error)) from None
    order = ("error", "warning", "note")
    return int(fail_on != "never" and bool(levels & {*order[: order.index(fail_on) + 1]}))


def _worked(asked: Asked, shelf: Shelf) -> set[str]:
    """Audit what is to be audited, then report; gives the levels of what was found."""
    telling = _Telling()
    making = partial(FolderDesks, asked.dialect, asked.today)
    done = Progress()
    try:
        if asked.places or asked.listed is not None:
            done = audit_all(_found(asked), making, _crew(asked), shelf, telling.told)
    except KeyboardInterrupt:
        shelf.close()
        telling.end()
        raise Stopped(
            f"stopped after {telling.last.seen:,} dumps"
            + ("; run it again to go on" if asked.shelf else "")
        ) from None
    telling.end()
    if done.before:
        click.echo(f"{done.before:,} dumps are as they were audited before", err=True)
    return _reported(asked, shelf)


def _found(asked: Asked) -> Iterator[Source]:
    """The sources, each once."""
    every = sources(asked.places, asked.match)
    if asked.listed is None:
        return every if len(asked.places) == 1 else _once(every)
    return _once([*every, *_listed(asked.listed)])


def _once(found: Iterable[Source]) -> Iterator[Source]:
    seen: set[bytes] = set()
    for source in found:
        name = os.fsencode(source.name)
        if name not in seen:
            seen.add(name)
            yield source


def _listed(file: str) -> Iterator[Source]:
    """The files that a file, or standard input, names line by line."""
    try:
        with click.open_file(file, encoding="utf-8", errors="surrogateescape") as lines:
            for line in lines:
                if line.strip():
                    yield from sources([line.rstrip("\r\n")])
    except OSError as error:
        raise InputError(
            f"{file} can't be read: {(error.strerror or str(error)).lower()}"
        ) from None


def _crew(asked: Asked) -> Crew:
    if asked.engine == "dask":
        if asked.scheduler is None:
            raise click.UsageError("--engine dask wants the --scheduler ADDRESS of a cluster")
        return DaskCrew(asked.scheduler)
    if asked.scheduler is not None:
        raise click.UsageError("--scheduler goes with --engine dask")
    workers = asked.workers or os.cpu_count() or 1
    return Alone() if workers == 1 else Processes(workers)


def _reported(asked: Asked, shelf: Shelf) -> set[str]:
    """Put out what is asked for; gives the levels of what was found, none for a query."""
    if asked.parquet is not None and isinstance(shelf, FileShelf):
        for file in shelf.to_parquet(asked.parquet):
            click.echo(f"written: {file}", err=True)
    if asked.query is not None and isinstance(shelf, FileShelf):
        _put_table(asked, shelf, asked.query)
        return set()
    from cfgaudit.audit.overview import overview

    found = overview(shelf.records)
    if not found.craft:
        reasons = {entry.reason for entry in found.refused}
        if reasons <= {NO_DIALECT}:
            raise InputError(f"no dialect knows any file in {', '.join(asked.places)}")
    if asked.limits is not None:
        tables = [learnt.limit() for learnt in found.relations]
        write_atomically(Path(asked.limits), ("\n\n".join(tables) + "\n").encode())
        click.echo(f"written: {asked.limits}", err=True)
    if asked.form == "json":
        from cfgaudit.reports.json_overview import overview_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(overview_json(found)), asked.output)
    else:
        from cfgaudit.reports.terminal_overview import overview_screen

        put_screen(
            overview_screen(found, screen_width(), long=asked.long), asked.output, asked.color
        )
    return {entry.level for entry in found.rules}


def _put_table(asked: Asked, shelf: FileShelf, sql: str) -> None:
    """The answer to a question in SQL."""
    table = shelf.query(sql)
    if asked.form == "json":
        from cfgaudit.reports.json_report import dumped

        rows = [dict(zip(table.columns, map(_plain, row), strict=True)) for row in table.rows]
        put_text(dumped({"version": 1, "rows": rows}), asked.output)
        return
    from cfgaudit.reports.screen import Piece, Screen

    screen = Screen(screen_width())
    head = tuple(Piece(name, "quiet") for name in table.columns)
    rows_told = [tuple("" if cell is None else str(cell) for cell in row) for row in table.rows]
    screen.table([head, *rows_told], indent=0)
    put_screen(screen, asked.output, asked.color)


def _plain(cell: object) -> object:
    """A cell as JSON has it."""
    if cell is None or isinstance(cell, str | int | float | bool):
        return cell
    if isinstance(cell, Sequence):
        return [_plain(entry) for entry in cell]
    return str(cell)


class _Telling:
    """Says on a terminal how far it has come, with what was found so far."""

    def __init__(self) -> None:
        self.last = Progress()
        self._next = time.monotonic() + _WAITING
        self._shown = False

    def told(self, now: Progress) -> None:
        """Note how far it has come, and say it now and then."""
        self.last = now
        if sys.stderr.isatty() and time.monotonic() >= self._next:
            self._next = time.monotonic() + _WAITING
            self._shown = True
            said = f"{now.seen:,} dumps; {now.with_errors:,} craft with errors, {now.failed:,} not"
            click.echo(f"\r{said} audited", err=True, nl=False)

    def end(self) -> None:
        """Leave the line that was written over and over."""
        if self._shown:
            click.echo("", err=True)
