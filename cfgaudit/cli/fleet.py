"""`cfgaudit fleet`: all the craft of a folder at once."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from fnmatch import fnmatch
from itertools import islice
from pathlib import Path

import click

from cfgaudit.changes.compare import RowOfCraft, odd_ones
from cfgaudit.cli.auditing import audited, audited_together
from cfgaudit.cli.building import sheets
from cfgaudit.cli.check import exit_status
from cfgaudit.cli.errors import InputError
from cfgaudit.cli.flood import most, tell_left_out
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.limits import no_limits_option
from cfgaudit.cli.options import (
    STATUS,
    build_option,
    dialect_option,
    fail_option,
    format_option,
    output_options,
    secrets_option,
    today_option,
    with_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.opening import Opened
from cfgaudit.reports.roster import Roster
from cfgaudit.reports.secret_changes import masked_row
from cfgaudit.settings import Settings

_TOP = 100_000  # bytes: more than most dumps have
_FEW = 50  # dumps, up to which each craft is told by itself


@click.command(epilog=STATUS.format(one="findings at or above --fail-on"))
@click.argument("places", metavar="DIR...", nargs=-1)
@click.option("--match", metavar="PATTERN", multiple=True, help="Only files so named, as '*.dump'.")
@click.option("--list", "listed", metavar="FILE", help="A file of paths, or - for standard input.")
@click.option("--shelf", metavar="FILE", help="Keep what is found here, and go on from it.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes; else one a core.")
@click.option(
    "--engine",
    type=click.Choice(["processes", "dask"]),
    default="processes",
    help="Who works on it.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Of the cluster, with --engine dask.")
@click.option("--query", metavar="SQL", help="Ask craft, finding, setting of a --shelf.")
@click.option("--parquet", metavar="DIR", help="Write the tables of a --shelf here.")
@click.option("--limits", metavar="FILE", help="Write what most craft keep as [[limit]] tables.")
@click.option("--long", "long_", is_flag=True, help="Everything, not one screen of it.")
@dialect_option
@with_option
@build_option
@no_limits_option
@format_option("terminal", "json")
@output_options
@secrets_option
@fail_option
@today_option
def command(
    places: tuple[str, ...],
    match: tuple[str, ...],
    listed: str | None,
    shelf: str | None,
    workers: int | None,
    engine: str,
    scheduler: str | None,
    query: str | None,
    parquet: str | None,
    limits: str | None,
    long_: bool,
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    fail_on: str | None,
    today: datetime | None,
) -> int:
    """Audit all the craft whose dumps lie in each DIR, and what they do to one another.

    A file that no dialect knows is passed over, and so is what lies in folders below; a DUMP may
    be named in a DIR's place. A further dump of one craft, as of its speed controllers, is named
    with `--with DUMP=FILE` and then is no craft of its own.

    More than fifty dumps, archives (zip, tar) and those of a --list are told of together: what
    their craft have in common, which one is odd among its like, what most of them keep.
    """
    if not (places or listed or shelf):
        raise click.UsageError("Missing argument 'DIR...'.")
    own = (listed, shelf, workers, scheduler, query, parquet, limits)
    if long_ or engine != "processes" or any(o is not None for o in own) or _many(places, match):
        from cfgaudit.cli.fleet_whole import Asked, whole_fleet  # a few dumps want no processes

        if extra or build:
            raise click.UsageError(f"--with and --build are for a fleet of {_FEW} dumps at most")
        asked = Asked(
            places, match, listed, dialect, shelf, workers, engine, scheduler, query, parquet,
            limits, long_, form, output, color, (today or datetime.now()).date(),
        )  # fmt: skip
        limit = fail_on or Inputs(dialect).folder(places[0] if places else "-").fail_on
        return whole_fleet(asked, limit)
    inputs = Inputs(dialect)
    files, chosen = _files(places, match, extra)
    crafts, passed_over = _read(inputs, files, chosen, dialect)
    if not crafts:
        raise InputError(f"no dialect knows any file in {', '.join(places)}")
    dumps = list(crafts)
    theirs = shared_out(dumps, extra)
    settings = [
        inputs.joined(crafts[dump], own).settings for dump, own in zip(dumps, theirs, strict=True)
    ]
    audits = audited(inputs, dumps, settings, today, sheets(inputs, dumps, settings, build))
    together = audited_together(inputs, dumps, settings, today)
    odd = _odd(together.names, settings, secrets)
    found = Roster(together.names, tuple(audits), odd, together, tuple(passed_over))
    _put(found, ", ".join(places), form, output, color)
    findings = [finding for audit in audits for finding in audit.findings]
    limit = fail_on or inputs.folder(dumps[0]).fail_on
    return exit_status([*findings, *together.findings], limit)


def _many(places: Sequence[str], match: Sequence[str]) -> bool:
    """Whether there are more craft than can be told of one by one."""
    if not all(Path(place).is_dir() for place in places):
        from cfgaudit.audit.sources import is_archive

        if any(is_archive(place) for place in places):
            return True
    files = (file for place in places for file in _in(place, match))
    return len(list(islice(files, _FEW + 1))) > _FEW


def _put(found: Roster, where: str, form: str, output: str | None, color: str) -> None:
    """The report; what of a long screen is left out is said on standard error."""
    if form == "json":
        from cfgaudit.reports.json_report import dumped
        from cfgaudit.reports.json_roster import roster_json

        put_text(dumped(roster_json(found, most())), output)
    else:
        from cfgaudit.reports.terminal_roster import roster_screen

        tell_left_out(where, found.odd, "setting")
        put_screen(roster_screen(found, screen_width(), most()), output, color)


def _files(
    places: Sequence[str], match: Sequence[str], extra: Sequence[str]
) -> tuple[list[str], set[str]]:
    """The files to read, each once, and those of them that were named one by one."""
    named = {place for place in places if not Path(place).is_dir()}
    joined = {Path(entry.rpartition("=")[2]).resolve() for entry in extra}
    every = [file for place in places for file in _in(place, match)]
    kept = [file for file in dict.fromkeys(every) if Path(file).resolve() not in joined]
    return kept, named


def _in(place: str, match: Sequence[str]) -> Iterator[str]:
    """A file by itself; the files of a folder in the order of their names, but hidden ones."""
    folder = Path(place)
    if not folder.is_dir():
        yield place
        return
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{place} can't be read: {reason}") from None
    for path in inside:
        wanted = not match or any(fnmatch(path.name, pattern) for pattern in match)
        if wanted and path.is_file() and not path.name.startswith("."):
            yield path.as_posix()


def _read(
    inputs: Inputs, files: Sequence[str], named: set[str], dialect: str | None
) -> tuple[dict[str, Opened], list[str]]:
    """The dumps that a dialect knows, by file, and the other files. A file named is always read."""
    crafts: dict[str, Opened] = {}
    passed_over: list[str] = []
    for file in files:
        if file in named or _is_dump(inputs, file, dialect):
            crafts[file] = inputs.open(file)
        else:
            passed_over.append(file)
    return crafts, passed_over


def _is_dump(inputs: Inputs, file: str, dialect: str | None) -> bool:
    """Whether a dialect knows a file by its top; a picture or a long log is not read whole.

    One that was named on the command line knows a file if it reads any setting there.
    """
    try:
        data, name = read_bytes(file, "")
    except InputError:  # too large, or not to be read
        return False
    cut = data.rfind(b"\n", 0, _TOP)
    cut += cut % 2  # no letter of two bytes is cut, whichever of them is the line end
    top = data if len(data) <= _TOP else data[: cut if cut > 0 else _TOP]
    opened = inputs.open_bytes(file, top, name, dialect)
    if dialect is not None:
        return any(entry.place for entry in opened.settings.stated.values())
    return bool(opened.dialect.name)


def _odd(
    names: Sequence[str], settings: Sequence[Settings], secrets: bool
) -> tuple[RowOfCraft, ...]:
    """The settings in which one craft stands alone."""
    odd = odd_ones(list(zip(names, settings, strict=True)))
    return odd if secrets else tuple(masked_row(row) for row in odd)
